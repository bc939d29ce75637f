"""What the change log claims, sorted by what it is about."""

from dataclasses import dataclass, field
from typing import assert_never

from arrange.changes import ChangeLog
from arrange.edits import (
    AddBracket,
    AddFingering,
    AddRoll,
    AddWords,
    Edit,
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
    values,
)
from arrange.score.model import EventId
from arrange.units import Quarters

Span = tuple[str, Quarters, Quarters]
"""A voice, and from where to where."""
FINER = "counts in smaller parts"
"""How a finding says that a measure has divisions of its own."""


@dataclass
class Page:
    """What is claimed about one measure of one part.

    Attributes:
        moved, removed, lengthened, rolled: keys of notes; *fingered*: with the finger.
        fingers: where fingers are put.
        runs: runs that begin or go on here.
        run_notes: notes that runs replace here; *run_spans*: voice, begin and end of runs;
            *spans*: of notes that leave a rest or become longer or shorter.
        signs: key of a note to the kinds of signs that are taken off it.
        marks: keys of directions (or of their direction-types) that are taken out.
        is_counted_finer: a finding says that it counts in smaller parts of a quarter.
    """

    moved: set[str] = field(default_factory=set)
    removed: set[str] = field(default_factory=set)
    lengthened: set[str] = field(default_factory=set)
    rolled: set[str] = field(default_factory=set)
    fingered: dict[str, str] = field(default_factory=dict)
    fingers: list[MarkValue] = field(default_factory=list)
    runs: list[WriteRun] = field(default_factory=list)
    run_notes: list[NoteValue] = field(default_factory=list)
    run_spans: list[Span] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)
    signs: dict[str, list[str]] = field(default_factory=dict)
    marks: dict[str, MarkValue] = field(default_factory=dict)
    is_counted_finer: bool = False

    @property
    def has_notes(self) -> bool:
        """Whether notes are changed."""
        return bool(self.moved or self.removed or self.lengthened or self.runs)

    @property
    def takes_notes(self) -> bool:
        """Whether notes are left out or written anew, so that lines may lose their ends."""
        return bool(self.removed or self.runs or self.lengthened)

    @property
    def is_of_marks(self) -> bool:
        """Whether marks of the source are taken out, or signs change."""
        return bool(self.marks or self.signs or self.rolled or self.fingered)


NOTHING = Page()


@dataclass
class Ledger:
    """All that was applied, in order.

    Attributes:
        notes: part, notes before, notes after, and the id of the change.
        words: the id of a direction to its part and the direction.
        credits: fields and lines of the title block.
        pages: by part and measure.
    """

    notes: list[tuple[str, tuple[NoteValue, ...], tuple[NoteValue, ...], str]] = field(
        default_factory=list
    )
    words: dict[str, tuple[str, AddWords | AddBracket]] = field(default_factory=dict)
    credits: list[SetCredit] = field(default_factory=list)
    pages: dict[tuple[str, int], Page] = field(default_factory=dict)

    @classmethod
    def of(cls, log: ChangeLog) -> "Ledger":
        """Sort a log."""
        ledger = cls()
        for change in log.applied():
            for edit in change.edits:
                ledger._take(edit, change.id)
        for finding in log.findings:
            if finding.index >= 0 and FINER in finding.text:
                for index in (finding.index, finding.index + 1):
                    ledger._page(finding.part, index).is_counted_finer = True
        return ledger

    def page(self, part: str, index: int) -> Page:
        """What is claimed about a measure."""
        return self.pages.get((part, index), NOTHING)

    def changes_notes_near(self, part: str, index: int) -> bool:
        """Whether notes of the measure, or of one beside it, are changed."""
        return any(self.page(part, i).has_notes for i in (index - 1, index, index + 1))

    def moves_notes_of(self, part: str) -> bool:
        """Whether notes of the part move, so that clefs may follow them."""
        return any(name == part for name, _, _, _ in self.notes)

    def _page(self, part: str, index: int) -> Page:
        return self.pages.setdefault((part, index), Page())

    def _page_of(self, event: EventId) -> Page:
        return self._page(event.part, event.index)

    def _take(self, edit: Edit, change: str) -> None:
        match edit:
            case SetPitch() | RemoveNote() | SetDuration() | WriteRun():
                self._take_note(edit, change)
            case AddFingering():
                page = self._page_of(edit.note)
                page.fingered[edit.note.key] = edit.after.text
                page.fingers.append(edit.after)
            case AddBracket():
                self.words[edit.own] = (edit.part, edit)
            case AddWords() | RemoveMark() | RemoveNotation() | AddRoll() | SetCredit():
                self._take_mark(edit)
            case _:  # pragma: no cover - the type checker holds the list complete
                assert_never(edit)

    def _take_note(self, edit: NoteEdit, change: str) -> None:
        before = tuple(v for v in values(edit.before) if isinstance(v, NoteValue))
        after = tuple(v for v in values(edit.after) if isinstance(v, NoteValue))
        self.notes.append((edit.note.part, before, after, change))
        page = self._page_of(edit.note)
        match edit:
            case SetPitch():
                page.moved.add(edit.note.key)
            case RemoveNote():
                page.removed.add(edit.note.key)
                page.spans += _spans(before)
            case SetDuration():
                page.lengthened.add(edit.note.key)
                page.spans += _spans((*before, *after))
            case WriteRun():
                self._take_run(edit)
            case _:  # pragma: no cover - the type checker holds the list complete
                assert_never(edit)

    def _take_run(self, edit: WriteRun) -> None:
        for index in dict.fromkeys(value.index for value in edit.before):
            here = [value for value in edit.before if value.index == index]
            page = self._page(edit.note.part, index)
            page.runs.append(edit)
            page.run_notes += here
            begin = min(value.offset for value in here)
            end = max(value.offset + value.duration for value in here)
            page.run_spans.append((here[0].voice, begin, end))

    def _take_mark(
        self, edit: AddWords | RemoveMark | RemoveNotation | AddRoll | SetCredit
    ) -> None:
        match edit:
            case AddWords():
                self.words[edit.own] = (edit.part, edit)
            case RemoveMark():
                own = edit.mark.key.removeprefix("d+")
                if self.words.pop(own, None) is None:
                    self._page_of(edit.mark).marks[edit.mark.key] = edit.before
            case RemoveNotation():
                self._take_sign(edit)
            case AddRoll():
                for note in edit.notes:
                    self._page_of(note).rolled.add(note.key)
            case SetCredit():
                self.credits.append(edit)
            case _:  # pragma: no cover - the type checker holds the list complete
                assert_never(edit)

    def _take_sign(self, edit: RemoveNotation) -> None:
        page, kind = self._page_of(edit.note), edit.key.rpartition(".")[0]
        if kind == "other":
            kind = edit.before.text
        if kind == "arpeggiate" and edit.note.key in page.rolled:
            page.rolled.remove(edit.note.key)
        else:
            page.signs.setdefault(edit.note.key, []).append(kind)


def _spans(row: tuple[NoteValue, ...]) -> list[Span]:
    return [(value.voice, value.offset, value.offset + value.duration) for value in row]
