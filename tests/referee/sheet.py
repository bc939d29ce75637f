"""What the referee reads from a score: notes, rests, signs, keys, by part and measure."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

NoteKey = tuple[str, int, Fraction, int, str, Fraction, bool, str]
"""Part, index, offset, staff, voice, duration, grace, pitch: what the change log compares."""


@dataclass(frozen=True, slots=True)
class Auxiliary:
    """A neighbour that an ornament adds.

    Attributes:
        pitches: every reading of it that the page allows (key, measure, its own accidental).
        lasting: it alternates until the note ends (a trill), else only at its start.
    """

    pitches: tuple[str, ...]
    lasting: bool


@dataclass(frozen=True, slots=True)
class Note:
    """A note with a pitch.

    Attributes:
        pitch: sounding; of a harmonic, the string that is plucked.
        tie_in, tie_out: a tie arrives, leaves.
        small: printed small, but no cue element says that it is silent.
        rolled: part of a rolled chord.
        damped: marked to be damped.
        stroke: quarters between the strokes of a tremolo; 0 where there is none.
        partner: a tremolo that alternates with the next note (``start``) or the last (``stop``).
        lines: of glissandi and slides that begin or end here: (element, ``start`` or ``stop``,
            number).
        notations: signs on it, as texts, sorted.
        alter_shown: alteration of its accidental; *alter_due*: the page gives it its pitch.
    """

    part: str
    index: int
    offset: Fraction
    staff: int
    voice: str
    duration: Fraction
    grace: bool
    pitch: str
    cue: bool = False
    small: bool = False
    slash: bool = False
    tie_in: bool = False
    tie_out: bool = False
    rolled: bool = False
    damped: bool = False
    stroke: Fraction = Fraction(0)
    partner: str = ""
    lines: tuple[tuple[str, str, str], ...] = ()
    auxiliaries: tuple[Auxiliary, ...] = ()
    notations: tuple[str, ...] = ()
    alter_shown: int | None = None
    alter_due: bool = True

    @property
    def sweeps(self) -> bool:
        """Whether a glissando or slide begins here."""
        return any(kind == "start" for _, kind, _ in self.lines)

    @property
    def key(self) -> NoteKey:
        """What the change log compares."""
        return (
            self.part, self.index, self.offset, self.staff, self.voice, self.duration,
            self.grace, self.pitch,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Rest:
    """A rest, or a note that emptied into one."""

    offset: Fraction
    duration: Fraction
    staff: int
    voice: str


@dataclass(frozen=True, slots=True)
class Sign:
    """Anything on the page beside the notes.

    Attributes:
        kind: the element's name; ``words``, ``dynamics``, ``barline``.
        text: its words, or its picture in words.
    """

    kind: str
    index: int
    offset: Fraction
    staff: int
    text: str


@dataclass(slots=True)
class Measure:
    """One measure of one part.

    Attributes:
        length: what its voices fill, in quarters.
        beats: a full measure of the time signature in force, in quarters.
        harmonies: (offset, root, bass) of chord symbols, roots as ``C#``.
        fifths: (offset, staff, fifths) of each key signature that is printed.
        tempi: (offset, quarters a minute) of each tempo mark.
        stands_for: index of the measure that a repeat sign stands for.
    """

    index: int
    number: str
    length: Fraction = Fraction(0)
    beats: Fraction = Fraction(4)
    notes: list[Note] = field(default_factory=list)
    rests: list[Rest] = field(default_factory=list)
    signs: list[Sign] = field(default_factory=list)
    harmonies: list[tuple[Fraction, str, str]] = field(default_factory=list)
    fifths: list[tuple[Fraction, int, int]] = field(default_factory=list)
    tempi: list[tuple[Fraction, Fraction]] = field(default_factory=list)
    unpitched: int = 0
    stands_for: int | None = None


@dataclass(slots=True)
class Sheet:
    """A score: measures by part, and what stands outside the parts."""

    parts: dict[str, list[Measure]]
    credits: list[Sign]

    @property
    def length(self) -> int:
        """How many measures."""
        return max((len(measures) for measures in self.parts.values()), default=0)

    def notes(self, part: str) -> Iterator[Note]:
        """Every note of a part, as printed."""
        for measure in self.parts[part]:
            yield from measure.notes

    def quarters(self, index: int) -> Fraction:
        """How long the measure lasts: what its fullest part fills."""
        here = [m[index] for m in self.parts.values() if index < len(m)]
        filled = max((measure.length for measure in here), default=Fraction(0))
        return filled or max((measure.beats for measure in here), default=Fraction(4))
