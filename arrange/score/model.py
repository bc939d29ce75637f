"""The immutable score: what the document says, in musicians' terms."""

from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

from arrange.pitch import UNISON, Interval, Pitch
from arrange.quick import quickly_made
from arrange.score.course import IN_ORDER, Structure
from arrange.units import Quarters


class EventId(NamedTuple):
    """What machines call a note or a mark; stays the same while other things are edited.

    Attributes:
        part: the part's id.
        index: the measure's place in its part, from 0.
        key: ``n5`` for the sixth note element of the measure in the source, ``d0`` for the
            first direction, ``a1`` for an attributes element; a note or direction that an
            edit brought in carries the key that the edit gave it (``n5.1``, ``d+cue-3``).
    """

    part: str
    index: int  # type: ignore[assignment] # what tuples call so is of no use here
    key: str

    def __str__(self) -> str:
        return f"{self.part}/{self.index}/{self.key}"

    @classmethod
    def parse(cls, text: str) -> "EventId":
        """Read what ``str`` wrote."""
        part, index, key = text.rsplit("/", 2)
        return cls(part, int(index), key)


class Sign(StrEnum):
    """What hangs on a note (MusicXML's notations, in one list)."""

    FINGERING = "fingering"
    HARMONIC = "harmonic"
    ARPEGGIATE = "arpeggiate"
    NON_ARPEGGIATE = "non-arpeggiate"
    GLISSANDO = "glissando"
    SLIDE = "slide"
    TRILL = "trill-mark"
    TURN = "turn"
    INVERTED_TURN = "inverted-turn"
    MORDENT = "mordent"
    INVERTED_MORDENT = "inverted-mordent"
    TREMOLO = "tremolo"
    FERMATA = "fermata"
    DAMP = "damp"
    LET_RING = "let-ring"
    STACCATO = "staccato"
    SLUR = "slur"
    TUPLET = "tuplet"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Notation:
    """One sign on a note.

    Attributes:
        sign: what it is.
        key: which one of its note, ``fingering.0``: sign and ordinal among the note's signs of
            that kind.
        type: ``start``, ``stop``, ``single``, ``up``, ``down`` as the source has it, or "".
        number: the pairing number of lines and slurs, or "".
        text: fingering digits, tremolo marks, accidental marks (space separated,
            ``above:sharp``), the source's own name for OTHER.
    """

    sign: Sign
    key: str
    type: str = ""
    number: str = ""
    text: str = ""


@quickly_made
@dataclass(frozen=True, slots=True)
class Note:
    """One note element that has a pitch.

    Attributes:
        offset: quarters from the start of the measure; a grace note has that of its main note.
        duration: written quarters; 0 for a grace note.
        pitch: sounding.
        chord: id of the first note of its chord; its own where it stands alone.
        tied_from: a tie arrives; *tied_to*: a tie leaves.
        auxiliaries: sounding pitches that its ornaments add.
        microtone: the source alters it by less than a semitone (the pitch is the nearest).
        has_lyric: it carries lyrics.
    """

    id: EventId
    offset: Quarters
    duration: Quarters
    staff: int
    voice: str
    pitch: Pitch
    chord: EventId
    is_grace: bool = False
    is_cue: bool = False
    tied_from: bool = False
    tied_to: bool = False
    notations: tuple[Notation, ...] = ()
    auxiliaries: tuple[Pitch, ...] = ()
    microtone: bool = False
    has_lyric: bool = False

    def signs(self, sign: Sign) -> tuple[Notation, ...]:
        """Its notations of one kind."""
        return tuple(n for n in self.notations if n.sign is sign)

    def has(self, sign: Sign) -> bool:
        """Whether it carries that sign."""
        return bool(self.notations) and any(n.sign is sign for n in self.notations)


@dataclass(frozen=True, slots=True)
class Rest:
    """A rest, a gap that a forward leaves is none."""

    id: EventId
    offset: Quarters
    duration: Quarters
    staff: int
    voice: str
    is_whole_measure: bool = False


class MarkKind(StrEnum):
    """What a mark beside the notes is."""

    HARP_PEDALS = "harp-pedals"
    PEDAL_WORDS = "pedal-words"
    PIANO_PEDAL = "piano-pedal"
    PIANO_WORDS = "piano-words"
    WORDS = "words"
    GLISSANDO_WORDS = "glissando-words"
    DAMP = "damp"
    DAMP_ALL = "damp-all"
    TEMPO = "tempo"
    DYNAMICS = "dynamics"
    REHEARSAL = "rehearsal"
    SEGNO = "segno"
    CODA = "coda"
    OCTAVE_SHIFT = "octave-shift"
    OWN = "own"
    OTHER = "other"


PedalSetting = dict[str, int]
"""Letter to alteration, as far as a mark names them."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A direction, or one direction-type of it.

    Attributes:
        id: key ``d3`` for a whole direction, ``d3.1`` for its second direction-type where the
            direction holds several of different kinds.
        text: its words; for a picture, the words that say the same.
        own: the id that this toolkit gave it, or "".
        pedals: what a pedal mark sets.
    """

    id: EventId
    kind: MarkKind
    offset: Quarters
    staff: int
    text: str = ""
    own: str = ""
    pedals: tuple[tuple[str, int], ...] = ()


