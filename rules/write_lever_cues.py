"""Writes a cue for every lever move, between the staves, ahead of the move."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import AddWords, MarkValue
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Score
from arrange.score.own import OwnCue
from arrange.sources import COMMON_PRACTICE, Source
from arrange.study.cueing import Cue, cues
from arrange.study.levering import plan_as_it_stands
from arrange.study.prices import PriceList
from arrange.study.terms import Terms
from arrange.units import seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteLeverCues(Rule):
    """A cue for every move.

    What it does:
        Prints the note that a string sounds from then on, with its octave, between the staves,
        ahead of the place where the lever is moved.

    Why it helps:
        The player reads one short name in the middle of the system and has time to find the
        lever.

    When it holds back:
        A lever that stands right before the first note needs no cue; the opening says it. Where
        cues of ours stand they are left as they are.

    What it costs:
        EXACT: nothing sounds different.

    Sources:
        Cues that say the resulting note, between the staves: common practice.
    """

    id: ClassVar[RuleId] = "write-lever-cues"
    stage: ClassVar[Stage] = Stage.CUES
    after: ClassVar[frozenset[RuleId]] = frozenset({"set-levers"})
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE,)
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="a move gets a cue ahead of it, saying the note that the string then sounds",
            before="key=0 tempo=60 | F5h rh | F#5h rh",
            after=('RH: F5h rh | F#5h rh\nLH: "high F♯"#leverwright.cue.1.F5.up.left.0.2.all | '),
        ),
        Rewrites(
            title="a cue names the octave",
            before="key=0 tempo=60\nRH: C5w | C5w | C5w\nLH: F3w | rw | F#3w",
            after=(
                "RH: C5w | C5w | C5w\n"
                'LH: F3w | "low F♯"#leverwright.cue.1.F3.up.left.0.1.all rw | F#3w'
            ),
        ),
        Keeps(
            title="a lever that stands right from the start needs no cue",
            score="key=0 tempo=60 | F#5h rh | F#5h rh",
            because="the opening says it",
        ),
        Keeps(
            title="cues that stand there are not written twice",
            score=(
                'key=0 tempo=60 | F5h "high F♯"#leverwright.cue.1.F5.up.left.0.2.all rh | F#5h rh'
            ),
            because="they say the same moves",
        ),
    )

    prices: PriceList = PriceList()

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each move of the plan."""
        if _has_cues(score):
            return
        serial = 0
        for plan in plan_as_it_stands(score, Terms(harp, player, self.prices)):
            for cue in cues(score, plan.staves, plan.moves, harp, player):
                serial += 1
                yield self._change(cue, serial, score)

    def _change(self, cue: Cue, serial: int, score: Score) -> Change:
        move, place = cue.move, cue.place
        own = OwnCue(
            serial,
            move.string,
            move.position,
            move.hand,
            move.index - place.index,
            move.offset,
            move.passes,
        )
        where = score.measure(move.part, place.index)
        spare = float(seconds(move.slack))
        target = score.measure(move.part, move.index).number
        return Change(
            rule=self.id,
            where=Where(move.part, place.index, where.number, place.offset, cue.staff),
            reason=(
                f"The {move.hand.value} hand is free before measure {target}, "
                f"beat {_beat(score, cue)}, and the {move.string} string is quiet"
                + (f"; {spare:.1f} s to spare." if spare < 5 else ".")
            ),
            fidelity=Fidelity.EXACT,
            edits=(
                AddWords(
                    move.part,
                    own.id,
                    MarkValue(place.index, place.offset, cue.staff, cue.text),
                    above=cue.above,
                ),
            ),
        )


def _has_cues(score: Score) -> bool:
    return any(
        OwnCue.parse(mark.own) is not None
        for part in score.harp_parts
        for measure in score.by_part[part].measures
        for mark in measure.marks
        if mark.own
    )


def _beat(score: Score, cue: Cue) -> str:
    """The beat of the move, counted from 1: ``2``, ``2½``."""
    place = cue.move.offset / score.measure(cue.move.part, cue.move.index).meter.beat
    whole, rest = int(place) + 1, place % 1
    return f"{whole}" if not rest else f"{whole}½" if rest * 2 == 1 else f"{whole} and a bit"
