"""The closed set of musical edits; each says what was there and what is there after it."""

from dataclasses import dataclass

from arrange.pitch import Pitch
from arrange.quick import quickly_made
from arrange.score.model import EventId, Mark, Note
from arrange.units import Quarters


@quickly_made
@dataclass(frozen=True, slots=True)
class NoteValue:
    """A note as the change log shows it.

    Attributes:
        index: the measure's place in its part; *offset*, *duration*: quarters.
        pitch: sounding.
    """

    index: int
    offset: Quarters
    staff: int
    voice: str
    duration: Quarters
    is_grace: bool
    pitch: Pitch

    @classmethod
    def of(cls, note: Note) -> "NoteValue":
        """The note as it stands."""
        return cls(
            note.id.index,
            note.offset,
            note.staff,
            note.voice,
            note.duration,
            note.is_grace,
            note.pitch,
        )


@dataclass(frozen=True, slots=True)
class MarkValue:
    """A mark as the change log shows it."""

    index: int
    offset: Quarters
    staff: int
    text: str

    @classmethod
    def of(cls, mark: Mark) -> "MarkValue":
        """The mark as it stands."""
        return cls(mark.id.index, mark.offset, mark.staff, mark.text)


Value = NoteValue | MarkValue


@dataclass(frozen=True, slots=True)
class SetPitch:
    """A note gets another pitch: another octave, or another spelling."""

    note: EventId
    before: NoteValue
    after: NoteValue


@dataclass(frozen=True, slots=True)
class RemoveNote:
    """A note is left out; the last of its chord leaves a visible rest of its length."""

    note: EventId
    before: NoteValue
    after: None = None


@dataclass(frozen=True, slots=True)
class WriteRun:
    """A note becomes a run of notes that fills its time in its voice.

    The first of *after* takes the place of the note; each has the duration that it lasts, and
    one that a barline cuts, or that no single sign can write, is divided and tied.
    *tuplet* (actual, normal) where the run is not binary.
    """

    note: EventId
    before: tuple[NoteValue, ...]
    after: tuple[NoteValue, ...]
    tuplet: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class SetDuration:
    """A note is written shorter, with a rest behind it, or longer, into the rests behind it.

    A chord has one length: a change holds one such edit for each of its notes.
    """

    note: EventId
    before: NoteValue
    after: NoteValue


@dataclass(frozen=True, slots=True)
class AddWords:
    """A direction with words.

    Attributes:
        part: the part; *own*: the id that the direction carries, unique in the file.
        above: printed above the staff, else below.
    """

    part: str
    own: str
    after: MarkValue
    above: bool = False
    before: None = None


@dataclass(frozen=True, slots=True)
class RemoveMark:
    """A direction, or one direction-type of it, goes."""

    mark: EventId
    before: MarkValue
    after: None = None


@dataclass(frozen=True, slots=True)
class RemoveNotation:
    """A sign on a note goes; *key* as ``Notation.key``."""

    note: EventId
    key: str
    before: MarkValue
    after: None = None


@dataclass(frozen=True, slots=True)
class AddRoll:
    """The notes of a chord get a roll sign."""

    notes: tuple[EventId, ...]
    after: MarkValue
    before: None = None


@dataclass(frozen=True, slots=True)
class AddFingering:
    """A note gets a finger; *after*.text is its number, *above* where it is printed."""

    note: EventId
    after: MarkValue
    above: bool = True
    before: None = None


@dataclass(frozen=True, slots=True)
class AddBracket:
    """One end of a bracket over notes that are played from one placing of the hand.

    Attributes:
        part: the part; *own*: the id that the direction carries, unique in the file.
        number: pairs the two ends, from 1.
        above: printed above the staff, else below.
        after: its text is ``bracket start`` or ``bracket stop``.
    """

    part: str
    own: str
    number: int
    after: MarkValue
    above: bool = True
    before: None = None

    @property
    def end(self) -> str:
        """``start`` or ``stop``."""
        return self.after.text.removeprefix(BRACKET)


BRACKET = "bracket "


@dataclass(frozen=True, slots=True)
class SetCredit:
    """A line of the title block or an identification field is added.

    Attributes:
        field: ``credit`` for words on page 1, else a miscellaneous field's name.
    """

    field: str
    after: MarkValue
    before: None = None


NoteEdit = SetPitch | RemoveNote | WriteRun | SetDuration
MarkEdit = AddWords | RemoveMark | RemoveNotation | AddRoll | AddFingering | AddBracket | SetCredit
Edit = NoteEdit | MarkEdit


def is_note_edit(edit: Edit) -> bool:
    """Whether the edit changes notes rather than marks."""
    return isinstance(edit, SetPitch | RemoveNote | WriteRun | SetDuration)


def values(side: NoteValue | MarkValue | tuple[NoteValue, ...] | None) -> tuple[Value, ...]:
    """One side of an edit as a row of values; an absent one is empty."""
    if side is None:
        return ()
    return side if isinstance(side, tuple) else (side,)
