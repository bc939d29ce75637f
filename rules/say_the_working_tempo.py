"""Says at which tempo a piece works for the level, where it is faster than the hands are."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import AddWords, MarkValue
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Finding, Score, StaffHand
from arrange.score.own import line_id
from arrange.sources import COMMON_PRACTICE, FROM_MEMORY, HOUSE_JUDGEMENT, Source
from arrange.study.pacing import TooFast, too_fast
from arrange.units import Quarters

SLOWEST = 20
"""A tempo below this is none (house judgement): the run is then only named."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SayTheWorkingTempo(Rule):
    """Where the melody is faster than the level's hands, the tempo at which it works is said.

    What it does:
        Where a hand still strikes faster than this player does, prints at the beginning of that
        tempo how many quarters a minute it can be played at, and names the fastest measure.

    Why it helps:
        To slow down is a teacher's first resort; the pupil then practises the whole piece at
        one tempo that works.

    When it holds back:
        A single quick note is no run. The score's own tempo marks stay as they are.

    What it costs:
        EXACT: nothing sounds different.

    Sources:
        Slowing down: common practice. Strokes a second by level: from memory. A run is four
        strokes: house judgement.
    """

    id: ClassVar[RuleId] = "say-the-working-tempo"
    stage: ClassVar[Stage] = Stage.CUES
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE, FROM_MEMORY, HOUSE_JUDGEMENT)
    on_request: ClassVar[bool] = True
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="a melody in eighths at four a second",
            before="book=beginner tempo=120\nRH: G5e A5e G5e F5e E5e D5e E5e C5e\nLH: C3w",
            after=(
                'RH: "For this level: 60 quarters a minute."#leverwright.tempo.1 '
                "G5e A5e G5e F5e E5e D5e E5e C5e\nLH: C3w"
            ),
        ),
        Rewrites(
            title="sixteenths at the next level",
            before="book=late-beginner tempo=90\nRH: G5s A5s G5s F5s E5q E5h\nLH: C3w",
            after=(
                'RH: "For this level: 60 quarters a minute."#leverwright.tempo.1 '
                "G5s A5s G5s F5s E5q E5h\nLH: C3w"
            ),
        ),
        Keeps(
            title="one quick note before the beat",
            score="book=beginner tempo=60\nRH: G5q. A5e G5q. F5e\nLH: C3w",
            because="it is placed ahead with the note that follows",
        ),
        Keeps(
            title="a line that stands there is not written twice",
            score=(
                'book=beginner tempo=120\nRH: "For this level: 60 quarters a minute."'
                "#leverwright.tempo.1 G5e A5e G5e F5e E5e D5e E5e C5e\nLH: C3w"
            ),
            because="it says the same",
        ),
    )

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one line and one finding for each tempo that is too fast."""
        del harp
        serial = 0
        for staves in score.harps:
            for found in too_fast(score, staves, player):
                serial += 1
                yield self._finding(score, staves[0], found, player)
                own = line_id("tempo", serial)
                measure = score.measure(staves[0].part, found.tempo.index)
                is_there = any(mark.own == own for mark in measure.marks)
                if found.works >= SLOWEST and not is_there:
                    yield self._line(score, staves[0], found, own)

    def _finding(self, score: Score, staff: StaffHand, found: TooFast, player: Player) -> Finding:
        measure = score.measure(staff.part, found.index)
        now = found.tempo.quarters_per_minute
        return Finding(
            f"The {found.hand.value} hand strikes faster than {float(player.notes_a_second):g} "
            f"times a second at {float(now):g} quarters a minute, most in measure "
            f"{measure.number}; at {found.works} it works.",
            staff.part,
            found.index,
            measure.number,
        )

    def _line(self, score: Score, staff: StaffHand, found: TooFast, own: str) -> Change:
        measure = score.measure(staff.part, found.tempo.index)
        offset = min(found.tempo.offset, measure.length) if measure.length else Quarters(0)
        text = f"For this level: {found.works} quarters a minute."
        value = MarkValue(found.tempo.index, offset, staff.staff, text)
        return Change(
            self.id,
            Where(staff.part, measure.index, measure.number, offset, staff.staff),
            "The melody is faster than the hands of this level; the tempo at which it works is "
            "said.",
            Fidelity.EXACT,
            (AddWords(staff.part, own, value, above=True),),
        )
