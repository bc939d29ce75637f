"""When one lever can be moved one way, price by price."""

from bisect import bisect_left
from collections.abc import Sequence

from arrange.levers.groups import NEVER
from arrange.units import Microseconds

Entry = tuple[int, ...]
"""Where the moments begin at which a lever can be moved, price by price; empty where one at
the lowest price is past."""

PricedLevel = tuple[int, Microseconds, Sequence[Microseconds]]
"""What a move costs, scaled; how long it takes; when it may end, sorted."""


class PricedMoments:
    """The moments at which one lever can be moved one way, price by price.

    Args:
        levels: the cheapest first.
    """

    __slots__ = ("_known", "levels")

    def __init__(self, levels: Sequence[PricedLevel]) -> None:
        self.levels = levels
        self._known: dict[tuple[Microseconds, Microseconds], Entry] = {}

    def within(self, struck: Microseconds, lock: Microseconds, until: Microseconds) -> int:
        """Return the lowest price of a move after a pluck, no later than *until*."""
        after = struck + 1
        for price, move, times in self.levels:
            place = bisect_left(times, max(after, lock + move))
            if place < len(times) and times[place] <= until:
                return price
        return NEVER

    def since(self, struck: Microseconds, lock: Microseconds) -> Entry:
        """Return where the moments begin after a pluck."""
        key = (struck, lock)
        entry = self._known.get(key)
        if entry is None:
            entry = tuple(
                [
                    bisect_left(times, max(struck + 1, lock + move))
                    for _, move, times in self.levels
                ]
            )
            self._known[key] = entry
        return entry

    def price(self, entry: Entry, until: Microseconds) -> int:
        """Return the lowest price of a move from *entry* on, no later than *until*."""
        if not entry:
            return self.levels[0][0] if self.levels else NEVER
        for start, (price, _, times) in zip(entry, self.levels, strict=True):
            if start < len(times) and times[start] <= until:
                return price
        return NEVER

    def is_eased(self, entry: Entry, now: Microseconds) -> bool:
        """Return True where a moment at the lowest price is past."""
        times = self.levels[0][2]
        return entry[0] < len(times) and times[entry[0]] <= now

    @property
    def lowest(self) -> int:
        """The lowest price of all, ``NEVER`` where the lever is not moved."""
        return self.levels[0][0] if self.levels else NEVER
