"""When hands are at the strings or at levers, for whoever must turn a page."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from arrange.check import Instructions
from arrange.hands.player import Player
from arrange.score.model import HandName, Score, StaffHand
from arrange.score.performed import Clock
from arrange.score.plucks import plucks, strikes
from arrange.units import SECOND, Microseconds, microseconds

LONG_S = 60.0
"""A hand that plays no more, or not yet, has so much time."""


@dataclass(frozen=True, slots=True)
class TimedMove:
    """A lever move as it is played: when it begins and ends; *index*: the measure of its end."""

    begins: Microseconds
    ends: Microseconds
    index: int
    string: str
    hand: HandName


@dataclass(frozen=True)
class Performance:
    """A score as it is played from the page."""

    score: Score
    player: Player
    instructions: Instructions

    @cached_property
    def clock(self) -> Clock:
        """Its time."""
        return Clock(self.score)

    @cached_property
    def moves(self) -> tuple[TimedMove, ...]:
        """Every lever move, each time that it is played, in order of time."""
        found = []
        for harp in self.instructions.harps:
            for move in harp.moves:
                for place in self.clock.occurrences(move.index):
                    if move.passes and self.clock.passes[place][1] not in move.passes:
                        continue
                    end = self.clock.time(place, move.offset)
                    begin = end - self._length(move.hand)
                    found.append(TimedMove(begin, end, move.index, move.string, move.hand))
        return tuple(sorted(found, key=lambda m: (m.ends, m.string)))

    def _length(self, hand: HandName) -> Microseconds:
        numbers = self.player.left if hand is HandName.LEFT else self.player.right
        return 0 if numbers is None else microseconds(numbers.move_s)

    @cached_property
    def _busy(self) -> list[dict[HandName, list[Microseconds]]]:
        """For each harp, by hand, the moments at which it is needed."""
        found = []
        for staves in self.score.harps:
            moments = self._plucked(staves)
            parts = {s.part for s in staves}
            for harp_moves in self.instructions.harps:
                if any(move.part in parts for move in harp_moves.moves):
                    for move in self.moves:
                        moments[move.hand] += [move.begins, move.ends]
                    break
            found.append({hand: sorted(row) for hand, row in moments.items()})
        return found

    def _plucked(self, staves: tuple[StaffHand, ...]) -> dict[HandName, list[Microseconds]]:
        printed = plucks(self.score, staves)
        moments: dict[HandName, list[Microseconds]] = {hand: [] for hand in HandName}
        for strike in strikes(printed, self.clock):
            moments[printed[strike.pluck].hand].append(strike.time)
        return moments

    def free_s(self, time: Microseconds) -> float:
        """How long the freer hand has around a moment; of several harps, the one with least."""
        return min(
            (max(_gap(row, time) for row in harp.values()) for harp in self._busy),
            default=LONG_S,
        )

    def passages(self) -> Iterator[tuple[int, int, Microseconds]]:
        """Yield each step from a measure to the one played next, and its moment."""
        passes = self.clock.passes
        for (before, _, _), (after, _, time) in pairwise(passes):
            yield before, after, time

    def free_at(self) -> dict[int, float]:
        """For each measure that is reached in order, the least time that a hand has there."""
        found: dict[int, float] = {}
        for before, after, time in self.passages():
            if after == before + 1:
                found[after] = min(self.free_s(time), found.get(after, LONG_S))
        return found


def _gap(moments: list[Microseconds], time: Microseconds) -> float:
    place = bisect_left(moments, time)
    before = moments[place - 1] if place else time - int(LONG_S * SECOND)
    following = bisect_right(moments, time - 1)
    after = moments[following] if following < len(moments) else time + int(LONG_S * SECOND)
    return (after - before) / SECOND
