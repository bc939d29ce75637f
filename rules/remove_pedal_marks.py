"""Takes out the pedal marks of the pedal harp, once what they tell has been read."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import MarkValue, RemoveMark
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Mark, MarkKind, Score
from arrange.sources import COMMON_PRACTICE, Source

KINDS = frozenset({MarkKind.HARP_PEDALS, MarkKind.PEDAL_WORDS})


@dataclass(frozen=True, slots=True, kw_only=True)
class RemovePedalMarks(Rule):
    """Pedal diagrams and pedal words go.

    What it does:
        Removes pedal diagrams and words that name pedals from the harp's staves, whole or in
        part, in whichever language.

    Why it helps:
        A lever harp has no pedals; marks for feet beside cues for levers would be read as
        cues.

    When it holds back:
        Words that only look like letters (rehearsal marks, chord symbols, instructions) stay.

    What it costs:
        EXACT: nothing sounds different; the tones that they give to glissandi are kept.

    Sources:
        Pedal marks do not belong in the lever edition: common practice.
    """

    id: ClassVar[RuleId] = "remove-pedal-marks"
    stage: ClassVar[Stage] = Stage.CLEAN
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE,)
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="a pedal diagram goes",
            before="key=-3 | [pedals D0 C0 B-1 E-1 F0 G0 A-1] Eb5q G5q Bb5h",
            after="key=-3 | Eb5q G5q Bb5h",
        ),
        Rewrites(
            title="a row of pedal names goes, the dynamics beside it stay",
            before='key=-3 | "D C Bb | Eb F G Ab" [mf] Eb5q G5q Bb5h',
            after="key=-3 | [mf] Eb5q G5q Bb5h",
        ),
        Rewrites(
            title="one pedal change between the staves goes",
            before='key=0 | C5q E5q <"F#" F#5h',
            after="key=0 | C5q E5q F#5h",
        ),
        Keeps(
            title="an instruction that begins with a letter stays",
            score='key=0 | "A tempo" C5q E5q G5h',
            because="the words are no pedals",
        ),
        Keeps(
            title="a rehearsal letter stays",
            score="key=0 | [rehearsal B] C5q E5q G5h",
            because="the letter is a place in the piece",
        ),
    )

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each mark."""
        del harp, player
        for part in score.harp_parts:
            for measure in score.by_part[part].measures:
                for mark in measure.marks:
                    if mark.kind in KINDS:
                        yield Change(
                            self.id,
                            Where.of_mark(score, mark),
                            _reason(mark),
                            Fidelity.EXACT,
                            (RemoveMark(mark.id, MarkValue.of(mark)),),
                        )


def _reason(mark: Mark) -> str:
    if mark.kind is MarkKind.HARP_PEDALS:
        return f"The pedal diagram ({mark.text}) is for feet; this harp has levers."
    return f"The pedal mark {mark.text!r} is for feet; this harp has levers."
