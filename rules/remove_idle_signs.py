"""Takes off what speaks of notes that are no longer there: rolls, and words for a hand."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import MarkValue, NoteValue, RemoveMark, RemoveNotation
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Mark, Measure, Note, Score, Sign
from arrange.score.own import OwnNotes
from arrange.sources import COMMON_PRACTICE, Source
from arrange.units import Quarters

_ROLLS = (Sign.ARPEGGIATE, Sign.NON_ARPEGGIATE)
_Moment = tuple[int, Quarters]
"""A measure and an offset in it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RemoveIdleSigns(Rule):
    """Signs for notes that were left out go with them.

    What it does:
        Removes the sign for rolling, or against it, from a note that is all that is left of its
        chord, and our word for the other hand where that hand has no note to take any more.

    Why it helps:
        One note cannot be rolled; the sign would make the player look for what is missing.

    When it holds back:
        A note that shares its roll with another keeps it, and so does one that stood alone in
        the source.

    What it costs:
        EXACT: nothing sounds different.

    Sources:
        A roll needs two notes: common practice.
    """

    id: ClassVar[RuleId] = "remove-idle-signs"
    stage: ClassVar[Stage] = Stage.CUES
    after: ClassVar[frozenset[RuleId]] = frozenset({"set-levers", "share-wide-grips"})
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE,)
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="a note that is left alone is not rolled",
            before="key=0 | C5(roll)q E5q G5h",
            after="key=0 | C5q E5q G5h",
        ),
        Rewrites(
            title="no hand is named for a note that is gone",
            before='key=0 | "L.H."#leverwright.take-left.1.C4 E5q G5q C5h',
            after="key=0 | E5q G5q C5h",
        ),
        Keeps(
            title="two notes are rolled",
            score="key=0 | C5(roll)+E5(roll)h G5h",
            because="it is a chord",
        ),
        Keeps(
            title="a roll through both staves stays on the staff that has one note",
            score="RH: C5(roll)w\nLH: C3(roll)+G3(roll)w",
            because="the note is the last one of the roll",
        ),
        Keeps(
            title="the other hand is named for a note that has got another spelling",
            score='key=0 | "L.H."#leverwright.take-left.1.Cs4 Db4+E5q G5q C5h',
            because="it is the same string",
        ),
    )

    left_out: tuple[tuple[NoteValue, str], ...] | None = None
    """Notes that were left out so far, each with the id of the change that did; None where
    nobody knows, and every note that stands alone may be the rest of a chord."""

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each sign, in score order."""
        del harp, player
        gone = _causes(self.left_out or ())
        for part in score.harp_parts if gone or self.left_out is None else ():
            for measure in score.by_part[part].measures:
                for mark in measure.marks:
                    causes = self._reasons(gone, (measure.index, mark.offset))
                    if mark.own and causes is not None and not _has_notes(measure, mark):
                        yield from self._word(score, mark, causes)
                for note in measure.notes:
                    causes = self._reasons(gone, (measure.index, note.offset))
                    if note.notations and causes is not None and _is_alone(measure, note):
                        yield from self._signs(score, note, causes)

    def _reasons(
        self, gone: dict[_Moment, tuple[str, ...]], moment: _Moment
    ) -> tuple[str, ...] | None:
        """The changes that left notes out at a moment; None where none did."""
        return gone.get(moment, () if self.left_out is None else None)

    def _word(self, score: Score, mark: Mark, causes: tuple[str, ...]) -> Iterator[Change]:
        said = OwnNotes.parse(mark.own)
        if said is not None and said.taker is not None:
            yield Change(
                self.id,
                Where.of_mark(score, mark),
                f"There is no note here any more that the {said.taker.value} hand takes.",
                Fidelity.EXACT,
                (RemoveMark(mark.id, MarkValue.of(mark)),),
                depends_on=causes,
            )

    def _signs(self, score: Score, note: Note, causes: tuple[str, ...]) -> Iterator[Change]:
        for kind in _ROLLS:
            for sign in note.signs(kind):
                value = MarkValue(note.id.index, note.offset, note.staff, "roll")
                yield Change(
                    self.id,
                    Where.of_note(score, note),
                    f"{note.pitch} is all that is left of its chord, so there is no roll.",
                    Fidelity.EXACT,
                    (RemoveNotation(note.id, sign.key, value),),
                    depends_on=causes,
                )


def _causes(left_out: tuple[tuple[NoteValue, str], ...]) -> dict[_Moment, tuple[str, ...]]:
    """The changes that took notes out at each moment."""
    found: dict[_Moment, tuple[str, ...]] = {}
    for value, change in left_out:
        moment = (value.index, value.offset)
        if change not in found.get(moment, ()):
            found[moment] = (*found.get(moment, ()), change)
    return found


def _is_alone(measure: Measure, note: Note) -> bool:
    """Whether nothing at the same moment can be rolled with the note."""
    return not any(
        other.id != note.id
        and other.offset == note.offset
        and (other.staff == note.staff or any(map(other.has, _ROLLS)))
        for other in measure.notes
        if not other.is_grace or note.is_grace
    )


def _has_notes(measure: Measure, mark: Mark) -> bool:
    """Whether a note that our mark speaks of stands at its moment, however it is spelled."""
    said = OwnNotes.parse(mark.own)
    keys = {pitch.midi for pitch in said.pitches} if said is not None else set()
    return any(note.offset == mark.offset and note.pitch.midi in keys for note in measure.notes)
