"""What is in force while a measure is read, from its first child to its last."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction

from arrange.pitch import UNISON, Interval
from arrange.score.model import Clef, EventId, Finding, Mark, Meter
from arrange.score.nodes import Node
from arrange.score.reading.inherited import (
    NO_KEY,
    ZERO,
    Divisions,
    Inherited,
    KeyState,
    quarters,
)
from arrange.score.reading.place import Place
from arrange.score.reading.statements import NO_SIGNS, PendingWords, Signs, TempoSign
from arrange.score.reading.told import NoteTold
from arrange.units import Quarters


class Timed:
    """A note or rest that has found its time.

    Attributes:
        raw: start in divisions; *start*, *duration*: in quarters.
        nominal: the length that type, dots and tuplet say, where rounding hides it.
        first: the first note of the chord, where this one follows in it.
        anchor: the id that names the chord, given when its first pitched note is read.
    """

    __slots__ = (
        "anchor", "duration", "first", "key", "nominal", "raw", "start", "told",
        "transpositions", "voice",
    )  # fmt: skip

    def __init__(self, key: str, told: NoteTold, first: "Timed | None") -> None:
        self.key = key
        self.told = told
        self.first = first
        self.anchor: EventId | None = None
        self.raw: Divisions = 0
        self.start = ZERO
        self.duration = ZERO
        self.nominal: Quarters | None = None
        self.voice: str = told.voice or (first.voice if first is not None else "1")
        self.transpositions: dict[int, Interval] = {}


@dataclass(slots=True)
class Running:
    """The state while one measure is read, from its first child to its last.

    Attributes:
        position: where the reading stands, in divisions; *furthest*: the furthest so far.
        start_keys: keys in force at the measure's start; *key_changes*: (offset, staff, key).
        whole_rest: where the longest full-measure rest ends; 0 where there is none.
    """

    place: Place
    divisions: Divisions
    staves: int
    meter: Meter
    has_meter: bool
    keys: dict[int, KeyState]
    start_keys: dict[int, KeyState]
    transpositions: dict[int, Interval]
    start_transpositions: dict[int, Interval]
    clefs: list[Clef]
    octave_lines: dict[tuple[int, str], bool]
    repeats: dict[int, tuple[int, int]]
    position: Divisions = 0
    furthest: Divisions = 0
    whole_rest: Quarters = ZERO
    is_rounded: bool = False
    exact_end: Quarters | None = None
    last: Timed | None = None
    timed: list[Timed] = field(default_factory=list)
    key_changes: list[tuple[Quarters, int, KeyState]] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    tempos: list[TempoSign] = field(default_factory=list)
    unnumbered: list[tuple[Quarters, str]] = field(default_factory=list)
    pending: list[PendingWords] = field(default_factory=list)
    has_chord_symbols: bool = False
    signs: Signs = NO_SIGNS
    findings: list[Finding] = field(default_factory=list)

    @classmethod
    def after(cls, inherited: Inherited, place: Place) -> "Running":
        """The state at the start of the measure at *place*."""
        keys, moves = dict(inherited.keys), dict(inherited.transpositions)
        return cls(
            place,
            inherited.divisions,
            inherited.staves,
            inherited.meter,
            inherited.has_meter,
            keys,
            dict(keys),
            moves,
            moves,
            list(inherited.clefs),
            dict.fromkeys(inherited.octave_lines, True),
            {staff: (first, count) for staff, first, count in inherited.repeats},
        )

    def note(self, text: str) -> None:
        """Keep a finding of this measure."""
        self.findings.append(self.place.finding(text))

    def bend_from(self, first: int) -> None:
        """The tempo signs from number *first* on belong to a rit. or accel."""
        self.tempos[first:] = [replace(sign, is_passing=True) for sign in self.tempos[first:]]

    @property
    def offset(self) -> Quarters:
        """Where the reading stands, in quarters."""
        return quarters(self.position, self.divisions or 1)

    def rescale(self, divisions: Divisions) -> None:
        """Go on in other divisions; places already read keep their time."""
        if self.divisions and (self.position or self.furthest):
            scale = Fraction(divisions) / self.divisions
            self.position = _plain(self.position * scale)
            self.furthest = _plain(self.furthest * scale)
            if self.last is not None:
                self.last.raw = _plain(self.last.raw * scale)
        self.divisions = divisions

    def key_at(self, offset: Quarters, staff: int) -> KeyState:
        """The key signature of *staff* at *offset*."""
        key = self.start_keys.get(staff) or self.start_keys.get(0, NO_KEY)
        for at, where, state in self.key_changes:
            if at <= offset and where in (0, staff):
                key = state
        return key

    def inheritance(self) -> Inherited:
        """What the next measure takes over."""
        last_clef: dict[int, Clef] = {}
        for clef in sorted(self.clefs, key=_clef_time):
            last_clef[clef.staff] = Clef(ZERO, clef.staff, clef.sign, clef.line, clef.octave)
        return Inherited(
            self.divisions,
            self.staves,
            self.meter,
            self.has_meter,
            tuple(sorted(self.keys.items(), key=_first)),
            tuple(last_clef[staff] for staff in sorted(last_clef)),
            tuple(sorted(self.transpositions.items(), key=_first)),
            tuple(sorted(self.octave_lines)),
            tuple((staff, *self.repeats[staff]) for staff in sorted(self.repeats)),
        )


Reader = Callable[[Node, Running], None]
"""Takes one child of a measure into the running state."""


def transposition_of(transpositions: dict[int, Interval], staff: int) -> Interval:
    """Sounding minus written on *staff*."""
    return transpositions.get(staff) or transpositions.get(0, UNISON)


def _plain(value: Fraction) -> Divisions:
    return int(value) if value.denominator == 1 else value


def _clef_time(clef: Clef) -> Quarters:
    return clef.offset


def _first(pair: tuple[int, object]) -> int:
    return pair[0]
