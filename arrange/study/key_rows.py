"""What a string, or two strings that share a pitch, cost at least in a key."""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from arrange.hands.windows import MARGIN
from arrange.harp.harp import Harp, Home, Position
from arrange.levers.chain import Chain
from arrange.levers.groups import SCALE, Group, GroupChoice, GroupNote, group_starts
from arrange.levers.problem import Cost, LeverString
from arrange.levers.standing import cheapest_way
from arrange.levers.timetable import Timetable
from arrange.score.plucks import Strike, locked_until
from arrange.study.grounds import Ground
from arrange.study.terms import Terms
from arrange.units import Microseconds

MOST_STATES = 200
"""How many states a pair's program may keep (house judgement: the bound says so if more)."""

_Block = tuple[Microseconds, tuple[Microseconds, ...], Cost, int]
"""Strikes that are one to the planner: when, the locks of the homes, what it costs not to play
them, how many of them pay."""

_Shape = tuple[tuple[int, int, Cost], ...]
"""For each home of a pitch: its string's bit, that bit if it is raised, what spelling it costs."""


class Priced:
    """The strikes of one pitch; one object for the same strikes at the same prices.

    Attributes:
        strikes: each with what it costs not to play it; *total*: what all of them cost.
        paying: how many of them cost anything.
    """

    __slots__ = ("paying", "strikes", "total")

    def __init__(self, strikes: list[tuple[Strike, Cost]]) -> None:
        self.strikes = strikes
        self.total = sum([price for _, price in strikes])
        self.paying = sum([1 for _, price in strikes if price])


@dataclass(frozen=True, slots=True)
class Asked:
    """One pitch of the source in a key.

    Attributes:
        priced: the strikes of it.
        is_touched: folding changes some of them.
        homes: where it is played; *spelled*: the one that it names.
    """

    priced: Priced
    is_touched: bool
    homes: tuple[Home, ...]
    spelled: Home | None


def pairs_of(harp: Harp) -> list[tuple[int, ...]]:
    """For each string those that it is weighed with: itself, and one that shares a pitch."""
    together: list[tuple[int, ...]] = [(string,) for string in range(len(harp.strings))]
    pitches = {p.midi for s in harp.strings for p in (s.open, s.raised) if p is not None}
    for midi in sorted(pitches):
        strings = tuple(home.string for home in harp.homes(midi))
        if len(set(strings)) == 2 and all(len(together[one]) == 1 for one in strings):
            for one in strings:
                together[one] = strings
    return together


