"""Windows for a lever move that open when moments of the left hand are lifted."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
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
        hurry: the price of hurrying, where little time is left.
        had, has: the longest time for which the hand is free while the string is quiet, before
            and after.
    """

    want: Want
    reliefs: tuple[Relief, ...]
    hurry: Cost
    had: Microseconds
    has: Microseconds

    @property
    def cost(self) -> Cost:
        """Of the reliefs and of hurrying."""
        return sum(relief.price for relief in self.reliefs) + self.hurry

    def without(self, unused: set[Relief]) -> "Opening":
        """The opening with fewer moments lifted."""
        return replace(self, reliefs=tuple(r for r in self.reliefs if r not in unused))


class Openings:
    """Finds the windows of one harp's left hand."""

    def __init__(self, work: HandsAtWork, problem: LeverProblem, terms: Terms) -> None:
        self._work = work
        self._problem = problem
        self._player = terms.player
        reaches = [terms.player.reach_of(octave) for octave in REACH_OCTAVES]
        left = terms.player.left
        self._away = [microseconds(left.away_s * reach) for reach in reaches] if left else []
        self._back = [microseconds(left.back_s * reach) for reach in reaches] if left else []
        self._placing = microseconds(terms.player.chord_back_s)
        self._times = [grasp.time for grasp in work.left]
        self._ends = list(accumulate((grasp.until for grasp in work.left), max))

    def cheapest(self, want: Want, *, gives_up: bool = False) -> Opening | None:
        """The cheapest window, lifting the fewest moments; None where there is none.

        *gives_up*: light notes of the accompaniment may go for it.
        """
        numbers = self._player.left
        if numbers is None:
            return None
        found = list(self._openings(want, numbers, gives_up=gives_up))
        return min(found, key=lambda o: (o.cost, len(o.reliefs)), default=None)

    def _openings(self, want: Want, numbers: LeverHand, *, gives_up: bool) -> Iterator[Opening]:
        prices = self._problem.prices
        first = bisect_left(self._times, want.opens)
        last = bisect_right(self._times, want.closes)
        for before in range(max(first - MOST_MOMENTS, 0), last + 1):
            reliefs: list[Relief] = []
            for after in range(before, min(before + MOST_MOMENTS, len(self._times)) + 1):
                if after > before:
                    relief = self._work.relief(self._times[after - 1], gives_up=gives_up)
                    if relief is None:
                        break
                    reliefs.append(relief)
                slack = self._slack(want, (before, after), numbers)
                if slack < 0:
                    continue
                hurry = prices.hurried if slack < prices.hurried_below else 0
                had, has = self._times_free(want, before, after)
                if not reliefs or self._work.rings_on(reliefs):
                    yield Opening(want, tuple(reliefs), hurry, had, has)
                if slack >= prices.hurried_below:
                    break

    def _slack(self, want: Want, ends: tuple[int, int], numbers: LeverHand) -> Microseconds:
        """Time left in the window between two grasps, those between them lifted; -1: none."""
        before, after = ends
        move = microseconds(numbers.move_s)
        opens = self._opens(before, want.string)
        closes = self._closes(after, want.string)
        places = self._work.places
        place = bisect_left(places, max(opens, want.opens) + move)
        if place == len(places) or places[place] > min(closes, want.closes):
            return -1
        return closes - opens - move

    def _opens(self, before: int, string: int) -> Microseconds:
        """When the hand is at the lever at the soonest, after all grasps before this place."""
        left = self._ends[before - 1] if before else BEFORE_THE_PIECE
        return left + self._away[self._problem.strings[string].reach] + MARGIN

    def _closes(self, after: int, string: int) -> Microseconds:
        """When the hand leaves the lever at the latest, for the grasp at this place."""
        if after == len(self._times):
            return self._work.places[-1] + AFTER_THE_PIECE
        back = self._back[self._problem.strings[string].reach] + MARGIN
        if self._work.left[after].notes >= 3:
            back += self._placing
        return self._times[after] - back

    def used(
        self, reliefs: Iterable[Relief], moves: Iterable[tuple[int, Microseconds]]
    ) -> set[Relief]:
        """The reliefs without which one of the left hand's *moves* were hurried or impossible."""
        numbers = self._player.left
        if numbers is None:
            return set()
        lifted = {time: r for r in reliefs for time in self._work.times(r)}
        kept = [i for i, time in enumerate(self._times) if time not in lifted]
        kept_times = [self._times[i] for i in kept]
        found: set[Relief] = set()
        for move in moves:
            place = bisect_left(kept_times, move[1])
            before = kept[place - 1] + 1 if place else 0
            after = kept[place] if place < len(kept) else len(self._times)
            stands = self._ease(move, (before, after), numbers)
            for between in range(before, after):
                is_earlier = self._times[between] < move[1]
                ends = (between + 1, after) if is_earlier else (before, between)
                if self._ease(move, ends, numbers) < stands:
                    found.add(lifted[self._times[between]])
        return found

    def _ease(
        self, move: tuple[int, Microseconds], ends: tuple[int, int], numbers: LeverHand
    ) -> int:
        """How a move fares between two grasps: 0 impossible, 1 hurried, 2 at ease."""
        string, moment = move
        length = microseconds(numbers.move_s)
        opens = self._opens(ends[0], string)
        closes = self._closes(ends[1], string)
        if not opens + length <= moment <= closes:
            return 0
        return 1 if closes - opens - length < self._problem.prices.hurried_below else 2

    def _times_free(
        self, want: Want, before: int, after: int
    ) -> tuple[Microseconds, Microseconds]:
        """The longest free time while the string is quiet, and that with all lifted.

        Where that is no longer, the hand need not be back so soon: until then it is.
        """
        last = self._ends[-1] if self._ends else self._work.places[-1]
        left = [self._ends[i - 1] if i else BEFORE_THE_PIECE for i in range(before, after + 1)]
        right = [
            self._times[i] if i < len(self._times) else last + AFTER_THE_PIECE
            for i in range(before, after + 1)
        ]
        *times, has = [
            max(min(end, want.closes) - max(begin, want.opens), 0)
            for begin, end in zip((*left, left[0]), (*right, right[-1]), strict=True)
        ]
        had = max(times)
        return had, has if has > had else right[-1] - max(left[0], want.opens)
