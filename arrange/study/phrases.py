"""Phrases of each voice: where a line breathes, so that it may be moved as a whole.

A phrase ends before a rest of a beat or more, at the end of a long slur, at a fermata, after a
note much longer than its neighbours, at a double bar or repeat; what goes on without any of
these for more than four measures is cut at every fourth barline. No phrase ends between a
dominant and its tonic, or between a leading note and its tonic, unless a rest stands between.
House judgement.
"""

from dataclasses import dataclass
from statistics import median_low

from arrange.memory import remembered
from arrange.score.model import Score, Sign, StaffHand
from arrange.study.harmony import Harmony
from arrange.study.timeline import (
    Sounding,
    Stream,
    Timeline,
    Unit,
    end_of,
    main_notes,
    timeline,
)

SLURRED_ALIKE = 4
"""A slur over fewer notes than this is articulation, not a phrase."""
LONGEST_MEASURES = 4


@dataclass(frozen=True, slots=True, eq=False)
class Phrase:
    """Units of one voice that belong together."""

    stream: Stream
    units: tuple[Unit, ...]

    @property
    def notes(self) -> tuple[Sounding, ...]:
        """All its notes."""
        return tuple(note for unit in self.units for note in unit)

    @property
    def end(self) -> int:
        """Where its last note ends, in ticks."""
        return end_of(self.units[-1])


@remembered
def harmony(score: Score, staves: tuple[StaffHand, ...]) -> Harmony:
    """Return the chords of one harp of *score*."""
    return Harmony(timeline(score, staves))


@remembered
def phrases(score: Score, staves: tuple[StaffHand, ...]) -> tuple[Phrase, ...]:
    """Return the phrases of one harp, voice by voice, each in order."""
    line = timeline(score, staves)
    chords = harmony(score, staves)
    breaks = _section_starts(line)
    found: list[Phrase] = []
    for stream, units in line.streams.items():
        found.extend(Phrase(stream, row) for row in _Cutter(line, chords, breaks, units).rows())
    return tuple(found)


def _section_starts(line: Timeline) -> frozenset[int]:
    starts = set()
    for measure, begin in zip(line.measures, line.starts, strict=True):
        structure = measure.structure
        if structure.forward or structure.segno or structure.coda:
            starts.add(begin)
        if structure.backward or structure.double_bar or structure.fine:
            following = measure.index + 1
            starts.add(line.starts[following] if following < len(line.starts) else line.end)
    return frozenset(starts)


class _Cutter:
    def __init__(
        self,
        line: Timeline,
        chords: Harmony,
        breaks: frozenset[int],
        units: tuple[Unit, ...],
    ) -> None:
        self._line = line
        self._chords = chords
        self._breaks = breaks
        self._units = units
        self._beat = line.quarter
        lengths = [end_of(unit) - unit[0].start for unit in units]
        self._usual = median_low(lengths) if lengths else 0
        self._slurs = _long_slur_ends(units)

    def rows(self) -> list[tuple[Unit, ...]]:
        """The units of each phrase."""
        rows: list[list[Unit]] = []
        for i, unit in enumerate(self._units):
            if i == 0 or self._is_cut(i):
                rows.append([])
            rows[-1].append(unit)
        return [piece for row in rows for piece in self._shortened(row)]

    def _is_cut(self, i: int) -> bool:
        before, after = self._units[i - 1], self._units[i]
        gap = after[0].start - end_of(before)
        if gap >= self._beat:
            return True
        if any(begin in self._breaks for begin in self._barlines(before, after)):
            return True
        return self._is_breath(i) and not is_bound(self._chords, before, after)

    def _barlines(self, before: Unit, after: Unit) -> list[int]:
        first, last = before[0].index + 1, after[0].index
        return self._line.starts[first : last + 1]

    def _is_breath(self, i: int) -> bool:
        before = self._units[i - 1]
        if i - 1 in self._slurs or any(n.note.has(Sign.FERMATA) for n in before):
            return True
        length = end_of(before) - before[0].start
        return length >= 2 * self._beat and length >= 2 * self._usual

    def _shortened(self, row: list[Unit]) -> list[tuple[Unit, ...]]:
        """The row, cut at every fourth barline where it goes on for longer."""
        pieces: list[list[Unit]] = []
        first = -LONGEST_MEASURES
        before: Unit | None = None
        for unit in row:
            index = unit[0].index
            is_full = index - first >= LONGEST_MEASURES
            if before is None or (is_full and not is_bound(self._chords, before, unit)):
                pieces.append([])
                first = index
            pieces[-1].append(unit)
            before = unit
        return [tuple(piece) for piece in pieces]


def is_bound(chords: Harmony, before: Unit, after: Unit) -> bool:
    """Whether no seam may lie there: dominant to tonic, or leading note to tonic."""
    one, other = before[0].start, after[0].start
    if not chords.leads(one, other):
        return False
    dominant, tonic = chords.at(one), chords.at(other)
    if dominant is None or tonic is None:  # pragma: no cover - ``leads`` says otherwise
        return False
    for low, high in (
        (main_notes(before)[0], main_notes(after)[0]),
        (main_notes(before)[-1], main_notes(after)[-1]),
    ):
        if low.midi % 12 == dominant.root and high.midi % 12 == tonic.root:
            return True
        if low.midi % 12 == dominant.third and high.midi % 12 == tonic.root:
            return True
    return False


def _long_slur_ends(units: tuple[Unit, ...]) -> frozenset[int]:
    """Places of units at which a slur over several notes ends and none goes on."""
    begun: dict[str, int] = {}
    ends: set[int] = set()
    for i, unit in enumerate(units):
        signs = [s for n in unit if n.note.notations for s in n.note.signs(Sign.SLUR)]
        for sign in signs:
            if sign.type == "stop" and i - begun.pop(sign.number, i) >= SLURRED_ALIKE - 1:
                ends.add(i)
        for sign in signs:
            if sign.type == "start":
                begun[sign.number] = i
                ends.discard(i)
    return frozenset(ends)