class KeyRows:
    """The bounds of strings, alone or two together; what keys share is remembered.

    Args:
        basis: each measure played once.
    """

    def __init__(self, basis: Ground, timetable: Timetable, terms: Terms) -> None:
        self._basis = basis
        self._timetable = timetable
        self._respelled = terms.prices.respelled
        self._locks = [terms.player.ring_lock(s.octave) + MARGIN for s in terms.harp.strings]
        self._blocks: dict[tuple[Priced, tuple[Microseconds, ...]], list[_Block]] = {}
        self._ways: dict[tuple[_Shape, Cost, int], tuple[GroupChoice, ...]] = {}
        self._bounds: dict[tuple[object, ...], int] = {}

    def bound(
        self,
        strings: tuple[int, ...],
        asked: list[Asked],
        levers: Sequence[LeverString],
    ) -> int:
        """Return what *strings* cost at least, scaled, ties included."""
        two = tuple(levers[string] for string in strings)
        shapes = [self._shape(strings, one) for one in asked]
        if _stand(two, {shape[0][:2] for shape in shapes}):
            return SCALE * sum(
                shape[0][2] * one.priced.paying
                for one, shape in zip(asked, shapes, strict=True)
                if shape[0][2]
            )
        rings = tuple(self._locks[string] for string in strings)
        standing = tuple(
            (one.reach, one.movable, one.preset_cost_down, one.preset_cost_up) for one in two
        )
        row = (
            standing,
            rings,
            *((one.priced, shape) for one, shape in zip(asked, shapes, strict=True)),
        )
        if any(one.is_touched for one in asked):
            return self._least(two, rings, asked, shapes)
        if row not in self._bounds:
            self._bounds[row] = self._least(two, rings, asked, shapes)
        return self._bounds[row]

    def _shape(self, strings: tuple[int, ...], one: Asked) -> _Shape:
        """The homes of a pitch in the pair, the one that it names first."""
        homes = sorted(one.homes, key=lambda home: home != one.spelled)
        found = []
        for home in homes:
            bit = 1 << strings.index(home.string)
            value = bit if home.position is Position.UP else 0
            found.append((bit, value, 0 if home == one.spelled else self._respelled))
        return tuple(found)

    def _least(
        self,
        levers: tuple[LeverString, ...],
        rings: tuple[Microseconds, ...],
        asked: list[Asked],
        shapes: list[_Shape],
    ) -> int:
        if not any(_moves(one) and self._timetable.levels(one.reach) for one in levers):
            return self._unmoved(levers, rings, asked, shapes)
        notes: list[GroupNote] = []
        aside = 0
        for one, shape in zip(asked, shapes, strict=True):
            homes = tuple(rings[bit.bit_length() - 1] for bit, _, _ in shape)
            cheapest = shape[0][2]
            for time, until, price, count in self._blocks_of(one, homes):
                ways = self._ways_of(shape, price - cheapest * count, count)
                notes.append(GroupNote(0, (time,), (until,), ways))
                aside += cheapest * count
        notes.sort(key=lambda note: note.times)
        group = Group(
            tuple(range(len(levers))),
            group_starts(levers, (None,) * len(levers)),
            sum(1 << bit for bit, one in enumerate(levers) if one.raised_midi is not None),
            sum(1 << bit for bit, one in enumerate(levers) if _moves(one)),
            tuple(one.reach for one in levers),
            tuple(notes),
            ((),) * len(levers),
        )
        answer = Chain(group, self._timetable, MOST_STATES).answer()
        assert answer is not None, levers  # noqa: S101 - any note may stay unplayed
        return answer.bound + aside * SCALE

    def _unmoved(
        self,
        levers: tuple[LeverString, ...],
        rings: tuple[Microseconds, ...],
        asked: list[Asked],
        shapes: list[_Shape],
    ) -> int:
        """The same where no lever can ever be moved: all stand as they start."""
        starts = group_starts(levers, (None,) * len(levers))
        total = [cost for _, cost in starts]
        for one, shape in zip(asked, shapes, strict=True):
            for price, count in self._prices_of(one, rings, shape):
                ways = self._ways_of(shape, price - shape[0][2] * count, count)
                aside = shape[0][2] * count * SCALE
                for place, (setting, _) in enumerate(starts):
                    total[place] += aside + cheapest_way(ways, setting)[0]
        return min(total)

    def _prices_of(
        self, one: Asked, rings: tuple[Microseconds, ...], shape: _Shape
    ) -> list[tuple[Cost, int]]:
        """For strikes that are one what it costs not to play them, and how many of them pay.

        Where no spelling costs anything, it is all the same how many are one.
        """
        if any(cost for _, _, cost in shape):
            homes = tuple(rings[bit.bit_length() - 1] for bit, _, _ in shape)
            return [(price, count) for _, _, price, count in self._blocks_of(one, homes)]
        return [(one.priced.total, one.priced.paying)]

    def _blocks_of(self, one: Asked, homes: tuple[Microseconds, ...]) -> list[_Block]:
        key = one.priced, homes
        known = None if one.is_touched else self._blocks.get(key)
        if known is None:
            known = self._together(one.priced.strikes, homes)
            if not one.is_touched:
                self._blocks[key] = known
        return known

    def _together(
        self, strikes: list[tuple[Strike, Cost]], homes: tuple[Microseconds, ...]
    ) -> list[_Block]:
        """Strikes between which no lever moves, and after which it may from the same moment."""
        times, moves = self._timetable.times, self._timetable.moves
        plucks = self._basis.plucks
        count, cell = len(times), 0
        longest = self._timetable.longest
        far = 2 * max(homes) + longest
        blocks: list[_Block] = []
        last: tuple[int, ...] = ()
        for strike, price in strikes:
            cell = bisect_right(times, strike.time, cell)
            place: tuple[int, ...] = (cell,)
            if cell < count and max(strike.end + longest, strike.time + far) > times[cell]:
                ends = [locked_until(strike, plucks[strike.pluck], lock) for lock in homes]
                later = [bisect_left(times, end + move, cell) for end in ends for move in moves]
                if any(one != cell for one in later):
                    place = (cell, *later)
            if place == last:
                time, until, sum_of_prices, paying = blocks[-1]
                blocks[-1] = time, until, sum_of_prices + price, paying + (price > 0)
            else:
                ends = [locked_until(strike, plucks[strike.pluck], lock) for lock in homes]
                blocks.append((strike.time, (*ends, 0), price, int(price > 0)))
                last = place
        return blocks

    def _ways_of(self, shape: _Shape, price: Cost, count: int) -> tuple[GroupChoice, ...]:
        """The ways to treat strikes that are one: on a string, or not at all."""
        key = shape, price, count
        ways = self._ways.get(key)
        if ways is None:
            cheapest = shape[0][2]
            played = [
                GroupChoice((cost - cheapest) * count * SCALE, bit, value, (number,))
                for number, (bit, value, cost) in enumerate(shape)
            ]
            silent = GroupChoice(max(price, 0) * SCALE, 0, 0, (len(shape),))
            ways = self._ways[key] = (*played, silent)
        return ways


def _stand(levers: tuple[LeverString, ...], wanted: set[tuple[int, int]]) -> bool:
    """Return True where strings may stand as all their notes ask, no other way being cheaper."""
    mask = up = 0
    for bit, value in wanted:
        if mask & bit and up & bit != value:
            return False
        mask, up = mask | bit, up | value
    return not any(
        lever.preset_cost_up if up >> place & 1 else lever.preset_cost_down
        for place, lever in enumerate(levers)
        if mask >> place & 1 and lever.raised_midi is not None
    )


def _moves(lever: LeverString) -> bool:
    return lever.movable and lever.raised_midi is not None
