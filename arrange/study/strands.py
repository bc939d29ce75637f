"""What may be moved by octaves together, and what would be in its way.

A phrase may move as a whole, or its outer line (bass or melody with its octaves) apart from the
rest of its voice; a broken-chord figure is never torn apart like that.
"""

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import accumulate, groupby, pairwise
from operator import attrgetter

from arrange.memory import remembered
from arrange.score.model import EventId, Score, StaffHand
from arrange.study.figures import figures
from arrange.study.harmony import Harmony
from arrange.study.phrases import Phrase, harmony, is_bound, phrases
from arrange.study.roles import NoteRole, Role, roles
from arrange.study.timeline import Sounding, Timeline, Unit, end_of, timeline

IMPOSSIBLE = 1 << 50
"""More than anything can cost, in ties as well."""
RESTRUCK = 25
"""Another note strikes the string before the folded one has lasted its length."""
CROSSED, ABOVE_MELODY = 100, 150
"""A folded note passes an inner note that sounds; an inner note passes the melody."""
INVERTED, SIX_FOUR = 600, 1500
"""On a strong beat another tone becomes the lowest; it is the fifth of the chord. Only where
the compass leaves nothing else (small harps: chord inversions are common practice)."""
BOUND, WITHIN, AT_BARLINE, AT_GROUP, APART = IMPOSSIBLE, 150, 100, 60, 60
"""A seam: where none may be; inside a line; at a barline; between two groups of a figure; in an
outer line whose notes other notes of its voice part. House judgement, hundredths of a move."""


@dataclass(slots=True, eq=False)
class Lift:
    """What moving one unit by some octaves meets.

    Attributes:
        cost: of crossings and restruck strings; IMPOSSIBLE where it may not be.
        merged: notes whose new string sounds that pitch already.
        low: for each new neighbour, the lower key number and the distance in letters.
    """

    cost: int = 0
    merged: tuple[Sounding, ...] = ()
    low: tuple[tuple[int, int], ...] = ()


@dataclass(slots=True, eq=False)
class Strand:
    """Units that move together or part at seams.

    Attributes:
        units: in order, each low to high; *tops*: the highest key number of each.
        seams: the price of parting before each unit.
        low, high: lowest and highest key number.
    """

    units: tuple[Unit, ...]
    tops: tuple[int, ...]
    seams: tuple[int, ...]
    low: int
    high: int
    members: frozenset[Sounding]
    lifts: dict[tuple[int, int], Lift] = field(default_factory=dict)


class Movable:
    """A phrase that may be moved.

    Attributes:
        phrase: with all its notes; *low*, *high*: the lowest and highest key number of those
            that may be moved.
    """

    def __init__(self, cloth: "Texture", phrase: Phrase, units: list[Unit]) -> None:
        self.phrase = phrase
        self.low = min(note.midi for unit in units for note in unit)
        self.high = max(note.midi for unit in units for note in unit)
        self._cloth = cloth
        self._units = units

    @cached_property
    def ways(self) -> tuple[tuple[Strand, ...], ...]:
        """The ways to take it: each is a row of strands."""
        return self._cloth.ways(self._units)


