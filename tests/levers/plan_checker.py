"""Replays a plan pluck by pluck; knows the problem's words only, nothing of the planner."""

from itertools import pairwise

from arrange.harp.harp import Position
from arrange.levers.problem import LeverProblem, Move, Plan


def verify(problem: LeverProblem, plan: Plan) -> list[str]:
    """Return what is wrong with *plan*, nothing where it is sound and costs what it says."""
    replay = _Replay(problem, plan)
    for time, kind, number, _ in _events(problem, plan):
        if kind == 0:
            replay.move(time, number)
        else:
            replay.pluck(time, number)
    return [
        *_start_faults(problem, plan),
        *replay.faults,
        *_hand_faults(problem, plan),
        *_cost_faults(problem, plan),
    ]


class _Replay:
    """The levers and strings, event by event."""

    def __init__(self, problem: LeverProblem, plan: Plan) -> None:
        self.problem = problem
        self.plan = plan
        self.faults: list[str] = []
        self.state = dict(plan.start)
        for string, lever in enumerate(problem.strings):
            if lever.raised_midi is None:
                self.state[string] = Position.DOWN
        self.released = dict.fromkeys(self.state, -(10**15))
        self.plucked = dict.fromkeys(self.state, -(10**15))
        self.moved: set[int] = set()

    def move(self, time: int, number: int) -> None:
        """A move that ends at *time*."""
        move = self.plan.moves[number]
        begin = time - self.problem.hands[move.hand].move
        if self.state[move.string] == move.position:
            self.faults.append(f"move {number} finds its lever there already")
        if begin < self.released[move.string] or time <= self.plucked[move.string]:
            self.faults.append(f"move {number} at {time} touches a locked string")
        if move.string in self.moved:
            self.faults.append(f"move {number} at {time}: the string was moved for nothing")
        self.state[move.string] = move.position
        self.moved.add(move.string)

    def pluck(self, time: int, number: int) -> None:
        """A visit of a printed note, with the choice that the plan made for it."""
        visit = self.problem.visits[number]
        choice = self.plan.choices[visit.note]
        lock = visit.locks[choice]
        for string, position in self.problem.notes[visit.note].choices[choice].demands:
            if self.state[string] != position:
                self.faults.append(f"pluck {number} at {time} finds string {string} wrong")
            same = self.plucked[string] == time
            self.released[string] = max(lock, self.released[string]) if same else lock
            self.plucked[string] = time
            self.moved.discard(string)


def _events(problem: LeverProblem, plan: Plan) -> list[tuple[int, int, int, int]]:
    events = [
        (problem.slots[move.slot].times[place].time, 0, number, place)
        for number, move in enumerate(plan.moves)
        for place in move.acts
    ]
    events += [(visit.time, 1, number, 0) for number, visit in enumerate(problem.visits)]
    return sorted(events)


def _start_faults(problem: LeverProblem, plan: Plan) -> list[str]:
    faults = []
    with_lever = [n for n, one in enumerate(problem.strings) if one.raised_midi is not None]
    if [string for string, _ in plan.start] != with_lever:
        faults.append("the start does not list every lever once, in order")
    start = dict(plan.start)
    for string, position in problem.fixed_start:
        if start.get(string, Position.DOWN) != position:
            faults.append(f"string {string} does not start as it must")
    if len(plan.choices) != len(problem.notes):
        faults.append("not every note has a choice")
    if list(plan.moves) != sorted(plan.moves, key=lambda one: (one.slot, one.string)):
        faults.append("the moves are out of order")
    return faults


def _hand_faults(problem: LeverProblem, plan: Plan) -> list[str]:
    faults = []
    spans = []
    for number, move in enumerate(plan.moves):
        lever = problem.strings[move.string]
        if not lever.movable or lever.raised_midi is None:
            faults.append(f"move {number} moves a lever that cannot move")
        hand = problem.hands[move.hand]
        if lever.reach not in hand.reaches:
            faults.append(f"move {number} is out of reach")
        left = [_left(problem, move, place) for place in move.acts]
        if not left or min(left) < 0 or min(left) != move.slack:
            faults.append(f"move {number} has another slack: {left}, not {move.slack}")
        for place in move.acts:
            end = problem.slots[move.slot].times[place].time
            spans.append((move.hand, end - hand.move, end, number))
    spans.sort()
    for one, other in pairwise(spans):
        if one[0] == other[0] and other[1] < one[2]:
            faults.append(f"moves {one[3]} and {other[3]} want one hand at once")
    return faults


def _left(problem: LeverProblem, move: Move, place: int) -> int:
    reach = problem.strings[move.string].reach
    return problem.slots[move.slot].times[place].slack[move.hand][reach]


def _cost_faults(problem: LeverProblem, plan: Plan) -> list[str]:
    cost = sum(
        note.choices[plan.choices[number]].cost for number, note in enumerate(problem.notes)
    )
    for string, position in plan.start:
        lever = problem.strings[string]
        cost += lever.preset_cost_up if position == "up" else lever.preset_cost_down
    printed = [(one.string, one.position, one.slot, one.hand) for one in plan.moves]
    faults = ["a printed move is listed twice"] if len(set(printed)) < len(printed) else []
    for move in plan.moves:
        cost += problem.prices.move + problem.hands[move.hand].price
        cost += problem.slots[move.slot].price
        hurried = any(
            _left(problem, move, place) < problem.prices.hurried_below for place in move.acts
        )
        cost += problem.prices.hurried if hurried else 0
    if cost != plan.cost:
        faults.append(f"the plan costs {cost}, not {plan.cost}")
    if plan.bound > plan.cost:
        faults.append("the bound lies above the cost")
    return faults
