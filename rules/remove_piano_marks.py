"""Takes out what only a piano has: its pedals and its fingering."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import MarkValue, RemoveMark, RemoveNotation
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Mark, MarkKind, Measure, Note, Score, Sign
from arrange.sources import COMMON_PRACTICE, Source
from arrange.study.pianistic import piano_fingering


@dataclass(frozen=True, slots=True, kw_only=True)
class RemovePianoMarks(Rule):
    """Piano pedal signs, pedal words and piano fingering go.

    What it does:
        Removes the signs and words for the piano's pedals; removes fingering that was made for
        the piano.

    Why it helps:
        Harp strings ring until they are touched, so no pedal holds them; and a pianist's
        fingers are counted otherwise: the harp's right thumb has the highest note, and there
        is no fifth finger.

    When it holds back:
        In a part for harp, fingering from 1 to 4 is the harpist's own and stays; a single 5
        anywhere tells that a pianist wrote it.

    What it costs:
        EXACT: nothing sounds different.

    Sources:
        Four fingers a hand, no dampers: common practice.
    """

    id: ClassVar[RuleId] = "remove-piano-marks"
    stage: ClassVar[Stage] = Stage.CLEAN
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE,)
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="the sustaining pedal goes, down and up",
            before="key=0 | [ped] C5q E5q [ped-up] G5h",
            after="key=0 | C5q E5q G5h",
        ),
        Rewrites(
            title="una corda goes",
            before='key=0 | "una corda" C5q E5q G5h',
            after="key=0 | C5q E5q G5h",
        ),
        Rewrites(
            title="fingering with a fifth finger goes, the harmless numbers too",
            before="key=0 | C5(1)q E5(3)q C6(5)h",
            after="key=0 | C5q E5q C6h",
        ),
        Rewrites(
            title="fingering in a piano part goes even without a fifth finger",
            before="key=0 name=Piano | C5(1)q E5(2)q G5(3)h",
            after="key=0 name=Piano | C5q E5q G5h",
        ),
        Keeps(
            title="a harpist's fingering stays",
            score="key=0 | C5(4)q E5(3)q G5(2)q C6(1)q",
            because="the part is for harp and nobody uses a fifth finger",
        ),
        Keeps(
            title="a dynamic that says piano stays",
            score="key=0 | [p] C5q E5q G5h",
            because="soft is no instrument",
        ),
    )

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each sign, in score order."""
        del harp, player
        for part in score.harp_parts:
            why = piano_fingering(score, part)
            for measure in score.by_part[part].measures:
                yield from self._marks(score, measure)
                if why:
                    for note in measure.notes:
                        yield from self._fingering(score, note, why)

    def _marks(self, score: Score, measure: Measure) -> Iterator[Change]:
        for mark in measure.marks:
            reason = _reason(mark)
            if reason:
                yield Change(
                    self.id,
                    Where.of_mark(score, mark),
                    reason,
                    Fidelity.EXACT,
                    (RemoveMark(mark.id, MarkValue.of(mark)),),
                )

    def _fingering(self, score: Score, note: Note, why: str) -> Iterator[Change]:
        for sign in note.signs(Sign.FINGERING) if note.notations else ():
            value = MarkValue(note.id.index, note.offset, note.staff, sign.text)
            yield Change(
                self.id,
                Where.of_note(score, note),
                f"The fingering {sign.text} on {note.pitch} is a pianist's: {why}.",
                Fidelity.EXACT,
                (RemoveNotation(note.id, sign.key, value),),
            )


def _reason(mark: Mark) -> str:
    if mark.kind is MarkKind.PIANO_PEDAL:
        return "The piano's pedal has nothing to do on a harp: the strings ring by themselves."
    if mark.kind is MarkKind.PIANO_WORDS:
        return f"The words {mark.text!r} speak of the piano's pedals; a harp has none."
    return ""
