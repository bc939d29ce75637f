"""What a hand can hold: fingers on strings, and what a shape costs."""

from dataclasses import dataclass, field
from itertools import combinations, pairwise

from arrange.hands.fingering.prices import FINGERS, PRICES, FingerPrices, Gap, gaps
from arrange.hands.player import Grip

Position = tuple[tuple[int, int], ...]
"""Fingers and the strings that they are placed on, thumb side first: finger, diatonic place.

The thumb has the highest string on both hands, so strings fall as fingers rise."""


def shifted(position: Position, lines: int) -> Position:
    """The same fingers so many strings higher."""
    return tuple([(finger, line + lines) for finger, line in position])


@dataclass(frozen=True)
class Shapes:
    """The shapes of one player's hand.

    Attributes:
        grip: what the hand can hold; *prices*: the price table.
    """

    grip: Grip
    prices: FingerPrices = PRICES
    _gaps: dict[tuple[int, int], Gap] = field(init=False, repr=False, compare=False)
    _known: dict[Position, tuple[int, bool]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    _hurries: dict[tuple[int, bool], tuple[int, ...]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def __post_init__(self) -> None:
        grip = self.grip
        widest = max(grip.strings, grip.rolled_strings)
        object.__setattr__(self, "_gaps", gaps(grip.wide_gap, grip.close_gap, widest))

    def fingerings(self, lines: tuple[int, ...], wanted: tuple[int, ...]) -> list[Position]:
        """The ways to put fingers on strings that are plucked at one moment.

        Args:
            lines: the strings, lowest first.
            wanted: for each, the finger that a fingering by hand asks for; 0 where it is free.

        Returns:
            Nothing where there are too many strings, or the wanted fingers are out of order.
        """
        return [
            tuple(zip(chosen, reversed(lines), strict=True))
            for chosen in combinations(FINGERS, len(lines))
            if all(not w or w == f for w, f in zip(wanted, reversed(chosen), strict=True))
        ]

    def price(self, position: Position) -> int:
        """What a shape costs, its fingers placed one after the other or rolled."""
        return self._judged(position)[0]

    def is_within(self, position: Position) -> bool:
        """Whether no finger is beyond its limit and the hand spans the whole."""
        return self._judged(position)[1]

    def plucking(self, position: Position, *, is_rolled: bool) -> int:
        """What plucking with all these fingers at one moment costs, beside their shape."""
        prices = self.prices
        added = sum(prices.fingers[finger - 1] for finger, _ in position)
        if position[0][0] != 1:
            added += prices.thumbless * (len(position) - 1)
        if is_rolled:
            return added
        for (high, above), (low, below) in pairwise(position):
            wide = above - below - self._gaps[high, low].most
            added += prices.together * max(wide, 0)
        return added

    def hurry(self, strings: int, *, is_held: bool) -> tuple[int, ...]:
        """What a move of the hand over so many strings costs, by haste."""
        known = self._hurries.get((strings, is_held))
        if known is None:
            prices = self.prices
            begun = prices.held if is_held else prices.jump
            known = tuple(
                base + strings * price for base, price in zip(begun, prices.distance, strict=True)
            )
            self._hurries[strings, is_held] = known
        return known

    def _judged(self, position: Position) -> tuple[int, bool]:
        known = self._known.get(position)
        if known is None:
            known = self._known[position] = self._judge(position)
        return known

    def _judge(self, position: Position) -> tuple[int, bool]:
        prices, cost, within = self.prices, 0, True
        for (high, above), (low, below) in pairwise(position):
            gap, wide = self._gaps[high, low], above - below
            cost += prices.bunched * max(gap.least - wide, 0)
            cost += prices.stretched * max(wide - gap.most, 0)
            cost += prices.beyond * max(wide - gap.limit, 0)
            within = within and wide <= gap.limit
        widest = max(self.grip.strings, self.grip.rolled_strings)
        return cost, within and (not position or position[0][1] - position[-1][1] < widest)


def with_finger(position: Position, finger: int, line: int) -> Position | None:
    """The position with one more finger placed, or one moved; None where fingers would cross."""
    placed = dict(position)
    placed[finger] = line
    made = tuple(sorted(placed.items()))
    falls = all(above > below for (_, above), (_, below) in pairwise(made))
    return made if falls else None
