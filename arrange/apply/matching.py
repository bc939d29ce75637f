"""Whether a change still speaks of the score that is there, and what it lays its hands on."""

from collections.abc import Iterator
from typing import assert_never

from arrange.apply.lowering import is_of
from arrange.changes import Change
from arrange.edits import (
    AddBracket,
    AddFingering,
    AddRoll,
    AddWords,
    Edit,
    MarkEdit,
    MarkValue,
    NoteEdit,
    NoteValue,
    RemoveMark,
    RemoveNotation,
    RemoveNote,
    SetCredit,
    SetDuration,
    SetPitch,
    WriteRun,
)
from arrange.score.model import EventId, Mark, Note, Score, Sign

Footprint = tuple[str, EventId | str, str]
"""What is changed: the kind of thing, its id, and which sign of it."""


class Matching:
    """Compares changes with the score as it stood when the rule began."""

    def __init__(self, score: Score) -> None:
        self._score = score
        self._marks: dict[EventId, Mark] | None = None

    def mismatch(self, change: Change) -> str:
        """Where the change speaks of something else than is there; empty where it fits."""
        for edit in change.edits:
            found = self._mismatch(edit)
            if found:
                return found
        return ""

    def footprint(self, change: Change) -> frozenset[Footprint]:
        """What the change lays its hands on."""
        return frozenset(trace for edit in change.edits for trace in self._traces(edit))

    def untold(self, change: Change) -> str:
        """Which note the change would alter without saying so; empty where it tells all."""
        told = {edit.note for edit in change.edits if isinstance(edit, SetDuration | RemoveNote)}
        for edit in change.edits:
            if isinstance(edit, SetDuration):
                for note in self._chord(edit.note):
                    if note.id not in told:
                        return f"{note.pitch} of the same chord would change its length as well"
        return ""

    def unpinned(self, change: Change, pinned: frozenset[EventId]) -> str:
        """Which pinned note the change would take away or alter; empty where there is none.

        Another spelling of the same sound is no alteration: a note is written as its string.
        """
        if not pinned or not change.is_of_notes:
            return ""
        for edit in change.edits:
            if isinstance(edit, SetPitch) and edit.before.pitch.midi == edit.after.pitch.midi:
                continue
            for kind, event, _ in self._traces(edit):
                if kind == "note" and isinstance(event, EventId) and event in pinned:
                    return f"{self._score.notes_by_id[event].pitch} is pinned: it stays"
        return ""

    def _chord(self, event: EventId) -> list[Note]:
        own = self._score.notes_by_id[event]
        return [n for n in self._notes(event.part, event.index) if n.chord == own.chord]

    def _mismatch(self, edit: Edit) -> str:
        match edit:
            case SetPitch() | RemoveNote() | SetDuration():
                return self._note_mismatch(edit.note, edit.before)
            case WriteRun():
                values = (self._value_mismatch(edit.note.part, v) for v in edit.before)
                return next(filter(None, values), "")
            case AddFingering():
                return self._finger_mismatch(edit)
            case AddBracket():
                return self._place_mismatch(edit)
            case AddWords() | RemoveMark() | RemoveNotation() | AddRoll() | SetCredit():
                return self._mark_edit_mismatch(edit)
            case _:  # pragma: no cover - the type checker holds the list complete
                assert_never(edit)

    def _mark_edit_mismatch(
        self, edit: AddWords | RemoveMark | RemoveNotation | AddRoll | SetCredit
    ) -> str:
        match edit:
            case AddWords():
                return self._place_mismatch(edit)
            case RemoveMark():
                return self._mark_mismatch(edit.mark, edit.before)
            case RemoveNotation():
                return self._sign_mismatch(edit)
            case AddRoll():
                return self._roll_mismatch(edit)
            case SetCredit():
                return ""
            case _:  # pragma: no cover - the type checker holds the list complete
                assert_never(edit)

    def _place_mismatch(self, edit: AddWords | AddBracket) -> str:
        is_there = self._has_measure(edit.part, edit.after.index)
        return "" if is_there else f"there is no measure {edit.after.index} to print it in"

    def _finger_mismatch(self, edit: AddFingering) -> str:
        note = self._score.notes_by_id.get(edit.note)
        if note is None:
            return f"the note {edit.note} is not there"
        there = {sign.text for sign in note.signs(Sign.FINGERING)}
        return f"{note.pitch} has that finger already" if edit.after.text in there else ""

    def _sign_mismatch(self, edit: RemoveNotation) -> str:
        note = self._score.notes_by_id.get(edit.note)
        if note is None or all(sign.key != edit.key for sign in note.notations):
            return f"the note {edit.note} carries no {edit.key}"
        return ""

    def _roll_mismatch(self, edit: AddRoll) -> str:
        notes = [self._score.notes_by_id.get(note) for note in edit.notes]
        if not notes or any(note is None or note.has(Sign.ARPEGGIATE) for note in notes):
            return "a note of the chord is not there, or rolled already"
        return ""

    def _note_mismatch(self, event: EventId, before: NoteValue) -> str:
        note = self._score.notes_by_id.get(event)
        if note is None:
            return f"the note {event} is not there"
        if not is_of(note, before):
            return f"{before.pitch} was changed before: the note is {_told(note)}"
        return ""

    def _value_mismatch(self, part: str, value: NoteValue) -> str:
        is_in_score = self._has_measure(part, value.index)
        if is_in_score and any(is_of(note, value) for note in self._notes(part, value.index)):
            return ""
        return f"a note {value.pitch} is not there any more"

    def _mark_mismatch(self, event: EventId, before: MarkValue) -> str:
        if self._marks is None:
            measures = (m for part in self._score.parts for m in part.measures)
            self._marks = {mark.id: mark for measure in measures for mark in measure.marks}
        mark = self._marks.get(event)
        if mark is None:
            return f"the mark {event} is not there"
        if (mark.id.index, mark.offset, mark.text) != (before.index, before.offset, before.text):
            return f"the mark says {mark.text!r}, not {before.text!r}, or stands elsewhere"
        return ""

    def _traces(self, edit: Edit) -> Iterator[Footprint]:
        if isinstance(edit, SetPitch | RemoveNote | SetDuration | WriteRun):
            return self._note_traces(edit)
        return self._mark_traces(edit)

    def _mark_traces(self, edit: MarkEdit) -> Iterator[Footprint]:
        match edit:
            case AddWords() | AddBracket():
                yield ("words", edit.own, "")
            case AddFingering():
                yield ("note", edit.note, "finger")
            case RemoveMark():
                yield ("mark", edit.mark, "")
            case RemoveNotation():
                yield ("note", edit.note, edit.key)
            case AddRoll():
                yield from (("note", note, "roll") for note in edit.notes)
            case SetCredit():
                yield ("credit", edit.field, edit.after.text)
            case _:  # pragma: no cover - the type checker holds the list complete
                assert_never(edit)

    def _note_traces(self, edit: NoteEdit) -> Iterator[Footprint]:
        yield ("note", edit.note, "")
        if isinstance(edit, SetDuration):
            for note in self._chord(edit.note):
                yield ("note", note.id, "")
        elif isinstance(edit, WriteRun):
            for value in edit.before:
                for note in self._notes(edit.note.part, value.index):
                    if is_of(note, value):
                        yield ("note", note.id, "")

    def _has_measure(self, part: str, index: int) -> bool:
        known = self._score.by_part.get(part)
        return known is not None and 0 <= index < len(known.measures)

    def _notes(self, part: str, index: int) -> tuple[Note, ...]:
        return self._score.measure(part, index).notes


def _told(note: Note) -> str:
    return f"{note.pitch} at {note.offset} in voice {note.voice}, {note.duration} long"