_FRACTIONS = {Quarters(1, 2): "½", Quarters(1, 4): "¼", Quarters(3, 4): "¾"}


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature: *beats* (3), *beat_type* (4), *beat* in quarters (a dotted quarter in
    compound time).
    """

    beats: int = 4
    beat_type: int = 4
    is_free: bool = False

    @property
    def beat(self) -> Quarters:
        """The felt beat: a dotted one in 6, 9 and 12 (common practice)."""
        unit = Quarters(4, self.beat_type)
        return 3 * unit if self.beats % 3 == 0 and self.beats > 3 else unit

    @property
    def length(self) -> Quarters:
        """A full measure, in quarters."""
        return Quarters(4 * self.beats, self.beat_type)

    def count(self, offset: Quarters) -> str:
        """Where a place is, from 1, as the lower number counts: ``3``, ``2½``, ``4 1/6``."""
        whole, rest = divmod(1 + offset * self.beat_type / 4, 1)
        return f"{whole}{_FRACTIONS.get(rest) or (f' {rest}' if rest else '')}"


@dataclass(frozen=True, slots=True)
class Clef:
    """A clef in force: from *offset* on *staff*; *sign* G, F, C; *line*; *octave* change."""

    offset: Quarters
    staff: int
    sign: str
    line: int
    octave: int = 0


@quickly_made
@dataclass(frozen=True, slots=True)
class Measure:
    """One measure of one part.

    Attributes:
        index: place in the part, from 0; *number*: as printed.
        length: what its voices really fill, in quarters (a full-measure rest: the meter).
        fifths: key signature by staff at its start (staff 1 first); *mode* "" if not said.
        transposition: sounding minus written, of the part here.
        stands_for: index of the measure that a measure-repeat sign stands for, else -1.
        repeated_staves: the staves that the sign stands on; empty for the whole measure.
    """

    part: str
    index: int
    number: str
    length: Quarters
    meter: Meter
    fifths: tuple[int, ...]
    mode: str
    clefs: tuple[Clef, ...]
    notes: tuple[Note, ...]
    rests: tuple[Rest, ...]
    marks: tuple[Mark, ...]
    structure: Structure = IN_ORDER
    transposition: Interval = UNISON
    stands_for: int = -1
    repeated_staves: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Tempo:
    """From a place on: *quarters_per_minute*, exact."""

    index: int
    offset: Quarters
    quarters_per_minute: Quarters


class SweepForm(StrEnum):
    """How the source writes a glissando."""

    LINE = "line"
    SLIDE = "slide"
    WORDS = "words"
    FIRST_OCTAVE = "first-octave"
    WRITTEN_OUT = "written-out"


@dataclass(frozen=True, slots=True)
class Sweep:
    """A glissando.

    Attributes:
        start: the note that it leaves; *end*: the note that it reaches, None where the source
            does not say.
        form: how it is written.
        tones: letter to alteration for all seven letters: what each string should sound,
            transposed with the score; from pedals, the spelled octave, or key and accidentals.
        from_pedals: the tones come from a pedal mark, *from_octave* from a written octave.
        until_index, until_offset: where the sweep ends.
        notations: ids of notes that carry its line signs; *marks*: its words; *notes*: small or
            written-out notes that belong to it (start and end not among them).
    """

    start: EventId
    end: EventId | None
    form: SweepForm
    tones: tuple[tuple[str, int], ...]
    until_index: int
    until_offset: Quarters
    from_pedals: bool = False
    from_octave: bool = False
    marks: tuple[EventId, ...] = ()
    notes: tuple[EventId, ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """Something noticed, skipped or assumed, for the log.

    Attributes:
        part, index, measure: where; index -1 where it is about the whole score.
        text: one sentence for a musician.
    """

    text: str
    part: str = ""
    index: int = -1
    measure: str = ""


class HandName(StrEnum):
    """Which hand."""

    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class StaffHand:
    """The hand that a staff belongs to, by default."""

    part: str
    staff: int
    hand: HandName


@dataclass(frozen=True, slots=True)
class Part:
    """One part.

    Attributes:
        id, name: as the part list has them.
        staves: how many.
        is_pitched: it has at least one pitched note.
    """

    id: str
    name: str
    staves: int
    measures: tuple[Measure, ...]
    is_pitched: bool = True


@dataclass(frozen=True, eq=False)
class Score:
    """The whole.

    Attributes:
        harps: one entry a harp: the staves that its two hands read.
        performed: measure indices in playing order.
        tempo: in score order; the last at or before a printed place is in force there.
        reassigned: notes that the hand of the other staff takes, by our own marks.
        left_open: notes that our own marks leave to the editor.
        own: name to value of the miscellaneous fields that this toolkit wrote.
        melody: staff and voice of the melody where the user named them; an empty voice is the
            whole staff.
        sung: the notes of the melody, where they are known from before the piece was made
            lighter; None where they are to be found.
    """

    title: str
    parts: tuple[Part, ...]
    harps: tuple[tuple[StaffHand, ...], ...]
    performed: tuple[int, ...]
    tempo: tuple[Tempo, ...]
    sweeps: tuple[Sweep, ...] = ()
    findings: tuple[Finding, ...] = ()
    reassigned: tuple[tuple[EventId, HandName], ...] = ()
    left_open: tuple[EventId, ...] = ()
    own: dict[str, str] = field(default_factory=dict)
    melody: tuple[tuple[int, str], ...] = ()
    sung: frozenset[EventId] | None = None

    @cached_property
    def by_part(self) -> dict[str, Part]:
        """Parts by id."""
        return {part.id: part for part in self.parts}

    @cached_property
    def notes_by_id(self) -> dict[EventId, Note]:
        """Every note by id."""
        return {n.id: n for p in self.parts for m in p.measures for n in m.notes}

    @cached_property
    def harp_parts(self) -> tuple[str, ...]:
        """Ids of the parts that a harp plays, in order."""
        seen = dict.fromkeys(hand.part for harp in self.harps for hand in harp)
        return tuple(seen)

    def measure(self, part: str, index: int) -> Measure:
        """The measure of *part* at place *index*."""
        return self.by_part[part].measures[index]
