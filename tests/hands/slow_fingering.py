"""The cheapest fingering by trying everything; shares the price table with the engine, no code."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, pairwise

from arrange.hands.fingering.prices import AT_EASE, CROSSING_REACH, PRICES
from arrange.hands.fingering.search import Step
from arrange.hands.player import Grip

Fingers = dict[int, int]
"""Finger to string."""


@dataclass(frozen=True)
class SlowHand:
    """A hand that tries everything."""

    grip: Grip

    def cheapest(self, row: list[Step]) -> int:
        """The price of the cheapest fingering of a row, all of which can be held."""
        return min(self._tries(row, 0, {}, {}))

    def _tries(self, row: list[Step], at: int, placed: Fingers, last: Fingers) -> Iterator[int]:
        """The price of every way to play the handfuls from *at* on.

        The shape of the placing that stands is paid when it is left.
        """
        if at == len(row):
            yield self.shape(placed)
            return
        step = row[at]
        for hold in self.holds(step):
            plucking = self.plucking(hold, step)
            for now, cost in self._ways(step, hold, placed, last, is_first=at == 0):
                for rest in self._tries(row, at + 1, now, hold):
                    yield plucking + cost + rest

    def holds(self, step: Step) -> Iterator[Fingers]:
        """Every way to put four fingers on the strings."""
        pluckings = step.pluckings
        for chosen in combinations((1, 2, 3, 4), len(pluckings.lines)):
            hold = dict(zip(chosen, pluckings.lines[::-1], strict=True))
            asked = zip(pluckings.wanted, chosen[::-1], strict=True)
            if all(wanted in (0, finger) for wanted, finger in asked):
                yield hold

    def _ways(
        self, step: Step, hold: Fingers, placed: Fingers, last: Fingers, *, is_first: bool
    ) -> Iterator[tuple[Fingers, int]]:
        begun = 0 if step.is_on_beat else PRICES.off_beat
        begun += self.shape(placed) + (PRICES.lonely if len(placed) == 1 else 0)
        if is_first or step.is_fresh:
            yield hold, begun + PRICES.placing
            return
        yield from self._within(step, hold, placed, last)
        crossing = self._crossing(hold, last)
        if crossing is not None:
            yield hold, begun + crossing
            return
        moved = self.distance(placed, hold) * PRICES.distance[step.haste]
        if any(placed.get(finger) == line for finger, line in hold.items()):
            yield hold, begun + moved + PRICES.held[step.haste]
            return
        yield hold, begun + moved + PRICES.jump[step.haste]
        if len(hold) == len(last) == 1 and not hold.keys() & last.keys():
            both = {**hold, **last}
            if self.is_held(both):
                yield both, begun + PRICES.held[step.haste]

    def _within(
        self, step: Step, hold: Fingers, placed: Fingers, last: Fingers
    ) -> Iterator[tuple[Fingers, int]]:
        both = {**placed, **hold}
        keeps = all(placed.get(finger, line) == line for finger, line in hold.items())
        if keeps and (both == placed or self.is_held(both)):
            if hold == last:
                yield both, PRICES.again[step.haste]
            else:
                yield both, PRICES.replaced * len(hold.keys() & placed.keys())
        if len(hold) == len(last) == 1 and hold.keys() == last.keys():
            ((finger, line),), (from_line,) = hold.items(), last.values()
            slides = (finger, line - from_line) in ((1, -1), (4, 1))
            if slides and self.is_held(both):
                yield both, PRICES.slide

    def _crossing(self, hold: Fingers, last: Fingers) -> int | None:
        if len(hold) != 1 or len(last) != 1:
            return None
        ((to, line),), ((left, from_line),) = hold.items(), last.items()
        if line == from_line and to != left:
            return PRICES.change
        steps = abs(line - from_line)
        far = PRICES.far * (steps - 1) + PRICES.second * (2 in (to, left))
        if not 0 < steps <= CROSSING_REACH:
            return None
        if left == 1 < to and line > from_line:
            return PRICES.under + far
        return PRICES.over + far if to == 1 < left and line < from_line else None

    def shape(self, placed: Fingers) -> int:
        """What a shape costs; 0 for no fingers."""
        cost = 0
        for high, low in pairwise(sorted(placed)):
            gap = placed[high] - placed[low]
            least, most, limit = self.at_ease(high, low)
            cost += PRICES.bunched * max(least - gap, 0) + PRICES.stretched * max(gap - most, 0)
            cost += PRICES.beyond * max(gap - limit, 0)
        return cost

    def plucking(self, hold: Fingers, step: Step) -> int:
        """What plucking with these fingers at once costs."""
        cost = sum(PRICES.fingers[finger - 1] for finger in hold)
        if 1 not in hold:
            cost += PRICES.thumbless * (len(hold) - 1)
        if not step.pluckings.is_rolled:
            for high, low in pairwise(sorted(hold)):
                most = self.at_ease(high, low)[1]
                cost += PRICES.together * max(hold[high] - hold[low] - most, 0)
        return cost

    def at_ease(self, high: int, low: int) -> tuple[int, int, int]:
        """The gaps at which two fingers are at ease, and the widest."""
        least, most = AT_EASE[high, low]
        widest = max(self.grip.strings, self.grip.rolled_strings) - 1
        wide = self.grip.wide_gap if high == 1 else self.grip.close_gap
        limit = min(wide + self.grip.close_gap * (low - high - 1), widest)
        return least, min(most, limit), limit

    def is_held(self, placed: Fingers) -> bool:
        """Whether fingers fall in order and within their limits."""
        widest = max(self.grip.strings, self.grip.rolled_strings) - 1
        pairs = list(pairwise(sorted(placed)))
        falls = all(
            0 < placed[high] - placed[low] <= self.at_ease(high, low)[2] for high, low in pairs
        )
        return falls and placed[min(placed)] - placed[max(placed)] <= widest

    @staticmethod
    def distance(placed: Fingers, hold: Fingers) -> int:
        """How many strings the hand moves."""
        if len(hold) > 1:
            tops = max(hold.values()) - max(placed.values())
            bottoms = min(hold.values()) - min(placed.values())
            return max(abs(tops), abs(bottoms))
        (high, low), (was_high, was_low) = (max(hold), min(hold)), (max(placed), min(placed))
        top = hold[low] + low - placed[was_low] - was_low
        bottom = hold[high] + high - placed[was_high] - was_high
        return min(abs(top), abs(bottom))
