"""Which hand plays what: grips that one hand cannot hold, and how the two can.

A grip is what a hand strikes at one moment. It holds where it has no more notes than the hand
has fingers and spans no more strings than the hand reaches (both from the player's numbers).
Where it does not, the ways are tried in this order (house judgement): the other hand takes the
notes on its side, if it is free and near; the chord is rolled, which reaches a little further;
notes are left out, the cheapest first. The search over these is complete, so what fails has no
answer.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import combinations

from arrange.hands.player import Grip
from arrange.quick import quickly_made
from arrange.score.model import HandName

MOST_LEFT_OUT = 5
"""Notes that may be left out of one moment."""


@quickly_made
@dataclass(frozen=True, slots=True)
class HeldNote:
    """A note to be struck.

    Attributes:
        key: whatever the caller knows it by.
        line: the string, as a diatonic place; *hand*: that the staff gives it to.
        price: of leaving it out; None where it never is.
        is_rolled: it has a roll sign.
    """

    key: int
    line: int
    hand: HandName
    price: int | None
    is_rolled: bool = False


@dataclass(frozen=True, slots=True)
class Sharing:
    """How a moment is played.

    Attributes:
        taken: keys of the notes that the other hand takes; *by*: that hand.
        rolled: hands whose chord is rolled that was not.
        left_out: keys of notes left out; *cost*: their price.
    """

    taken: tuple[int, ...] = ()
    by: HandName | None = None
    rolled: tuple[HandName, ...] = ()
    left_out: tuple[int, ...] = ()
    cost: int = 0


FreeFor = Callable[[HandName, int], bool]
"""Whether a hand that strikes nothing at this moment is free to take the string at a line."""


def holds(lines: list[int], grip: Grip, *, rolled: bool) -> bool:
    """Whether one hand holds the strings at *lines* together."""
    strings = set(lines)
    if not strings:
        return True
    span = max(strings) - min(strings) + 1
    return len(strings) <= grip.notes and span <= (grip.rolled_strings if rolled else grip.strings)


def is_held(notes: list[HeldNote], grip: Grip) -> bool:
    """Whether each hand holds what its staff gives it."""
    return all(_holds(notes, hand, grip) for hand in HandName)


def _holds(notes: list[HeldNote], hand: HandName, grip: Grip) -> bool:
    own = [n for n in notes if n.hand is hand]
    return holds([n.line for n in own], grip, rolled=any(n.is_rolled for n in own))


def sharing(notes: list[HeldNote], grip: Grip, free: FreeFor) -> Sharing | None:
    """Return the cheapest way for two hands to play *notes*; None where there is none.

    Least notes left out by price, then fewest rolls, then fewest notes given to the other hand.
    """
    optional = [n for n in notes if n.price is not None]
    best: tuple[tuple[int, int, int, int], Sharing] | None = None
    for count in range(min(len(optional), MOST_LEFT_OUT) + 1):
        for gone in combinations(optional, count):
            cost = sum(n.price or 0 for n in gone)
            if best is not None and cost > best[0][0]:
                continue
            keys = {n.key for n in gone}
            kept = [n for n in notes if n.key not in keys]
            for way in _ways(kept, grip, free):
                rank = (cost, len(way.rolled), len(way.taken), count)
                if best is None or rank < best[0]:
                    left_out = tuple(n.key for n in gone)
                    best = (rank, Sharing(way.taken, way.by, way.rolled, left_out, cost))
    return best[1] if best is not None else None


def _ways(notes: list[HeldNote], grip: Grip, free: FreeFor) -> Iterator[Sharing]:
    """The ways to play all of *notes*: as they stand, or some at the border change hands."""
    left = sorted((n for n in notes if n.hand is HandName.LEFT), key=_line)
    right = sorted((n for n in notes if n.hand is HandName.RIGHT), key=_line)
    yield from _played(left, right, (), None, grip)
    for taker, giver in ((HandName.RIGHT, left[::-1]), (HandName.LEFT, right)):
        own = right if taker is HandName.RIGHT else left
        for count in range(1, len(giver) + 1):
            given = giver[:count]
            if not own and not all(free(taker, n.line) for n in given):
                break
            one = [n for n in left if n not in given]
            other = [n for n in right if n not in given]
            lists = (one, [*given, *other]) if taker is HandName.RIGHT else ([*one, *given], other)
            yield from _played(*lists, tuple(n.key for n in given), taker, grip)


def _played(
    left: list[HeldNote],
    right: list[HeldNote],
    taken: tuple[int, ...],
    by: HandName | None,
    grip: Grip,
) -> Iterator[Sharing]:
    rolled: list[HandName] = []
    for hand, notes in ((HandName.LEFT, left), (HandName.RIGHT, right)):
        lines = [n.line for n in notes]
        if holds(lines, grip, rolled=False):
            continue
        if not holds(lines, grip, rolled=True):
            return
        if not any(n.is_rolled for n in notes):
            rolled.append(hand)
    yield Sharing(taken, by, tuple(rolled))


def _line(note: HeldNote) -> int:
    return note.line
