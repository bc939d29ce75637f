"""Leaps of one hand that are wider than a player's, and how an accompaniment closes them up.

A leap is what a hand moves over from one stroke to the next within a beat and within a second:
between two chords the end that moves further, else the nearer end; both strings are counted.

The problem, for each hand: one of the ways of ``arrange.study.leap_ways`` for each stroke, so
that leaps that are too wide and notes that move or go cost least together. Recurrence: the least
cost up to a stroke, taken one way, is the least over the ways of the stroke before of its cost,
plus the leap from there, plus the way itself (a tenth where the stroke before moved alike: a
figure moves as one, and to part from it off a strong beat has a price). After a stroke that is
left out the hand comes from the one before it, and no two in a row are left out. States: three
octaves, each with and without a stroke left out after it; linear in the strokes, and exact.
Ties: what stays.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby, pairwise
from operator import attrgetter

from arrange.hands.player import Player
from arrange.pitch import Pitch
from arrange.score.model import HandName, Score, StaffHand
from arrange.study.leap_ways import GOES, LeapWays, Place, Stroke, Way
from arrange.study.pacing import Paces
from arrange.study.prices import PriceList
from arrange.study.timeline import Sounding, Timeline, Unit, timeline

LEAP, FURTHER = 250, 20
"""A leap that is too wide, and each string beyond: as much as two octaves and a half moved
(house judgement)."""
ALIKE = 10
"""A note that moves as the stroke before it did costs one tenth."""
SEAM = 60
"""Parting from how the stroke before moved, off the strong beats."""

_State = tuple[Way, int]
"""The way of a stroke, and the octaves of the stroke that the hand comes from afterwards."""


@dataclass(frozen=True, slots=True)
class Leap:
    """A leap that is too wide: its ends, low to high, and how many strings it covers."""

    ends: tuple[Pitch, Pitch]
    strings: int


@dataclass(frozen=True, slots=True)
class ClosedLeap:
    """Strokes that move alike, or go, so that a hand leaps less.

    Attributes:
        leap: the first that is closed up.
        notes: those that move or go, in order.
        octaves: that they move; None where they go.
        cost: of that; *spared*: of leaving them out instead, None where that is no way;
            *left*: of the leap, if nothing is done.
    """

    hand: HandName
    leap: Leap
    notes: tuple[Sounding, ...]
    octaves: Way
    cost: int
    spared: int | None
    left: int


def closed_leaps(
    score: Score,
    staves: tuple[StaffHand, ...],
    player: Player,
    prices: PriceList,
    strings: frozenset[int],
) -> Iterator[ClosedLeap]:
    """Yield what brings leaps within reach, left hand first, each hand's in score order.

    *strings* are those that the piece may use, as diatonic places.
    """
    line = timeline(score, staves)
    reach = _Reach(line, Paces(score, line, player), player.leap_strings)
    ways: LeapWays | None = None
    for hand in HandName:
        struck = (n for n in line.notes if n.hand is hand and not n.is_grace)
        row = [tuple(moment) for _, moment in groupby(struck, attrgetter("start"))]
        if reach.is_left(row):
            ways = ways or LeapWays(score, staves, player, prices, strings)
            yield from _Hand(hand, [ways.stroke(unit) for unit in row], reach).closed(ways)


@dataclass(slots=True)
class _Reach:
    """How far a hand may go from one stroke to the next."""

    line: Timeline
    paces: Paces
    most: int

    def is_left(self, row: list[Unit]) -> bool:
        """Whether the hand leaps too far anywhere."""
        places = [_place(unit) for unit in row]
        return any(self.excess(one, other) for one, other in pairwise(places))

    def excess(self, one: Place, other: Place) -> int:
        """Strings beyond the player's."""
        width = _width(one, other)
        if width <= self.most or other.tick - one.tick > self._time(one.index):
            return 0
        return width - self.most

    def price(self, one: Place, other: Place) -> int:
        """What going from one place to the other costs."""
        excess = self.excess(one, other)
        return LEAP + FURTHER * excess if excess else 0

    def _time(self, index: int) -> int:
        """Ticks of a beat of the measure or of a second, whichever is shorter."""
        beat = self.line.measures[index].meter.beat * self.line.quarter
        return int(min(beat, self.paces.second(index)))


def _place(unit: Unit) -> Place:
    lines = [n.line for n in unit]
    return Place(min(lines), max(lines), unit[0].start, unit[0].index)


