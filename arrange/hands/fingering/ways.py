"""How one handful follows another: in the placing that stands, or in a new one."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from arrange.hands.fingering.prices import CROSSING_REACH, HASTE
from arrange.hands.fingering.shapes import Position, Shapes, with_finger

IN_ALL_HASTES = (0,) * (len(HASTE) + 1)


class Joining(StrEnum):
    """How fingers come to their strings; all but the first two begin a placing.

    ``on`` in the placing that stands, ``slide`` thumb or fourth finger to the next string,
    ``anew`` in peace, ``under`` and ``over`` the thumb, ``change`` another finger on the same
    string, ``held`` one finger keeps its string, ``jump`` the hand leaves the strings.
    """

    ON = "on"
    SLIDE = "slide"
    ANEW = "anew"
    UNDER = "under"
    OVER = "over"
    CHANGE = "change"
    HELD = "held"
    JUMP = "jump"

    @property
    def begins(self) -> bool:
        """Whether a new placing begins."""
        return self not in (Joining.ON, Joining.SLIDE)


@dataclass(frozen=True, slots=True)
class Pluckings:
    """What is plucked at one moment.

    Attributes:
        lines: the strings, lowest first.
        wanted: the finger that a fingering by hand asks for on each, 0 where it is free.
        is_rolled: not plucked together.
    """

    lines: tuple[int, ...]
    wanted: tuple[int, ...]
    is_rolled: bool = False


class Way(NamedTuple):
    """One way on; there are many, and a tuple is quickly made.

    Attributes:
        position: where the fingers stand then.
        cost: in points, in peace; *hurry*: added by haste.
    """

    joining: Joining
    position: Position
    cost: int
    hurry: tuple[int, ...] = IN_ALL_HASTES


@dataclass(frozen=True, slots=True)
class Hold:
    """Fingers on the strings of one moment; *plucking*: what they cost, *shape*: their shape."""

    position: Position
    plucking: int
    shape: int


def holds(shapes: Shapes, pluckings: Pluckings) -> tuple[Hold, ...]:
    """The ways to put fingers on the strings of one moment."""
    return tuple(
        Hold(
            position,
            shapes.plucking(position, is_rolled=pluckings.is_rolled),
            shapes.price(position),
        )
        for position in shapes.fingerings(pluckings.lines, pluckings.wanted)
    )


def ways_anew(shapes: Shapes, before: Position, hold: Hold) -> Way:
    """The hand is placed in peace, whatever came before."""
    cost = hold.plucking + hold.shape + shapes.prices.placing + _left_alone(shapes, before)
    return Way(Joining.ANEW, hold.position, cost)


def ways(shapes: Shapes, before: Position, last: Position, hold: Hold) -> Iterator[Way]:
    """Yield every way on from a position without a rest.

    Args:
        shapes: of the player's hand.
        before: where the fingers stand.
        last: those of them that plucked last.
        hold: the fingers that pluck next.
    """
    yield from _stayed(shapes, before, last, hold)
    yield from _joined(shapes, before, last, hold)


def _stayed(shapes: Shapes, before: Position, last: Position, fingers: Hold) -> Iterator[Way]:
    """Within the placing: fingers fall on further strings, come back to theirs, or slide."""
    placed, prices = dict(before), shapes.prices
    hold, cost = fingers.position, fingers.plucking - shapes.price(before)
    position: Position | None = before
    for finger, line in hold:
        if finger not in placed:
            position = None if position is None else with_finger(position, finger, line)
        elif placed[finger] != line:
            position = None
        elif hold != last:
            cost += prices.replaced
    if position is not None and (position == before or shapes.is_within(position)):
        cost += shapes.price(position)
        yield Way(Joining.ON, position, cost, prices.again if hold == last else IN_ALL_HASTES)
    slid = _slid(before, last, hold)
    if slid is not None and shapes.is_within(slid):
        cost = fingers.plucking + prices.slide + shapes.price(slid) - shapes.price(before)
        yield Way(Joining.SLIDE, slid, cost)


def _slid(before: Position, last: Position, hold: Position) -> Position | None:
    """Where the fingers stand when the thumb slides one down, or the fourth finger one up."""
    if len(hold) != 1 or len(last) != 1:
        return None
    ((finger, line),), ((plucked, from_line),) = hold, last
    if finger == plucked and (finger, line - from_line) in ((1, -1), (4, 1)):
        return with_finger(before, finger, line)
    return None


def _joined(shapes: Shapes, before: Position, last: Position, fingers: Hold) -> Iterator[Way]:
    """A new placing: connected by a crossing or a change of fingers, by a finger that keeps its
    string, or by a jump.
    """
    prices, hold = shapes.prices, fingers.position
    begun = fingers.plucking + fingers.shape + _left_alone(shapes, before)
    is_single = len(hold) == len(last) == 1
    crossing = _crossing(shapes, last, hold) if is_single else None
    if crossing is not None:
        joining, cost = crossing
        yield Way(joining, hold, begun + cost)
        return
    is_held = any(finger in before for finger in hold)
    hurry = shapes.hurry(_distance(before, hold), is_held=is_held)
    yield Way(Joining.HELD if is_held else Joining.JUMP, hold, begun, hurry)
    if is_single and not is_held and last[0][0] != hold[0][0]:
        held = with_finger(hold, *last[0])
        if held is not None and shapes.is_within(held):
            cost = begun + shapes.price(held) - fingers.shape
            yield Way(Joining.HELD, held, cost, prices.held)


def _crossing(shapes: Shapes, last: Position, hold: Position) -> tuple[Joining, int] | None:
    """A crossing or a change of fingers, from one single note to the next."""
    prices = shapes.prices
    ((finger, line),), ((plucked, from_line),) = hold, last
    if line == from_line and finger != plucked:
        return Joining.CHANGE, prices.change
    far = abs(line - from_line)
    if not 1 <= far <= CROSSING_REACH:
        return None
    more = (far - 1) * prices.far + (prices.second if 2 in (finger, plucked) else 0)
    if plucked == 1 and finger > 1 and line > from_line:
        return Joining.UNDER, prices.under + more
    if finger == 1 and plucked > 1 and line < from_line:
        return Joining.OVER, prices.over + more
    return None


def _left_alone(shapes: Shapes, before: Position) -> int:
    return shapes.prices.lonely if len(before) == 1 else 0


def _distance(before: Position, after: Position) -> int:
    """How many strings the hand moves: a chord is placed by its top and its bottom, both."""
    if len(after) > 1:
        top, bottom = after[0][1] - before[0][1], after[-1][1] - before[-1][1]
        return max(abs(top), abs(bottom))
    (top, bottom), (was_top, was_bottom) = _ends(after), _ends(before)
    return min(abs(top - was_top), abs(bottom - was_bottom))


def _ends(position: Position) -> tuple[int, int]:
    """Where thumb and fourth finger would be with the fingers on neighbouring strings."""
    (high, top), (low, bottom) = position[0], position[-1]
    return top + high - 1, bottom - (4 - low)
