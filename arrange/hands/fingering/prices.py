"""What a fingering costs: fingers, shapes, crossings, moves of the hand."""

from dataclasses import dataclass
from itertools import combinations

from arrange.sources import COMMON_PRACTICE, HOUSE_JUDGEMENT, Source
from arrange.units import Microseconds

FINGERS = (1, 2, 3, 4)
"""Thumb to ring finger; the little finger never plays (common practice)."""
SOURCE: Source = HOUSE_JUDGEMENT
"""All prices: points of our own, set so that the customs below come out cheapest."""
CUSTOMS: Source = Source(
    COMMON_PRACTICE.text,
    "wide gaps between thumb and second finger, the others close; up a scale the fourth finger "
    "crosses under, down the thumb crosses over; the thumb slides down, the fourth finger up",
)
HASTE: tuple[Microseconds, ...] = (1_000_000, 500_000, 250_000)
"""From the pluck before to this one: with a second or more a hand moves in peace; each step
shorter makes a move of the hand dearer (house judgement)."""
AT_REST: Microseconds = 3_000_000
"""With so much time from one pluck to the next the hand is placed anew in peace, whatever came
before (house judgement)."""


@dataclass(frozen=True, slots=True)
class Gap:
    """How far apart two fingers are at ease, in strings from one to the other.

    Attributes:
        least, most: at ease from *least* to *most*; *limit*: the widest in one placing.
    """

    least: int
    most: int
    limit: int


@dataclass(frozen=True, slots=True)
class FingerPrices:
    """The price table, in points.

    Attributes:
        fingers: of each finger, thumb first, a pluck.
        bunched, stretched: a string that two neighbouring fingers are closer or wider than at
            ease; *together*: added a string stretched where they pluck together, not rolled;
            *beyond*: a string beyond the limit.
        thumbless: a second and each further string plucked together without the thumb.
        under: the hand crosses under the thumb upwards; *over*: the thumb crosses over
            downwards; *second*: added where that is to or from the second finger;
            *far*: each string beyond the next one.
        slide: thumb to the next string down, fourth finger to the next one up.
        change: another finger takes the string that has just been plucked.
        again: the same finger plucks its string again at once, by haste; *replaced*: it comes
            back to its string in the same placing.
        placing: the hand is placed anew in peace; *jump*: it leaves the strings and lands
            elsewhere, by haste; *held*: one finger keeps its string while the others move, by
            haste; *distance*: each string that a chord's ends or a single note's nearer end
            move, by haste.
        lonely: a placing of one finger; *off_beat*: a placing begins off the beat.
    """

    fingers: tuple[int, ...] = (0, 0, 1, 2)
    bunched: int = 6
    stretched: int = 4
    together: int = 6
    beyond: int = 60
    thumbless: int = 6
    under: int = 10
    over: int = 10
    second: int = 3
    far: int = 2
    slide: int = 16
    change: int = 4
    again: tuple[int, ...] = (2, 3, 12, 30)
    replaced: int = 1
    placing: int = 4
    jump: tuple[int, ...] = (14, 22, 34, 50)
    held: tuple[int, ...] = (8, 12, 18, 24)
    distance: tuple[int, ...] = (1, 2, 3, 4)
    lonely: int = 3
    off_beat: int = 2


PRICES = FingerPrices()
CROSSING_REACH = 3
"""How many strings away a crossing lands at most (house judgement)."""
AT_EASE = {(1, 2): (1, 4), (2, 3): (1, 3), (3, 4): (1, 3), (1, 3): (2, 6), (2, 4): (2, 5),
           (1, 4): (3, 8)}  # fmt: skip
"""Two fingers that are neighbours in a placing: the gaps at ease (thumb to second up to a
fifth, second to fourth close: common practice; the figures house judgement)."""


def gaps(wide_gap: int, close_gap: int, strings: int) -> dict[tuple[int, int], Gap]:
    """How far apart fingers may be, for a player's own limits.

    Args:
        wide_gap: widest between thumb and second finger; *close_gap* between the others.
        close_gap: see above.
        strings: widest span of the hand, both ends counted.
    """
    found = {}
    for high, low in combinations(FINGERS, 2):
        limit = sum(wide_gap if f == 1 else close_gap for f in range(high, low))
        least, most = AT_EASE[high, low]
        limit = min(limit, strings - 1)
        found[high, low] = Gap(least, min(most, limit), limit)
    return found
