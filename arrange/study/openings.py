"""Windows for a lever move that open when moments of the left hand are lifted."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate

from arrange.hands.player import LeverHand
from arrange.hands.windows import AFTER_THE_PIECE, BEFORE_THE_PIECE, MARGIN, REACH_OCTAVES
from arrange.levers.problem import Cost, LeverProblem
from arrange.study.reliefs import HandsAtWork, Relief
from arrange.study.terms import Terms
from arrange.study.wants import Want
from arrange.units import Microseconds, microseconds

MOST_MOMENTS = 3
"""Moments in a row that are lifted for one move (house judgement)."""


@dataclass(frozen=True, slots=True)
class Opening:
    """A window for a move, and what has to be lifted for it.

    Attributes:
        cost: of the reliefs, with the price of hurrying where little time is left.
        had, has: the hand's longest time between two plucks there, before and after.
    """

    want: Want
    reliefs: tuple[Relief, ...]
    cost: Cost
    had: Microseconds
    has: Microseconds


class Openings:
    """Finds the windows of one harp's left hand."""

    def __init__(self, work: HandsAtWork, problem: LeverProblem, terms: Terms) -> None:
        self._work = work
        self._problem = problem
        self._player = terms.player
        self._times = [grasp.time for grasp in work.left]
        self._ends = list(accumulate((grasp.until for grasp in work.left), max))

    def cheapest(self, want: Want) -> Opening | None:
        """The cheapest window, lifting the fewest moments; None where there is none."""
        numbers = self._player.left
        if numbers is None:
            return None
        found = list(self._openings(want, numbers))
        return min(found, key=lambda o: (o.cost, len(o.reliefs)), default=None)

    def _openings(self, want: Want, numbers: LeverHand) -> Iterator[Opening]:
        prices = self._problem.prices
        first = bisect_left(self._times, want.opens)
        last = bisect_right(self._times, want.closes)
        for before in range(max(first - MOST_MOMENTS, 0), last + 1):
            reliefs: list[Relief] = []
            for after in range(before, min(before + MOST_MOMENTS, len(self._times)) + 1):
                if after > before:
                    relief = self._work.relief(self._times[after - 1])
                    if relief is None:
                        break
                    reliefs.append(relief)
                slack = self._slack(want, (before, after), numbers)
                if slack < 0:
                    continue
                cost = sum(relief.price for relief in reliefs)
                cost += prices.hurried if slack < prices.hurried_below else 0
                had, has = self._times_free(before, after)
                if not reliefs or self._work.rings_on(reliefs):
                    yield Opening(want, tuple(reliefs), cost, had, has)
                if slack >= prices.hurried_below:
                    break

    def _slack(self, want: Want, ends: tuple[int, int], numbers: LeverHand) -> Microseconds:
        """Time left in the window between two grasps, those between them lifted; -1: none."""
        before, after = ends
        reach = self._player.reach_of(REACH_OCTAVES[self._problem.strings[want.string].reach])
        move = microseconds(numbers.move_s)
        opens = self._ends[before - 1] if before else BEFORE_THE_PIECE
        opens += microseconds(numbers.away_s * reach) + MARGIN
        closes = want.closes + AFTER_THE_PIECE
        if after < len(self._times):
            closes = self._times[after] - microseconds(numbers.back_s * reach) - MARGIN
            if self._work.left[after].notes >= 3:
                closes -= microseconds(self._player.chord_back_s)
        earliest = max(opens, want.opens) + move
        places = self._work.places
        place = bisect_left(places, earliest)
        if place == len(places) or places[place] > min(closes, want.closes):
            return -1
        return closes - opens - move

    def _times_free(self, before: int, after: int) -> tuple[Microseconds, Microseconds]:
        """The longest time between two plucks there, and that with all between lifted."""
        left = [self._ends[i - 1] if i else BEFORE_THE_PIECE for i in range(before, after + 1)]
        right = [
            self._times[i] if i < len(self._times) else self._ends[-1] + AFTER_THE_PIECE
            for i in range(before, after + 1)
        ]
        return max(b - a for a, b in zip(left, right, strict=True)), right[-1] - left[0]
