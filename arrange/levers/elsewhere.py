"""Where else the moves of a plan could lie at the same price."""

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import replace

from arrange.levers.groups import LONG_AGO
from arrange.levers.problem import LeverProblem, Move, Plan
from arrange.levers.timetable import Timetable
from arrange.units import Microseconds

Span = tuple[Microseconds, Microseconds, Microseconds]
"""The last pluck of a string, until when it is locked, and its next pluck."""


class Elsewhere:
    """The other places of a plan's moves.

    Args:
        problem: the question; *plan*: its answer.
    """

    def __init__(self, problem: LeverProblem, plan: Plan) -> None:
        self._problem = problem
        self._timetable = Timetable(problem.slots, problem.hands, problem.prices)
        self._plucks: dict[int, dict[Microseconds, Microseconds]] = {}
        for visit in problem.visits:
            choice = plan.choices[visit.note]
            for string, _ in problem.notes[visit.note].choices[choice].demands:
                locks = self._plucks.setdefault(string, {})
                lock = visit.locks[choice]
                locks[visit.time] = max(lock, locks.get(visit.time, lock))
        self._times = {string: sorted(locks) for string, locks in self._plucks.items()}

    def needed(self, move: Move) -> Microseconds:
        """Return when the string of *move* is plucked next, the first time that it acts."""
        return self._spans(move)[0][2]

    def places(self, move: Move) -> Iterator[Move]:
        """Yield *move* at every place, by whichever hand, where it serves as well and costs no
        more; itself among them.
        """
        spans = self._spans(move)
        reach = self._problem.strings[move.string].reach
        moments = sum(1 << act for act in move.acts)
        cost = self._timetable.price(move.slot, reach, move.hand, moments)
        struck, _, until = spans[0]
        for slot in dict.fromkeys(slot for _, slot, _ in self._timetable.between(struck, until)):
            for hand in range(len(self._problem.hands)):
                acts = self._acts(slot, hand, reach, spans)
                price = self._timetable.price(slot, reach, hand, acts) if acts else None
                if price is not None and cost is not None and price <= cost:
                    yield replace(
                        move,
                        slot=slot,
                        hand=hand,
                        acts=tuple(p for p in range(acts.bit_length()) if acts >> p & 1),
                        slack=self._timetable.least_slack(slot, reach, hand, acts),
                    )

    def _spans(self, move: Move) -> list[Span]:
        moments = self._problem.slots[move.slot].times
        return [self._span(move.string, moments[act].time) for act in move.acts]

    def _span(self, string: int, time: Microseconds) -> Span:
        times = self._times[string]
        place = bisect_left(times, time)
        if place == 0:
            return LONG_AGO, LONG_AGO, times[0]
        return times[place - 1], self._plucks[string][times[place - 1]], times[place]

    def _acts(self, slot: int, hand: int, reach: int, spans: list[Span]) -> int:
        """Return the moments of *slot* that serve *spans*, 0 where one is not served."""
        acts = 0
        length = self._problem.hands[hand].move
        slack = self._timetable.slack(slot, reach)
        for struck, locked, until in spans:
            serving = [
                place
                for place, moment in enumerate(self._problem.slots[slot].times)
                if max(struck + 1, locked + length) <= moment.time <= until
                and slack[place][hand] >= 0
            ]
            if not serving:
                return 0
            acts |= 1 << serving[-1]
        return acts
