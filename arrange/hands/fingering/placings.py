"""The fingering of a score: for each hand its placings, one after the other."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from arrange.hands.fingering.handfuls import Handful, handfuls
from arrange.hands.fingering.search import Search
from arrange.hands.fingering.shapes import Shapes
from arrange.hands.fingering.ways import Joining
from arrange.hands.player import Grip, Player
from arrange.memory import remembered
from arrange.score.model import EventId, HandName, Note, Score, StaffHand


@dataclass(frozen=True, slots=True)
class Fingered:
    """A handful with its fingers, one a note, lowest note first."""

    handful: Handful
    fingers: tuple[int, ...]
    joining: Joining

    def __iter__(self) -> Iterator[tuple[Note, int]]:
        return zip(self.handful.notes, self.fingers, strict=True)

    @property
    def lines(self) -> tuple[int, ...]:
        """The strings, as diatonic places."""
        return self.handful.step.pluckings.lines

    @property
    def is_rolled(self) -> bool:
        """Whether they are rolled."""
        return self.handful.step.pluckings.is_rolled

    @property
    def order(self) -> tuple[tuple[Note, int], ...]:
        """Notes and fingers in the order in which they are placed.

        A chord of four is placed thumb and bottom first, then the two between (common
        practice); anything less from the bottom up.
        """
        row = tuple(self)
        return (row[3], row[0], row[1], row[2]) if len(row) == 4 else row


@dataclass(frozen=True, slots=True)
class Placing:
    """What a hand plays from one placing of its fingers.

    Attributes:
        joining: how the hand comes to it; the others of its *row* follow ``on``, or ``slide``.
    """

    hand: HandName
    joining: Joining
    row: tuple[Fingered, ...]


@dataclass(frozen=True, slots=True)
class HandFingering:
    """The fingering of one hand.

    Attributes:
        placings: in printed order; *unplayed*: what no four fingers take, or not in the order
            that the fingering by hand asks for.
        price: of the whole, in points.
    """

    hand: HandName
    placings: tuple[Placing, ...]
    unplayed: tuple[Handful, ...]
    price: int


def fingering(
    score: Score,
    staves: tuple[StaffHand, ...],
    player: Player,
    uncounted: frozenset[EventId] = frozenset(),
) -> tuple[HandFingering, ...]:
    """Return the cheapest fingering of one harp, left hand first.

    A fingering that the score carries is kept, and the rest is worked out around it.

    Args:
        score: the score; a note's string is the one that it is written on.
        staves: the harp's.
        player: whose hands they are; *grip* says what they span.
        uncounted: notes whose fingering does not bind, though they carry one.
    """
    return _fingering(score, staves, player, uncounted)


@remembered
def bare_fingering(
    score: Score, staves: tuple[StaffHand, ...], player: Player
) -> tuple[HandFingering, ...]:
    """Return the cheapest fingering of the bare notes, whatever fingers and cues are printed."""
    search = _search(player.grip)
    rows = handfuls(score, staves, is_bare=True)
    return tuple(_hand(hand, rows[hand], search) for hand in HandName)


@remembered
def _fingering(
    score: Score,
    staves: tuple[StaffHand, ...],
    player: Player,
    uncounted: frozenset[EventId],
) -> tuple[HandFingering, ...]:
    search = _search(player.grip)
    rows = handfuls(score, staves, uncounted)
    return tuple(_hand(hand, rows[hand], search) for hand in HandName)


@lru_cache(maxsize=4)
def _search(grip: Grip) -> Search:
    return Search(Shapes(grip))


def _hand(hand: HandName, row: list[Handful], search: Search) -> HandFingering:
    found, price = search.fingers([handful.step for handful in row])
    placings: list[list[Fingered]] = []
    unplayed: list[Handful] = []
    for handful, told in zip(row, found, strict=True):
        if not told.fingers:
            unplayed.append(handful)
            continue
        if told.joining.begins or not placings:
            placings.append([])
        placings[-1].append(Fingered(handful, told.fingers, told.joining))
    made = tuple(Placing(hand, group[0].joining, tuple(group)) for group in placings)
    return HandFingering(hand, made, tuple(unplayed), price)
