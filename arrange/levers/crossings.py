"""What may become of the levers of a group at a note, worked out once for alike notes."""

from functools import lru_cache

from arrange.levers.groups import GroupChoice

Sign = tuple[tuple[int, int], ...]
"""For each way to treat a note: the strings that it plucks, and those of them that are raised."""

Way = tuple[int, int, tuple[tuple[int, int], ...]]
"""A way to treat a note: its place, the setting that it leads to, and the levers that move for
it: (string, raised)."""

Row = tuple[tuple[int, int, int], ...]
"""For one setting, each way: its place, the setting that it leads to, what its moves cost."""


class Crossing:
    """The ways across a note, alike for all notes that ask for the same strings.

    Attributes:
        masks, values: for each way, the strings that it plucks, and those raised.
        moving: for each lever that a way may move, (string, raised).
        plucking: for each string that may be plucked, the ways that do.
        ways: for each setting.
    """

    __slots__ = ("masks", "moving", "plucking", "values", "ways")

    def __init__(self, sign: Sign, strings: int) -> None:
        self.masks = tuple(mask for mask, _ in sign)
        self.values = tuple(value for _, value in sign)
        self.plucking: list[tuple[int, tuple[int, ...]]] = []
        self.moving: list[tuple[int, int]] = []
        for string in range(strings):
            bit = 1 << string
            plucking = tuple(pick for pick, (mask, _) in enumerate(sign) if mask & bit)
            if plucking:
                self.plucking.append((string, plucking))
                raised = {1 if self.values[pick] & bit else 0 for pick in plucking}
                self.moving += [(string, up) for up in sorted(raised)]
        self.ways = tuple(
            tuple(_way(setting, pick, one, strings) for pick, one in enumerate(sign))
            for setting in range(1 << strings)
        )


class Kind:
    """What notes with the same choices have in common.

    Attributes:
        crossing: the ways across them; *order*: the ways by what they cost.
        costs: for each way; *picks*: for each way the choice that tells its lock.
    """

    __slots__ = ("costs", "crossing", "order", "picks")

    def __init__(self, choices: tuple[GroupChoice, ...], strings: int) -> None:
        self.crossing = _crossing(tuple((one.mask, one.value) for one in choices), strings)
        self.costs = tuple(one.cost for one in choices)
        self.order = tuple(sorted(range(len(choices)), key=lambda way: (self.costs[way], way)))
        self.picks = tuple(one.picks[0] for one in choices)

    def is_like(self, other: "Kind") -> bool:
        """Return True where notes of both kinds ask for the same, and cost in the same order."""
        return self is other or (self.crossing is other.crossing and self.order == other.order)


@lru_cache(maxsize=1 << 12)
def kind_of(choices: tuple[GroupChoice, ...], strings: int) -> Kind:
    """Return the kind of notes with *choices*, in a group of so many strings."""
    return Kind(choices, strings)


@lru_cache(maxsize=1 << 10)
def _crossing(sign: Sign, strings: int) -> Crossing:
    return Crossing(sign, strings)


@lru_cache(maxsize=1 << 12)
def cheapest_moves(crossing: Crossing, least: tuple[tuple[int, int], ...]) -> tuple[Row, ...]:
    """For each setting, the ways across a note, and what their moves cost at least.

    *least* is what each string's moves cost at least, down and up.
    """
    return tuple(
        tuple(
            (pick, reached, sum(least[string][raised] for string, raised in changed))
            for pick, reached, changed in ways
        )
        for ways in crossing.ways
    )


def _way(setting: int, pick: int, one: tuple[int, int], strings: int) -> Way:
    mask, value = one
    reached = setting & ~mask | value
    changed = tuple(
        (string, reached >> string & 1)
        for string in range(strings)
        if (setting ^ reached) >> string & 1
    )
    return pick, reached, changed
