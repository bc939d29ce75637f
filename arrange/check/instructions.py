"""What a player is told to do with the levers, and what may turn out to be wrong with it."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from arrange.harp.harp import Position
from arrange.score.model import EventId, HandName, Note, Score
from arrange.units import Quarters


@dataclass(frozen=True, slots=True)
class Instruction:
    """One lever, one place, one hand: afterwards *string* stands in *position*.

    Attributes:
        part, index, offset: where the move ends, before any note there.
        passes: the passes that it acts on, from 1; empty for all.
    """

    part: str
    string: str
    position: Position
    index: int
    offset: Quarters
    hand: HandName
    passes: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class SweepInstruction:
    """What is said about a glissando, beside the tones that the score itself has.

    Attributes:
        foreign: names of strings that may sound something else; *held*: names of strings that
            the other hand damps.
    """

    foreign: frozenset[str] = frozenset()
    held: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Violation:
    """Something that cannot be played.

    Attributes:
        part, index, measure, staff, offset: where; *measure* as printed.
        pitches: the notes concerned, as texts.
        problem: a sentence for a harpist.
    """

    part: str
    index: int
    measure: str
    staff: int
    offset: Quarters
    pitches: tuple[str, ...]
    problem: str

    @classmethod
    def at_note(cls, score: Score, note: Note, problem: str) -> "Violation":
        """A violation at a printed note."""
        place = Spot(note.id.part, note.id.index, note.offset, note.staff)
        return cls.at(score, place, (str(note.pitch),), problem)

    @classmethod
    def at(
        cls, score: Score, place: "Spot", pitches: tuple[str, ...], problem: str
    ) -> "Violation":
        """A violation at a printed place."""
        number = score.measure(place.part, place.index).number
        return cls(place.part, place.index, number, place.staff, place.offset, pitches, problem)


@dataclass(frozen=True, slots=True)
class Spot:
    """A printed place."""

    part: str
    index: int
    offset: Quarters
    staff: int


@dataclass(frozen=True, slots=True)
class HarpInstructions:
    """What is said about the levers of one harp.

    Attributes:
        initial: where the levers stand before the first note, by string name.
        moves: in the order in which they are given.
    """

    initial: Mapping[str, Position]
    moves: tuple[Instruction, ...] = ()


@dataclass(frozen=True)
class Instructions:
    """All that a score's player is told.

    Attributes:
        harps: one entry a harp of the score.
        left_open: notes that are left to the editor.
        reassigned: notes that the hand of the other staff takes.
        sweeps: by the glissando's first note.
        troubles: what contradicts itself or cannot be understood.
        is_by_ear: nothing is said, so every note may be played on any string that gives it;
            else a note names its string.
    """

    harps: tuple[HarpInstructions, ...]
    left_open: frozenset[EventId] = frozenset()
    reassigned: tuple[tuple[EventId, HandName], ...] = ()
    sweeps: Mapping[EventId, SweepInstruction] = field(default_factory=dict)
    troubles: tuple[Violation, ...] = ()
    is_by_ear: bool = False