class Texture:
    """All movable phrases of a harp, and who is in whose way.

    Attributes:
        movables: the left hand's first, in order.
    """

    def __init__(self, score: Score, staves: tuple[StaffHand, ...]) -> None:
        self.line: Timeline = timeline(score, staves)
        self.chords: Harmony = harmony(score, staves)
        self.roles: dict[EventId, NoteRole] = roles(score)
        self._fixed = _fixed(score)
        found = [self._movable(phrase) for phrase in phrases(score, staves)]
        self.movables = tuple(
            sorted(
                (movable for movable in found if movable is not None),
                key=lambda m: (m.phrase.units[0][0].hand, m.phrase.units[0][0].start),
            )
        )

    def role(self, note: Sounding) -> Role:
        """The note's role."""
        return self.roles[note.note.id].role

    def _leads(self, note: Sounding) -> bool:
        """Whether the note is bass or melody."""
        role = self.roles[note.note.id].role
        return role is Role.BASS or role is Role.MELODY

    def _movable(self, phrase: Phrase) -> Movable | None:
        units = list(phrase.units)
        if self._fixed:
            moved = (tuple(n for n in u if self._fixed.isdisjoint(n.ids)) for u in units)
            units = [unit for unit in moved if unit]
        if not units:
            return None
        return Movable(self, phrase, units)

    def ways(self, units: list[Unit]) -> tuple[tuple[Strand, ...], ...]:
        """The ways to take units of a phrase: all together, or the outer line apart."""
        whole = (self._strand(units, WITHIN),)
        outer, rest = self._parted(units)
        if not outer or not rest:
            return (whole,)
        return whole, (self._strand(outer, APART), self._strand(rest, WITHIN))

    def _is_figured(self, unit: Unit) -> bool:
        return (unit[0].stream, self.line.span(unit[0].start)) in figures(self.line)

    def _parted(self, units: list[Unit]) -> tuple[list[Unit], list[Unit]]:
        """Bass or melody notes with their octaves, and all of broken chords; and the rest."""
        outer: list[Unit] = []
        rest: list[Unit] = []
        for unit in units:
            if self._is_figured(unit):
                outer.append(unit)
                continue
            leading = {n.midi % 12 for n in unit if self._leads(n)}
            one = tuple(n for n in unit if n.midi % 12 in leading)
            if one:
                outer.append(one)
            if len(one) < len(unit):
                rest.append(tuple(n for n in unit if n.midi % 12 not in leading))
        return outer, rest

    def _strand(self, row: list[Unit], within: int) -> Strand:
        units = tuple(row)
        seams = [0]
        seams.extend(self._seam(before, after, within) for before, after in pairwise(units))
        return Strand(
            units=units,
            tops=tuple(unit[-1].midi for unit in units),
            seams=tuple(seams),
            low=min(n.midi for unit in units for n in unit),
            high=max(n.midi for unit in units for n in unit),
            members=frozenset(n for unit in units for n in unit),
        )

    def _seam(self, before: Unit, after: Unit, within: int) -> int:
        if is_bound(self.chords, before, after):
            return BOUND
        start = after[0].start
        if self._is_figured(after):
            return min(within, AT_GROUP) if self.line.is_strong(start) else within
        if end_of(before) < start or before[0].index != after[0].index:
            return min(within, AT_BARLINE)
        return within

    def lift(self, strand: Strand, i: int, octaves: int) -> Lift:
        """What moving unit *i* of *strand* by *octaves* meets among the other voices."""
        found = strand.lifts.get((i, octaves))
        if found is None:
            found = strand.lifts[i, octaves] = self._lift(strand, i, octaves)
        return found

    def _lift(self, strand: Strand, i: int, octaves: int) -> Lift:
        cost = 0
        merged: list[Sounding] = []
        low: list[tuple[int, int]] = []
        others = [n for n in self._moments[strand.units[i][0].start] if n not in strand.members]
        for note in strand.units[i]:
            met = self._met(note, octaves, strand)
            if met is None:
                merged.append(note)
                continue
            cost += met + self._crossed(note, note.midi + 12 * octaves, others)
            if cost >= IMPOSSIBLE:
                return Lift(IMPOSSIBLE)
            low.extend(
                (min(note.midi + 12 * octaves, n.midi), abs(note.line + 7 * octaves - n.line))
                for n in others
            )
        return Lift(cost, tuple(merged), tuple(low))

    def _met(self, note: Sounding, octaves: int, strand: Strand) -> int | None:
        """The price of striking that string then; None where the note sounds already."""
        cost = 0
        taken = self._strings.get(note.line + 7 * octaves)
        for other in taken.between(note.start, note.end) if taken else ():
            if other in strand.members:
                continue
            if other.start <= note.start:
                is_there = other.midi == note.midi + 12 * octaves
                return None if is_there and self._yields(note, other) else IMPOSSIBLE
            cost = RESTRUCK if other.start < note.end else cost
        return cost

    def _yields(self, note: Sounding, other: Sounding) -> bool:
        """Whether *note* need not be struck, since *other* sounds its pitch."""
        return other.start == note.start or not self._leads(note)

    @cached_property
    def _strings(self) -> dict[int, "_String"]:
        """The notes of each string."""
        found: dict[int, list[Sounding]] = {}
        for note in self.line.notes:
            found.setdefault(note.line, []).append(note)
        return {line: _String(notes) for line, notes in found.items()}

    def _crossed(self, note: Sounding, midi: int, others: list[Sounding]) -> int:
        role, cost = self.role(note), 0
        is_strong = self.line.is_strong(note.start)
        for other in others:
            was, now = note.midi - other.midi, midi - other.midi
            if was == 0 or now == 0 or (was > 0) is (now > 0):
                continue
            pair = {role, self.role(other)}
            if pair == {Role.BASS, Role.MELODY}:
                return IMPOSSIBLE
            if Role.BASS in pair and is_strong:
                cost += self._inverted(note.start, other)
            else:
                cost += ABOVE_MELODY if Role.MELODY in pair else CROSSED
        return cost

    def _inverted(self, tick: int, lowest: Sounding) -> int:
        chord = self.chords.at(tick)
        is_fifth = chord is not None and chord.degree(lowest.midi % 12) == "fifth"
        return SIX_FOUR if is_fifth else INVERTED

    @cached_property
    def _moments(self) -> dict[int, tuple[Sounding, ...]]:
        """What sounds at each moment at which something is struck."""
        found: dict[int, tuple[Sounding, ...]] = {}
        held: list[Sounding] = []
        for start, struck in groupby(self.line.notes, attrgetter("start")):
            held = [n for n in held if n.end > start]
            held.extend(struck)
            found[start] = tuple(held)
        return found


class _String:
    """The notes on one string, by time, so that those of a moment are found at once."""

    def __init__(self, notes: list[Sounding]) -> None:
        self._notes = notes
        self._starts = [note.start for note in notes]
        self._latest = list(accumulate((note.end for note in notes), max))

    def between(self, start: int, end: int) -> Iterator[Sounding]:
        """The notes that sound at *start*, and those that begin from then until *end*."""
        first = bisect_left(self._starts, start)
        while first and self._latest[first - 1] > start:
            first -= 1
        for i in range(first, len(self._notes)):
            if self._starts[i] > end:
                return
            if self._notes[i].end > start or self._starts[i] == start:
                yield self._notes[i]


def _fixed(score: Score) -> frozenset[EventId]:
    """Notes that nobody moves here: those of glissandi and those left to the editor."""
    found: set[EventId] = set(score.left_open)
    for sweep in score.sweeps:
        found.update((sweep.start, *sweep.notes))
        if sweep.end is not None:
            found.add(sweep.end)
    return frozenset(found)


@remembered
def texture(score: Score, staves: tuple[StaffHand, ...]) -> Texture:
    """Return what of one harp may be moved; the same for every key."""
    return Texture(score, staves)
