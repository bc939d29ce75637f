"""Why a plan is as it is: for each move its window, for each repair what it spares."""

from bisect import bisect_left
from dataclasses import dataclass

from arrange.levers.groups import LONG_AGO, whole
from arrange.levers.nodes import Node
from arrange.levers.problem import Cost, LeverProblem, Move, Plan
from arrange.levers.search import Groups
from arrange.levers.timetable import Timetable
from arrange.units import SECOND, Microseconds

MOST_STATES = 1000
"""How many states a question about a repair may keep (house judgement)."""

Span = tuple[Microseconds, Microseconds, Microseconds]
"""The last pluck of a string, until when it rings, and its next pluck."""


@dataclass(frozen=True, slots=True)
class MoveReason:
    """Why a move lies where it does.

    Attributes:
        move: index in the plan's moves.
        released: from when the string may be touched, None where it was not plucked before;
            *needed*: when it is plucked next.
        places: how many printed places would serve, this one included.
        cost: what the move costs; *next_best*: what the cheapest other place or hand would.
        words: a clause for the reader.
    """

    move: int
    released: Microseconds | None
    needed: Microseconds
    places: int
    cost: Cost
    next_best: Cost | None
    words: str


@dataclass(frozen=True, slots=True)
class ChoiceReason:
    """Why a note is not taken as it is.

    Attributes:
        note: index in the problem's notes; *choice*: what is taken.
        cost: what that costs by itself.
        instead: what the whole plan would cost at least with the note as it is, None where
            that cannot be had.
        words: a clause for the reader.
    """

    note: int
    choice: int
    cost: Cost
    instead: Cost | None
    words: str


def reasons(
    problem: LeverProblem, plan: Plan
) -> tuple[tuple[MoveReason, ...], tuple[ChoiceReason, ...]]:
    """Return why each move lies where it does, and why each repair is made."""
    timetable = Timetable(problem.slots, problem.hands, problem.prices)
    moves = _MoveReasons(problem, plan, timetable)
    groups = Groups(problem, timetable, MOST_STATES)
    return (
        tuple(moves.reason(number) for number in range(len(plan.moves))),
        tuple(
            _choice_reason(groups, plan, note, choice)
            for note, choice in enumerate(plan.choices)
            if choice
        ),
    )


def _choice_reason(groups: Groups, plan: Plan, note: int, choice: int) -> ChoiceReason:
    taken = groups.problem.notes[note].choices[choice]
    root = Node()
    as_it_is = root.allowing(note, (0,), groups.strings_of(note, root))
    bound = groups.bound(as_it_is)
    if bound is None:
        words = "as it is, no position of its lever can be had in time"
        return ChoiceReason(note, choice, taken.cost, None, words)
    instead = whole(bound)
    if instead > plan.cost:
        words = f"as it is, the plan would cost {_moves(instead - plan.cost)} more at least"
    else:
        words = "as it is, the hands have no time for the moves that it takes with the others"
    return ChoiceReason(note, choice, taken.cost, instead, words)


def _moves(cost: Cost) -> str:
    return f"the price of {cost / 100:g} move{'' if cost == 100 else 's'}"


class _MoveReasons:
    """Looks at the places that each move could have taken."""

    def __init__(self, problem: LeverProblem, plan: Plan, timetable: Timetable) -> None:
        self._problem = problem
        self._plan = plan
        self._timetable = timetable
        self._plucks: dict[int, dict[Microseconds, Microseconds]] = {}
        for visit in problem.visits:
            choice = plan.choices[visit.note]
            for string, _ in problem.notes[visit.note].choices[choice].demands:
                locks = self._plucks.setdefault(string, {})
                lock = visit.locks[choice]
                locks[visit.time] = max(lock, locks.get(visit.time, lock))
        self._times = {string: sorted(locks) for string, locks in self._plucks.items()}

    def reason(self, number: int) -> MoveReason:
        move = self._plan.moves[number]
        moments = self._problem.slots[move.slot].times
        spans = [self._span(move.string, moments[place].time) for place in move.acts]
        prices = self._prices(move, spans)
        cost = prices.pop((move.slot, move.hand))
        struck, ringing, needed = spans[0]
        places = len({slot for slot, _ in prices} | {move.slot})
        next_best = min(prices.values(), default=None)
        return MoveReason(
            number,
            None if struck == LONG_AGO else ringing,
            needed,
            places,
            cost,
            next_best,
            self._words(move, places, cost, next_best),
        )

    def _words(self, move: Move, places: int, cost: Cost, next_best: Cost | None) -> str:
        hand = self._problem.hands[move.hand].name
        left = f"{move.slack / SECOND:.1f} s"
        string = self._problem.strings[move.string].name
        if places == 1:
            ease = f"the only place for it before {string} is plucked again"
        elif next_best is not None and next_best > cost:
            ease = f"the cheapest of {places} places before {string} is plucked again"
        else:
            ease = f"the most restful of {places} places before {string} is plucked again"
        return f"the {hand} hand is free here, with {left} to spare: {ease}"

    def _span(self, string: int, time: Microseconds) -> Span:
        times = self._times[string]
        place = bisect_left(times, time)
        if place == 0:
            return LONG_AGO, LONG_AGO, times[0]
        return times[place - 1], self._plucks[string][times[place - 1]], times[place]

    def _prices(self, move: Move, spans: list[Span]) -> dict[tuple[int, int], Cost]:
        """Return for each slot and hand that serves all *spans* what the move costs there."""
        struck, _, until = spans[0]
        slots = dict.fromkeys(slot for _, slot, _ in self._timetable.between(struck, until))
        reach = self._problem.strings[move.string].reach
        found = {}
        for slot in slots:
            for hand in range(len(self._problem.hands)):
                acts = self._acts(slot, hand, reach, spans)
                price = self._timetable.price(slot, reach, hand, acts) if acts else None
                if price is not None:
                    found[slot, hand] = price
        return found

    def _acts(self, slot: int, hand: int, reach: int, spans: list[Span]) -> int:
        """Return the moments of *slot* that serve *spans*, 0 where one is not served."""
        acts = 0
        length = self._problem.hands[hand].move
        slack = self._timetable.slack(slot, reach)
        for struck, ringing, until in spans:
            serving = [
                place
                for place, moment in enumerate(self._problem.slots[slot].times)
                if max(struck + 1, ringing + length) <= moment.time <= until
                and slack[place][hand] >= 0
            ]
            if not serving:
                return 0
            acts |= 1 << serving[-1]
        return acts
