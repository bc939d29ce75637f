"""The ways to treat a note, as far as one group of strings is concerned."""

from functools import lru_cache

from arrange.harp.harp import Position
from arrange.levers.groups import SCALE, GroupChoice
from arrange.levers.problem import Choice

Shift = tuple[int, int, int]
"""(choice, string, amount): that much more of the choice's price falls on the string's group."""


@lru_cache(maxsize=1 << 14)
def group_ways(
    choices: tuple[Choice, ...],
    strings: tuple[int, ...],
    anchors: tuple[int, ...],
    allowed: tuple[int, ...] | None = None,
    shifts: tuple[Shift, ...] = (),
) -> tuple[GroupChoice, ...]:
    """Return the ways to treat a note; what plucks none of *strings* is one way.

    Args:
        choices: the note's.
        strings: the group's.
        anchors: the strings that share the note's price.
        allowed: the choices that are left to the note, None where all are.
        shifts: what falls on others than the anchors.
    """
    cheapest = min(choice.cost for choice in choices)
    ways: list[GroupChoice] = []
    silent: tuple[int, list[int]] | None = None
    for number in allowed or range(len(choices)):
        plucked = _plucked(choices[number], strings)
        if plucked is None:
            continue
        price = (choices[number].cost - cheapest) * SCALE + number
        share = _share(price, strings, anchors)
        share += sum(
            amount for one, string, amount in shifts if one == number and string in strings
        )
        if plucked[0]:
            ways.append(GroupChoice(share, *plucked, (number,)))
        elif silent is None or share < silent[0]:
            silent = (share, [number])
        elif share == silent[0]:
            silent[1].append(number)
    if silent is not None:
        ways.append(GroupChoice(silent[0], 0, 0, tuple(silent[1])))
    return tuple(ways)


def _share(price: int, strings: tuple[int, ...], anchors: tuple[int, ...]) -> int:
    """The part of a price that falls on *strings*; all parts add up to it."""
    whole = len(anchors)
    return sum(
        price * (place + 1) // whole - price * place // whole
        for place, anchor in enumerate(anchors)
        if anchor in strings
    )


def _plucked(choice: Choice, strings: tuple[int, ...]) -> tuple[int, int] | None:
    """Return which of *strings* a choice plucks, and which raised; None where it contradicts."""
    mask = value = 0
    for string, position in choice.demands:
        if string in strings:
            bit = 1 << strings.index(string)
            up = bit if position is Position.UP else 0
            if mask & bit and value & bit != up:
                return None
            mask |= bit
            value |= up
    return mask, value
