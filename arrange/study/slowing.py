"""Accompaniments that strike faster than a player's hand, and which strokes can be spared.

A stretch reaches from one strong beat to the next. Where a hand is too fast there, each voice
of it that is not melody keeps one stroke in each cell of a grid: of the grids quarter of a beat,
third, half, beat, stretch the finest at which the hand, melody and all, has time. Melody notes
and the bass on the strong beat are kept whatever the grid. What is kept lasts until the next.
Of a broken chord the notes that are kept are chosen anew in each cell: the bass first, then
tones that were not struck yet, thirds before fifths. House judgement throughout.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise

from arrange.hands.player import Player
from arrange.score.model import EventId, HandName, Score, StaffHand
from arrange.study.figures import figures
from arrange.study.harmony import Harmony
from arrange.study.keysignature import alteration
from arrange.study.pacing import Paces, crowded, strokes
from arrange.study.phrases import harmony
from arrange.study.roles import NoteRole, Role, roles
from arrange.study.timeline import Sounding, Stream, Unit, end_of, main_notes, timeline

DEGREES = ("root", "third", "seventh", "fifth", "other")
"""What a broken chord keeps first, the bass aside."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A stroke that is kept.

    Attributes:
        unit: as it was struck; *sounds*: the note whose pitch it has now, its own or, in a
            broken chord, another of the figure's.
        start, end: in ticks from the first measure.
        is_alone: no note of another staff shares its chord, so that its length is its own.
    """

    unit: Unit
    sounds: Sounding
    start: int
    end: int
    is_alone: bool


@dataclass(frozen=True, slots=True)
class Slowed:
    """A voice over one stretch that keeps fewer strokes.

    Attributes:
        units: its strokes as they are; *kept*: those that stay.
        is_run: single notes without a gap, written anew as a run; else what is left out is
            taken out note by note and what is kept lasts longer.
        begin: tick of the measure.
    """

    units: tuple[Unit, ...]
    kept: tuple[Kept, ...]
    is_run: bool
    hand: HandName
    begin: int

    @property
    def gone(self) -> tuple[Unit, ...]:
        """The strokes that go."""
        staying = {kept.unit[0].note.id for kept in self.kept}
        return tuple(unit for unit in self.units if unit[0].note.id not in staying)


def slowed(
    score: Score, staves: tuple[StaffHand, ...], player: Player, *, diatonic: bool = False
) -> Iterator[Slowed]:
    """Yield each voice and stretch in which strokes are spared, in score order.

    Where *diatonic*, a broken chord keeps tones outside the key last.
    """
    line = timeline(score, staves)
    paces = Paces(score, line, player)
    found: list[Slowed] = []
    work: _Work | None = None
    for hand in HandName:
        row = strokes(line, hand)
        spans = {line.span(tick) for i, _ in crowded(row, paces) for tick, _ in row[i : i + 4]}
        if spans:
            work = work or _Work(score, staves, paces, diatonic=diatonic)
            found.extend(work.of_hand(hand, sorted(spans)))
    yield from sorted(found, key=lambda s: (s.units[0][0].start, s.hand, s.units[0][0].midi))


class _Work:
    def __init__(
        self, score: Score, staves: tuple[StaffHand, ...], paces: Paces, *, diatonic: bool
    ) -> None:
        self._score, self._staves, self._paces = score, staves, paces
        self._line = line = timeline(score, staves)
        self._diatonic = diatonic
        self._named: dict[EventId, NoteRole] = roles(score)
        self._figured = figures(line)
        self._fixed = frozenset(score.left_open) | frozenset(
            event
            for s in score.sweeps
            for event in (s.start, *s.notes, *((s.end,) if s.end else ()))
        )
        chords = Counter(
            note.chord
            for part in score.harp_parts
            for measure in score.by_part[part].measures
            for note in measure.notes
        )
        self._members = chords
        self._spans: dict[tuple[HandName, int], dict[Stream, list[Unit]]] = defaultdict(dict)
        for stream, units in line.streams.items():
            for unit in units:
                voices = self._spans[unit[0].hand, line.span(unit[0].start)]
                voices.setdefault(stream, []).append(unit)

    @cached_property
    def _chords(self) -> Harmony:
        return harmony(self._score, self._staves)

    def of_hand(self, hand: HandName, spans: Sequence[int]) -> Iterator[Slowed]:
        for span in spans:
            voices = self._spans.get((hand, span), {})
            following = self._spans.get((hand, span + 1), {})
            after = {u[0].start for units in following.values() for u in units[:1]}
            starts = {s: {u[0].start for u in units} for s, units in voices.items()}
            for stream, units in sorted(voices.items(), key=lambda v: self._weight(v[1])):
                if len(units) < 2 or not self._may_thin(units):
                    continue
                others = {t for s, row in starts.items() if s != stream for t in row} | after
                kept = self._kept(units, others)
                if len(kept) < len(units) and self._is_writable(units, kept):
                    starts[stream] = {unit[0].start for unit in kept}
                    yield self._slowed(stream, units, kept, hand)

    def _weight(self, units: list[Unit]) -> tuple[bool, int]:
        """Voices with melody come last, low ones first: what comes first is kept better."""
        has_melody = any(self._is_led(n) for unit in units for n in unit)
        return has_melody, units[0][0].midi

    def _is_led(self, note: Sounding) -> bool:
        return self._named[note.note.id].role is Role.MELODY

    def _may_thin(self, units: list[Unit]) -> bool:
        return all(self._fixed.isdisjoint(n.ids) for unit in units for n in unit)

    def _is_pinned(self, unit: Unit) -> bool:
        """Melody, or the bass on a strong beat."""
        for note in unit:
            role = self._named[note.note.id]
            if role.role is Role.MELODY and not note.is_grace:
                return True
            if role.role is Role.BASS and role.is_strong:
                return True
        return False

    def _kept(self, units: list[Unit], others: set[int]) -> list[Unit]:
        """The strokes that stay: on the finest grid that leaves the hand time."""
        line = self._line
        begin = line.strong[line.span(units[0][0].start)]
        measure = line.measures[units[0][0].index]
        beat = int(measure.meter.beat * line.quarter)
        need = self._paces.need(units[0][0].index)
        steps = sorted({beat // 4, beat // 3, beat // 2, beat, 2 * beat, 1 << 62})
        kept = units
        for step in steps:
            cells = set()
            kept = []
            for unit in units:
                cell = (unit[0].start - begin) // max(step, 1)
                if cell not in cells or self._is_pinned(unit):
                    kept.append(unit)
                cells.add(cell)
            if _has_time({unit[0].start for unit in kept}, others, need):
                return kept
        return [u for u in kept if self._is_pinned(u) or u is units[0] or u[0].start in others]

    def _is_writable(self, units: list[Unit], kept: list[Unit]) -> bool:
        """Whether fewer strokes can be written: as a run, or outside tuplets."""
        return self._is_run(units, kept) or all(
            _is_binary(n.note.offset) and _is_binary(n.note.duration) for u in units for n in u
        )

    def _is_run(self, units: list[Unit], kept: list[Unit]) -> bool:
        lengths = [_end(row) - row[0][0].start for row in _cells(units, kept)]
        return self._is_row(units) and all(self._is_one_sign(length) for length in lengths)

    def _slowed(
        self, stream: Stream, units: list[Unit], kept: list[Unit], hand: HandName
    ) -> Slowed:
        is_run = self._is_run(units, kept)
        is_figure = (stream, self._line.span(units[0][0].start)) in self._figured
        rows = _cells(units, kept)
        struck: list[Sounding] = []
        result = []
        for row in rows:
            first = row[0]
            note = main_notes(first)[0]
            if is_run and is_figure and not self._is_pinned(first):
                note = self._chosen(row, struck)
            struck.append(note)
            result.append(Kept(first, note, first[0].start, _end(row), self._is_alone(first)))
        begin = self._line.starts[units[0][0].index]
        return Slowed(tuple(units), tuple(result), is_run, hand, begin)

    def _chosen(self, row: list[Unit], struck: list[Sounding]) -> Sounding:
        """The note of a cell that the broken chord wants most."""
        chord = self._chords.at(row[0][0].start)
        tones = [n.midi for n in struck]
        before = struck[-1] if struck else row[0][0]

        def wish(note: Sounding) -> tuple[bool, bool, int, int, int, int]:
            degree = chord.degree(note.midi % 12) if chord else "other"
            return (
                abs(note.line - before.line) >= self._paces.leap_strings,
                self._diatonic and self._is_chromatic(note),
                tones.count(note.midi),
                sum(1 for midi in tones if (midi - note.midi) % 12 == 0),
                DEGREES.index(degree),
                abs(note.line - before.line),
            )

        return min((main_notes(unit)[0] for unit in row), key=wish)

    def _is_chromatic(self, note: Sounding) -> bool:
        measure = self._score.measure(note.note.id.part, note.index)
        fifths = measure.fifths[min(note.note.staff, len(measure.fifths)) - 1]
        fifths += measure.transposition.fifths
        return note.note.pitch.alter != alteration(note.note.pitch.step, fifths)

    def _is_alone(self, unit: Unit) -> bool:
        mains = main_notes(unit)
        return all(self._members[note.note.chord] == len(mains) for note in mains)

    def _is_one_sign(self, ticks: int) -> bool:
        """Whether a plain or dotted note lasts so long."""
        length = Fraction(ticks, self._line.quarter)
        return _is_binary(length) and length.numerator in {1, 2, 3, 4, 6}

    def _is_row(self, units: list[Unit]) -> bool:
        """Single plain notes without a gap, inside one measure."""
        line = self._line
        last = line.starts[units[0][0].index + 1 :][:1] or [line.end]
        for unit, following in zip(units, [*units[1:], None], strict=True):
            if len(unit) != 1 or len(unit[0].ids) != 1 or unit[0].note.auxiliaries:
                return False
            if self._is_led(unit[0]):
                return False
            if self._members[unit[0].note.chord] > 1:
                return False
            if following is not None and unit[0].end != following[0].start:
                return False
        return units[-1][0].end <= last[0]


def _cells(units: list[Unit], kept: list[Unit]) -> list[list[Unit]]:
    """Each kept stroke with those after it that go."""
    staying = {id(unit) for unit in kept}
    rows: list[list[Unit]] = []
    for unit in units:
        if id(unit) in staying:
            rows.append([])
        rows[-1].append(unit)
    return rows


def _end(row: list[Unit]) -> int:
    """Where the stroke ends that takes over the time of those after it, up to a gap."""
    end = end_of(row[0])
    for unit in row[1:]:
        if unit[0].start != end:
            break
        end = end_of(unit)
    return end


def _has_time(kept: set[int], others: set[int], need: Fraction) -> bool:
    """Whether no stroke that is kept comes too soon after another of its hand, or before one."""
    row = sorted(kept | others)
    return all(later - one >= need for one, later in pairwise(row) if one in kept or later in kept)


def _is_binary(length: Fraction) -> bool:
    """Whether halves of halves reach it: no part of a triplet."""
    return length.denominator & (length.denominator - 1) == 0