def _width(one: Place, other: Place) -> int:
    low, high = abs(one.low - other.low), abs(one.high - other.high)
    is_single = one.low == one.high or other.low == other.high
    return (min(low, high) if is_single else max(low, high)) + 1


@dataclass(slots=True)
class _Hand:
    """One hand's strokes, and the cheapest way for each."""

    hand: HandName
    strokes: list[Stroke]
    reach: _Reach

    def closed(self, ways: LeapWays) -> Iterator[ClosedLeap]:
        """Yield each run of strokes that are treated alike."""
        taken = self._cheapest()
        for way, run in groupby(range(len(taken)), key=lambda i: taken[i]):
            numbers = list(run)
            if way == 0:
                continue
            for row in [[i] for i in numbers] if way is GOES else [numbers]:
                notes = tuple(n for i in row for n in self.strokes[i].free)
                if way is GOES or ways.take(notes, way):
                    yield self._told(row, way, notes)

    def _told(self, numbers: list[int], way: Way, notes: tuple[Sounding, ...]) -> ClosedLeap:
        strokes = [self.strokes[i] for i in numbers]
        first = strokes[0].ways[way]
        cost = first + sum(stroke.ways[way] // ALIKE for stroke in strokes[1:])
        spared = [stroke.ways.get(GOES) for stroke in strokes]
        leaps = list(self._leaps(numbers))
        return ClosedLeap(
            self.hand,
            _leap(*leaps[0]),
            notes,
            way,
            cost,
            None if None in spared else sum(price for price in spared if price is not None),
            sum(self.reach.price(_place(one), _place(other)) for one, other in leaps),
        )

    def _leaps(self, numbers: list[int]) -> Iterator[tuple[Unit, Unit]]:
        """The leaps to, between and from strokes; without any, the way to the first of them."""
        row = range(max(numbers[0] - 1, 0), min(numbers[-1] + 1, len(self.strokes) - 1))
        pairs = [(self.strokes[i].unit, self.strokes[i + 1].unit) for i in row]
        wide = [pair for pair in pairs if self.reach.excess(*map(_place, pair))]
        yield from wide or pairs[:1]

    def _cheapest(self) -> list[Way]:
        costs: dict[_State, int] = {(0, 0): 0}
        trail: list[dict[_State, _State]] = []
        for number, stroke in enumerate(self.strokes):
            reached: dict[_State, int] = {}
            origin: dict[_State, _State] = {}
            for before, known in costs.items():
                for state, price in self._onward(number, before, stroke):
                    cost = known + price
                    if state not in reached or cost < reached[state]:
                        reached[state], origin[state] = cost, before
            trail.append(origin)
            costs = reached
        state = min(costs, key=lambda s: (costs[s], s[0] is GOES, s[1]))
        taken: list[Way] = []
        for origin in reversed(trail):
            taken.append(state[0])
            state = origin[state]
        return taken[::-1]

    def _onward(self, number: int, before: _State, stroke: Stroke) -> Iterator[tuple[_State, int]]:
        """The states that a stroke can lead to, each with its price."""
        way_before, octaves = before
        source = number - 2 if way_before is GOES else number - 1
        place = self.strokes[source].places[octaves] if source >= 0 else None
        for way in stroke.ways:
            if way is GOES:
                if place is not None and way_before is not GOES:
                    yield (GOES, octaves), stroke.ways[GOES]
                continue
            leap = 0 if place is None else self.reach.price(place, stroke.places[way])
            yield (way, way), leap + self._joined(octaves, way, stroke)

    def _joined(self, octaves: int, way: int, stroke: Stroke) -> int:
        """What *way* costs after a stroke that was moved by *octaves*."""
        if way == octaves:
            return stroke.ways[way] // ALIKE
        is_seam = octaves and stroke.free and not self.reach.line.is_strong(stroke.unit[0].start)
        return stroke.ways[way] + (SEAM if is_seam else 0)


def _leap(one: Unit, other: Unit) -> Leap:
    """The ends by which the hand leaps."""
    start, end = _place(one), _place(other)
    low, high = abs(start.low - end.low), abs(start.high - end.high)
    is_single = start.low == start.high or end.low == end.high
    by_low = low <= high if is_single else low >= high
    at = 0 if by_low else -1
    pair = sorted((_ordered(one)[at], _ordered(other)[at]), key=lambda pitch: pitch.line)
    return Leap((pair[0], pair[1]), _width(start, end))


def _ordered(unit: Unit) -> list[Pitch]:
    return sorted((n.note.pitch for n in unit), key=lambda pitch: pitch.line)
