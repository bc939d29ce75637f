"""A change is data: one reviewable decision, its reason, its cost, and what became of it."""

import hashlib
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

from arrange.edits import Edit, NoteValue, Value, is_note_edit, values
from arrange.errors import Fault
from arrange.score.model import EventId, Finding, Mark, Note, Score
from arrange.units import Quarters

RuleId = str
EDITOR: RuleId = "editor"
"""In the place of a rule: what an editor changed by hand in a result."""


class Fidelity(StrEnum):
    """How far a change goes."""

    EXACT = "EXACT"
    IDIOMATIC = "IDIOMATIC"
    LOSSY = "LOSSY"

    @property
    def rank(self) -> int:
        """0 for exact to 2 for lossy."""
        return 0 if self is Fidelity.EXACT else 1 if self is Fidelity.IDIOMATIC else 2


class Outcome(StrEnum):
    """What became of a proposal; every proposal ends in exactly one."""

    APPLIED = "APPLIED"
    SUGGESTED = "SUGGESTED"
    DECLINED = "DECLINED"
    STALE = "STALE"
    CONFLICT = "CONFLICT"
    BLOCKED = "BLOCKED"


@dataclass(frozen=True, slots=True)
class Where:
    """A place, for people; *measure* as printed, *index* from 0."""

    part: str
    index: int
    measure: str
    offset: Quarters
    staff: int
    voice: str = ""

    @classmethod
    def of_note(cls, score: Score, note: Note) -> "Where":
        """Where the note stands."""
        number = score.measure(note.id.part, note.id.index).number
        return cls(note.id.part, note.id.index, number, note.offset, note.staff, note.voice)

    @classmethod
    def of_mark(cls, score: Score, mark: Mark) -> "Where":
        """Where the mark stands."""
        number = score.measure(mark.id.part, mark.id.index).number
        return cls(mark.id.part, mark.id.index, number, mark.offset, mark.staff)


@dataclass(frozen=True, slots=True)
class Option:
    """A way that was weighed.

    Attributes:
        text: what it would be, in a musician's words.
        cost: in hundredths of a move's price; None where it cannot be done at all.
        taken: it is the one.
        key: what it is called in a file of decisions; empty where it cannot be chosen.
    """

    text: str
    cost: int | None
    taken: bool = False
    key: str = ""

    @property
    def is_choosable(self) -> bool:
        """Whether an editor may ask for it; the one that is taken is asked for already."""
        return bool(self.key) and self.cost is not None and not self.taken


@dataclass(frozen=True)
class Change:
    """One reviewable decision, all of its edits or none.

    Attributes:
        where: the place that people look at.
        reason: a sentence that a harpist would say, with the facts in it.
        edits: of one kind, notes or marks.
        options: the ways that were weighed, with their costs.
        depends_on: ids of changes without which this one falls.
    """

    rule: RuleId
    where: Where
    reason: str
    fidelity: Fidelity
    edits: tuple[Edit, ...]
    options: tuple[Option, ...] = ()
    depends_on: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.edits or any(edit.before == edit.after for edit in self.edits):
            raise Fault(f"{self.rule}: a change without a difference")
        if len({is_note_edit(edit) for edit in self.edits}) != 1:
            raise Fault(f"{self.rule}: a change of notes and marks at once")

    @property
    def is_of_notes(self) -> bool:
        """Notes, or marks."""
        return is_note_edit(self.edits[0])

    @property
    def before(self) -> tuple[Value, ...]:
        """The notes or marks as they were, those of all edits in order."""
        return tuple(value for edit in self.edits for value in values(edit.before))

    @property
    def after(self) -> tuple[Value, ...]:
        """The notes or marks as they become."""
        return tuple(value for edit in self.edits for value in values(edit.after))

    @cached_property
    def id(self) -> str:
        """A hash of what it does and where; the same on any machine."""
        content = repr((self.rule, self.where, self.edits)).encode()
        return hashlib.sha256(content).hexdigest()[:16]

    @property
    def anchor(self) -> str:
        """A hash of what it does, whichever measure it falls into.

        It stays the same when a measure is put in before it; equal passages share it.
        """
        where = self.where
        place = (self.rule, where.part, where.offset, where.staff, where.voice)
        sides = (tuple(map(_anywhere, self.before)), tuple(map(_anywhere, self.after)))
        return hashlib.sha256(repr((place, sides)).encode()).hexdigest()[:16]


def _anywhere(value: Value) -> tuple[object, ...]:
    if isinstance(value, NoteValue):
        length = (value.duration, value.is_grace)
        return (value.offset, value.staff, value.voice, length, value.pitch)
    return (value.offset, value.staff, value.text)


@dataclass(frozen=True, slots=True)
class LogEntry:
    """A change and what became of it; *detail* says why where it was not applied."""

    change: Change
    outcome: Outcome
    detail: str = ""


@dataclass(frozen=True, slots=True)
class OpenPoint:
    """Something left to the editor.

    Attributes:
        pitches: the notes concerned, sounding, as texts.
        problem: a sentence; *suggestions*: what could be done.
    """

    where: Where
    pitches: tuple[str, ...]
    problem: str
    suggestions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Refusal:
    """An option that an editor chose and that a rule cannot take.

    Attributes:
        rule: which weighs it; *note*: the note that it is about; *option*: its key.
        reason: a sentence.
    """

    rule: RuleId
    note: EventId
    option: str
    reason: str


@dataclass
class ChangeLog:
    """Everything that was proposed and noticed, in order."""

    entries: list[LogEntry] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    open_points: list[OpenPoint] = field(default_factory=list)

    def applied(self) -> list[Change]:
        """The changes that were carried out, in order."""
        return [e.change for e in self.entries if e.outcome is Outcome.APPLIED]
