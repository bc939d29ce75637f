"""When one lever can be moved one way, price by price."""

from bisect import bisect_left

from arrange.levers.groups import ACT, NEVER, SCALE, Group
from arrange.levers.timetable import Timetable
from arrange.units import Microseconds

Entry = tuple[int, ...]
"""Where the moments begin at which a lever can be moved, price by price; empty where one at
the lowest price is past."""


class PricedMoments:
    """The moments at which one lever can be moved one way, price by price."""

    __slots__ = ("_known", "levels")

    def __init__(self, group: Group, string: int, raised: int, timetable: Timetable) -> None:
        extras: dict[tuple[int, int], int] = {}
        for up, slot, hand, _, surcharge in group.extras[string]:
            if up == raised:
                extras[slot, hand] = extras.get((slot, hand), 0) + surcharge
        rows: dict[tuple[int, int, Microseconds], list[Microseconds]] = {}
        self.levels: list[tuple[int, Microseconds, list[Microseconds]]] = []
        self._known: dict[tuple[Microseconds, Microseconds], Entry] = {}
        if not group.movable >> string & 1:
            return
        for level in timetable.levels(group.reaches[string]):
            price = level.price * SCALE + ACT
            if not extras:
                self.levels.append((price, level.move, list(level.times)))
                continue
            for time, (slot, _) in zip(level.times, level.places, strict=True):
                total = price + extras.get((slot, level.hand), 0)
                if total < NEVER:
                    rows.setdefault((total, level.hand, level.move), []).append(time)
        self.levels += [(key[0], key[2], rows[key]) for key in sorted(rows)]

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
                bisect_left(times, max(struck + 1, lock + move)) for _, move, times in self.levels
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
