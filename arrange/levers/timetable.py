"""When levers can be moved: the slots of a problem, ordered and priced once for all strings."""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

from arrange.levers.groups import ACT, NEVER, SCALE, Extra
from arrange.levers.priced_moments import PricedMoments
from arrange.levers.problem import Cost, Hand, LeverProblem, Prices, Slot
from arrange.units import Microseconds

Acts = int
"""A set of a slot's performed moments, one bit each."""

Signature = tuple[Cost, tuple[tuple[int, ...], ...]]
"""A slot's price and, for each moment and hand: 0 not free, 1 hurried, 2 at ease."""


@dataclass(frozen=True, slots=True)
class Level:
    """All moments at which one hand can move levers of one reach class at one price.

    Attributes:
        price: what a move costs; *hand*: the hand; *move*: how long it takes.
        times: the moments, sorted; *places*: (slot, place in the slot) of each.
        slack: the time left at each.
    """

    price: Cost
    hand: int
    move: Microseconds
    times: tuple[Microseconds, ...]
    places: tuple[tuple[int, int], ...]
    slack: tuple[Microseconds, ...]


class Timetable:
    """The slots, for one set of hands and prices; can serve many problems that share them.

    Attributes:
        moments: (time, slot, place in the slot) of all performed moments, sorted.
        moves: how long a move may take; *longest*: at most.
        is_plain: True where every slot is performed once.
    """

    __slots__ = (
        "_levels",
        "_priced",
        "_rows",
        "_signatures",
        "by_first",
        "hands",
        "is_plain",
        "longest",
        "moments",
        "moves",
        "prices",
        "slots",
        "times",
    )

    def __init__(self, slots: tuple[Slot, ...], hands: tuple[Hand, ...], prices: Prices) -> None:
        self.slots = slots
        self.hands = hands
        self.prices = prices
        self.moves = sorted({hand.move for hand in hands})
        self.longest = max(self.moves, default=0)
        self.moments = sorted(
            (moment.time, slot, place)
            for slot, printed in enumerate(slots)
            for place, moment in enumerate(printed.times)
        )
        self.times = [moment[0] for moment in self.moments]
        self.is_plain = all(len(slot.times) <= 1 for slot in slots)
        played = [index for index, slot in enumerate(slots) if slot.times]
        self.by_first = sorted(played, key=lambda index: slots[index].times[0].time)
        self._levels: dict[int, tuple[Level, ...]] = {}
        self._priced: dict[int, PricedMoments] = {}
        self._rows: dict[tuple[int, int], tuple[tuple[Microseconds, ...], ...]] = {}
        self._signatures: dict[tuple[int, int], Signature] = {}

    def fits(self, problem: LeverProblem) -> bool:
        """Return True where *problem* has these very slots, hands and prices."""
        return (
            self.slots is problem.slots
            and (self.hands is problem.hands or self.hands == problem.hands)
            and self.prices == problem.prices
        )

    def slack(self, slot: int, reach: int) -> tuple[tuple[Microseconds, ...], ...]:
        """Return for each moment and hand the time left, -1 where the hand cannot."""
        key = (slot, reach)
        row = self._rows.get(key)
        if row is None:
            row = tuple(
                tuple(
                    moment.slack[hand][reach] if reach in self.hands[hand].reaches else -1
                    for hand in range(len(self.hands))
                )
                for moment in self.slots[slot].times
            )
            self._rows[key] = row
        return row

    def signature(self, slot: int, reach: int) -> Signature:
        """Return what decides the price of a move in *slot*."""
        key = (slot, reach)
        found = self._signatures.get(key)
        if found is None:
            below = self.prices.hurried_below
            found = (
                self.slots[slot].price,
                tuple(
                    tuple(0 if left < 0 else 1 if left < below else 2 for left in row)
                    for row in self.slack(slot, reach)
                ),
            )
            self._signatures[key] = found
        return found

    def least_slack(self, slot: int, reach: int, hand: int, acts: Acts) -> Microseconds:
        """Return the least time left in the moments *acts*; -1 where one is not free."""
        rows = self.slack(slot, reach)
        return min(row[hand] for place, row in enumerate(rows) if acts >> place & 1)

    def price(self, slot: int, reach: int, hand: int, acts: Acts) -> Cost | None:
        """Return what one printed move costs, None where the hand is not free."""
        left = self.least_slack(slot, reach, hand, acts)
        if left < 0:
            return None
        hurried = self.prices.hurried if left < self.prices.hurried_below else 0
        return self.prices.move + self.hands[hand].price + self.slots[slot].price + hurried

    def levels(self, reach: int) -> tuple[Level, ...]:
        """Return the prices at which levers of *reach* can be moved once, cheapest first."""
        known = self._levels.get(reach)
        if known is None:
            known = self._levels[reach] = self._sorted_levels(reach)
        return known

    def priced_moments(self, reach: int, raised: int, extras: Sequence[Extra]) -> PricedMoments:
        """Return when levers of *reach* can be moved, price by price, *extras* on top."""
        due: dict[tuple[int, int], int] = {}
        for up, slot, hand, _, surcharge in extras:
            if up == raised:
                due[slot, hand] = due.get((slot, hand), 0) + surcharge
        if due:
            return PricedMoments(self._dearer(reach, due))
        known = self._priced.get(reach)
        if known is None:
            levels = self.levels(reach)
            known = PricedMoments(
                [(one.price * SCALE + ACT, one.move, one.times) for one in levels]
            )
            self._priced[reach] = known
        return known

    def _dearer(
        self, reach: int, due: dict[tuple[int, int], int]
    ) -> list[tuple[int, Microseconds, list[Microseconds]]]:
        rows: dict[tuple[int, int, Microseconds], list[Microseconds]] = {}
        for level in self.levels(reach):
            price = level.price * SCALE + ACT
            for time, (slot, _) in zip(level.times, level.places, strict=True):
                total = price + due.get((slot, level.hand), 0)
                if total < NEVER:
                    rows.setdefault((total, level.hand, level.move), []).append(time)
        return [(key[0], key[2], rows[key]) for key in sorted(rows)]

    def _sorted_levels(self, reach: int) -> tuple[Level, ...]:
        prices = self.prices
        serving = [
            (number, prices.move + hand.price)
            for number, hand in enumerate(self.hands)
            if reach in hand.reaches
        ]
        found: dict[tuple[Cost, int], list[tuple[Microseconds, tuple[int, int], int]]] = {}
        for time, slot, place in self.moments:
            printed = self.slots[slot]
            slack = printed.times[place].slack
            for hand, price in serving:
                left = slack[hand][reach]
                if left >= 0:
                    total = price + printed.price
                    if left < prices.hurried_below:
                        total += prices.hurried
                    row = found.setdefault((total, hand), [])
                    row.append((time, (slot, place), left))
        return tuple(
            Level(price, hand, self.hands[hand].move, *zip(*found[price, hand], strict=True))
            for price, hand in sorted(found)
        )

    def between(
        self, after: Microseconds, until: Microseconds
    ) -> Sequence[tuple[Microseconds, int, int]]:
        """Return the moments later than *after*, no later than *until*."""
        low = bisect_left(self.times, after + 1)
        return self.moments[low : bisect_left(self.times, until + 1, low)]
