"""Which notes and marks of either score each change has touched.

Changes compose: a note folded and then respelled is one note before and one after, and both
changes have touched both. The notes after are found by what they are, since the result was read
afresh and names its notes anew.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from arrange.changes import Change, LogEntry, Outcome
from arrange.edits import (
    AddBracket,
    AddFingering,
    AddRoll,
    AddWords,
    Edit,
    NoteValue,
    RemoveMark,
    RemoveNotation,
    is_note_edit,
    values,
)
from arrange.pitch import UNISON, Interval, Pitch
from arrange.report.listening import note_id
from arrange.report.review.preview import mark_id
from arrange.score.model import EventId, Note, Score
from arrange.units import Quarters

Key = tuple[str, int, Quarters, int, str, bool, Pitch]
"""What tells a note from the others: part, measure, offset, staff, voice, grace, pitch."""


@dataclass(slots=True)
class Touched:
    """What the page marks for one change: ids of notes and directions on either side."""

    before: dict[str, None] = field(default_factory=dict)
    after: dict[str, None] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Moved:
    """What was transposed before the first rule ran."""

    interval: Interval = UNISON
    parts: tuple[str, ...] = ()


@dataclass(slots=True)
class _Strand:
    """A note on its way: where it came from, which changes it went through."""

    origins: dict[EventId, None]
    changes: dict[int, None]


class Tracing:
    """Follows every change from the source to the result."""

    def __init__(self, before: Score, after: Score, moved: Moved) -> None:
        self._before = before
        self._moved = moved
        self._sources = _by_key(before, moved)
        self._results = _by_key(after, Moved())
        self._words = {
            mark.own: mark_id(mark.id)
            for part in after.parts
            for measure in part.measures
            for mark in measure.marks
            if mark.own
        }
        self._standing: dict[Key, _Strand] = {}

    def touched(self, entries: Sequence[LogEntry]) -> list[Touched]:
        """For each entry what it touched; of one not carried out, what it would touch."""
        found = [Touched() for _ in entries]
        applied = [i for i, entry in enumerate(entries) if entry.outcome is Outcome.APPLIED]
        for i in applied:
            self._carry_out(i, entries[i].change, found)
        for key, strand in self._standing.items():
            for i in strand.changes:
                found[i].after.update(dict.fromkeys(map(note_id, self._results.get(key, ()))))
        ends = self._ends()
        for i, entry in enumerate(entries):
            if entry.outcome is not Outcome.APPLIED:
                self._would_touch(entry.change, found[i])
            elif not entry.change.is_of_notes:
                for edit in entry.change.edits:
                    self._mark(edit, found[i], ends)
        return found

    def _carry_out(self, place: int, change: Change, found: list[Touched]) -> None:
        for edit in change.edits:
            if not is_note_edit(edit):
                continue
            part = change.where.part
            origins: dict[EventId, None] = {}
            changes = {place: None}
            for key in _keys(part, values(edit.before)):
                strand = self._standing.pop(key, None)
                if strand is None:
                    origins.update(dict.fromkeys(self._sources.get(key, ())))
                else:
                    origins.update(strand.origins)
                    changes.update(strand.changes)
            found[place].before.update(dict.fromkeys(map(note_id, origins)))
            for key in _keys(part, values(edit.after)):
                met = self._standing.setdefault(key, _Strand({}, {}))
                met.origins.update(origins)
                met.changes.update(changes)

    def _ends(self) -> dict[EventId, list[Key]]:
        """What became of each note that was changed."""
        found: dict[EventId, list[Key]] = defaultdict(list)
        for key, strand in self._standing.items():
            for origin in strand.origins:
                found[origin].append(key)
        return found

    def _would_touch(self, change: Change, touched: Touched) -> None:
        keys = [
            key
            for edit in change.edits
            if is_note_edit(edit)
            for key in _keys(change.where.part, values(edit.before))
        ]
        for key in keys:
            touched.before.update(dict.fromkeys(map(note_id, self._sources.get(key, ()))))
            touched.after.update(dict.fromkeys(map(note_id, self._results.get(key, ()))))

    def _mark(self, edit: Edit, touched: Touched, ends: dict[EventId, list[Key]]) -> None:
        match edit:
            case AddWords() | AddBracket():
                if edit.own in self._words:
                    touched.after[self._words[edit.own]] = None
            case RemoveMark():
                touched.before[mark_id(edit.mark)] = None
            case RemoveNotation() | AddFingering():
                self._signed((edit.note,), touched, ends)
            case AddRoll():
                self._signed(edit.notes, touched, ends)
            case _:
                pass

    def _signed(
        self, notes: Iterable[EventId], touched: Touched, ends: dict[EventId, list[Key]]
    ) -> None:
        for event in notes:
            note = self._before.notes_by_id.get(event)
            if note is None:
                continue
            touched.before[note_id(event)] = None
            for key in ends.get(event) or [_key(note, self._moved)]:
                touched.after.update(dict.fromkeys(map(note_id, self._results.get(key, ()))))


def _by_key(score: Score, moved: Moved) -> dict[Key, list[EventId]]:
    found: dict[Key, list[EventId]] = defaultdict(list)
    for part in score.parts:
        for measure in part.measures:
            for note in measure.notes:
                found[_key(note, moved)].append(note.id)
    return found


def _key(note: Note, moved: Moved) -> Key:
    event, pitch = note.id, note.pitch
    if moved.interval != UNISON and event.part in moved.parts:
        pitch = moved.interval.move(pitch)
    return event.part, event.index, note.offset, note.staff, note.voice, note.is_grace, pitch


def _keys(part: str, side: Iterable[object]) -> Iterable[Key]:
    for v in side:
        if isinstance(v, NoteValue):
            yield part, v.index, v.offset, v.staff, v.voice, v.is_grace, v.pitch
