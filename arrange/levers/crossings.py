"""What may become of the levers of a group at a note, worked out once for alike notes."""

from functools import lru_cache

from arrange.levers.groups import GroupChoice

Way = tuple[int, int, int, tuple[tuple[int, int], ...]]
"""What a way to treat a note costs, its place, the setting that it leads to, and the levers that
move for it: (string, raised)."""


class Crossing:
    """The ways across a note, alike for all notes that have the same choices.

    Attributes:
        moving: for each lever that a way may move, (string, raised).
        plucking: for each string that may be plucked, the choices that tell its lock.
        ways: for each setting.
    """

    __slots__ = ("moving", "plucking", "ways")

    def __init__(self, choices: tuple[GroupChoice, ...], strings: int) -> None:
        self.plucking: list[tuple[int, tuple[int, ...]]] = []
        self.moving: list[tuple[int, int]] = []
        for string in range(strings):
            bit = 1 << string
            plucking = [way for way in choices if way.mask & bit]
            if plucking:
                self.plucking.append((string, tuple({way.picks[0]: 0 for way in plucking})))
                raised = {1 if way.value & bit else 0 for way in plucking}
                self.moving += [(string, up) for up in sorted(raised)]
        self.ways = tuple(
            tuple(_way(setting, pick, way, strings) for pick, way in enumerate(choices))
            for setting in range(1 << strings)
        )


@lru_cache(maxsize=1 << 12)
def crossing_of(choices: tuple[GroupChoice, ...], strings: int) -> Crossing:
    """Return the ways across a note with *choices*, in a group of so many strings."""
    return Crossing(choices, strings)


@lru_cache(maxsize=1 << 12)
def cheapest_ways(
    crossing: Crossing, least: tuple[tuple[int, int], ...]
) -> tuple[tuple[tuple[int, int], ...], ...]:
    """For each setting, the settings that a note may lead to, and at what price at least.

    *least* is what each string's moves cost at least, down and up.
    """
    rows = []
    for ways in crossing.ways:
        row: dict[int, int] = {}
        for cost, _, reached, changed in ways:
            total = cost + sum(least[string][raised] for string, raised in changed)
            row[reached] = min(total, row.get(reached, total))
        rows.append(tuple(row.items()))
    return tuple(rows)


def _way(setting: int, pick: int, way: GroupChoice, strings: int) -> Way:
    reached = setting & ~way.mask | way.value
    changed = tuple(
        (string, reached >> string & 1)
        for string in range(strings)
        if (setting ^ reached) >> string & 1
    )
    return way.cost, pick, reached, changed
