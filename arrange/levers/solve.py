"""The exact lever planner.

Given: strings with a start to choose; printed notes with choices, each asking that some
strings stand down or up at every performed pluck of the note; printed slots with performed
moments; hands. Sought: one choice a note, a start a string, and printed moves (string,
position, slot, hand, moments at which they act), such that

* every pluck finds its strings as its choice asks;
* between two plucks of a string in different positions, in performed order, its lever is
  moved once, at a moment m with the lock of the earlier pluck <= m - the hand's move, m later
  than that pluck and no later than the next, where the hand is free and reaches it;
* no hand makes two moves at once: its moments lie at least its move apart;
* the cost is least: choices, starts, and each printed move once however many passes it acts in.

How: strings that nothing asks to move are settled at once (``coupling``). The others form
small groups, each planned exactly by itself (``chain`` without repeats, ``passes`` with them).
The sum of their optima bounds the whole from below. Where groups agree about their notes and
all moves find a hand (``schedule``), the bound is met, which is the proof. Where not, prices
are shifted or the question is split (``branching``), the lowest bound first, so the first plan
that meets the lowest bound is optimal. When the effort is spent, the search goes straight down
to plans, and the bound that stands is reported beside the cost.

Of equally cheap plans, the search prefers fewer moves, then earlier choices, then levers down;
a move takes, of equally cheap places, the one with most slack, then the earliest. These are
preferences: they are kept within a group where it is planned in full, and given up where hands
or proofs are short. Results depend on the problem only: no clock, no chance.
"""

from collections import deque
from dataclasses import replace

from arrange.harp.harp import Position
from arrange.levers.branching import Found, explored
from arrange.levers.groups import NEVER, whole
from arrange.levers.infeasible import Infeasible, infeasible
from arrange.levers.nodes import Frontier, Node
from arrange.levers.problem import Cost, LeverProblem, Move, Plan
from arrange.levers.schedule import Job, Option
from arrange.levers.search import Groups
from arrange.levers.timetable import Timetable
from arrange.units import Microseconds

__all__ = ["EFFORT", "Infeasible", "lower_bound", "plan_cost", "solve"]

EFFORT = 150_000
"""How many states the search works through before it settles for an honest gap (house
judgement: a second or two)."""

A_NODE = 200
"""What opening a node counts for, in states."""


HASTY_STATES = 50
"""How many states a group's program may keep when the effort is spent."""

STARTS = 5
"""From so many waiting nodes the search goes straight down when its effort is spent."""

MOST_STATES = 1_000
"""How many states a group's program may keep at a time (house judgement)."""


def solve(
    problem: LeverProblem, *, limit: int = EFFORT, timetable: Timetable | None = None
) -> Plan:
    """Return the cheapest plan, or the best one found when *limit* did not suffice.

    Args:
        problem: what to plan.
        limit: how many states may be worked through; a plan is found in any case.
        timetable: the problem's slots, where the caller has them ready from another key.
    """
    ready = _fitting(problem, timetable)
    plan = _Exploration(Groups(problem, ready, MOST_STATES)).plan(limit)
    if plan is None:
        raise infeasible(problem, lambda shorter: _has_plan(shorter, ready, limit))
    return plan


def _has_plan(problem: LeverProblem, timetable: Timetable, limit: int) -> bool:
    return _Exploration(Groups(problem, timetable, MOST_STATES)).plan(limit) is not None


def lower_bound(problem: LeverProblem, *, timetable: Timetable | None = None) -> Cost:
    """Return a cost that no plan can undercut: what the groups cost each by itself."""
    ready = _fitting(problem, timetable)
    bound = Groups(problem, ready, MOST_STATES).bound(Node())
    if bound is None:
        raise infeasible(problem, lambda shorter: _has_plan(shorter, ready, EFFORT))
    return whole(bound)


def _fitting(problem: LeverProblem, timetable: Timetable | None) -> Timetable:
    if timetable is not None and timetable.fits(problem):
        return timetable
    return Timetable(problem.slots, problem.hands, problem.prices)


class _Exploration:
    """The search for one problem's plan.

    Attributes:
        best: the best plan so far; *settled*: the least bound of what was not looked into.
    """

    def __init__(self, groups: Groups) -> None:
        self.groups = groups
        self.frontier = Frontier()
        self.best: Plan | None = None
        self.settled = NEVER
        self._seen: set[tuple[object, ...]] = set()

    def plan(self, limit: int) -> Plan | None:
        """Return the plan, None where there is none."""
        self._push(0, [Node()])
        while self.frontier and not self._is_proven():
            known, node = self.frontier.pop()
            bound = self.groups.bound(node)
            if bound is None:
                continue
            bound = max(known, bound)
            if whole(bound) > max(whole(known), self.frontier.lowest()):
                self.frontier.push(bound, node)
                continue
            if self.groups.visited > limit:
                self.frontier.push(bound, node)
                break
            self.groups.visited += A_NODE
            self._open(bound, node)
        if self.frontier and not self._is_proven():
            self.groups.most_states = HASTY_STATES
            self._dive_often(limit)
        if self.best is None:
            return None
        least = min(self.frontier.lowest(), self.settled)
        return replace(self.best, bound=max(0, min(self.best.cost, least)))

    def _is_proven(self) -> bool:
        return self.best is not None and self.frontier.lowest() >= self.best.cost

    def _push(self, known: int, nodes: list[Node]) -> None:
        for node in reversed(nodes):
            if len(nodes) > 1:
                region = node.region
                if region in self._seen:
                    continue
                self._seen.add(region)
            bound = self.groups.bound(node)
            if bound is not None:
                self.frontier.push(max(bound, known), node)

    def _open(self, bound: int, node: Node) -> None:
        found, nodes = explored(self.groups, node)
        if found is not None:
            self._keep(found)
            if not nodes:
                self.settled = min(self.settled, whole(bound))
        self._push(bound, nodes)

    def _dive_often(self, limit: int) -> None:
        """Follow cheap branches down to plans: first the cheapest, then with one detour."""
        starts = deque(self.frontier.some(STARTS))
        until = self.groups.visited + limit // 2
        while starts and (self.best is None or self.groups.visited < until):
            starts.extend(self._dive(starts.popleft(), until))

    def _dive(self, node: Node, until: int) -> list[Node]:
        """Follow the cheapest branch down to a plan; return what was passed by on the way."""
        passed: list[Node] = []
        nodes = [node]
        while nodes and (self.best is None or self.groups.visited < until):
            bounds = [(self.groups.bound(one), order) for order, one in enumerate(nodes)]
            ranked = sorted(
                (bound, order)
                for bound, order in bounds
                if bound is not None and (self.best is None or whole(bound) < self.best.cost)
            )
            if not ranked:
                break
            passed.extend(nodes[order] for _, order in ranked[1:])
            self.groups.visited += A_NODE
            found, nodes = explored(
                self.groups, nodes[ranked[0][1]], is_hasty=self.best is not None
            )
            if found is not None:
                self._keep(found)
                break
        return passed

    def _keep(self, found: Found) -> None:
        plan = _plan(self.groups, found)
        if self.best is None or plan.cost < self.best.cost:
            self.best = plan


def _plan(groups: Groups, found: Found) -> Plan:
    problem = groups.problem
    coupling = groups.coupling
    choices = [0] * len(problem.notes)
    for note, choice in (*coupling.settled.items(), *found.choices.items()):
        choices[note] = choice
    raised = [bit == 2 for bit in coupling.still]
    for solved in found.solved:
        for bit, string in enumerate(solved.group.strings):
            raised[string] = bool(solved.answer.start >> bit & 1)
    start = tuple(
        (string, Position.UP if raised[string] else Position.DOWN)
        for string, lever in enumerate(problem.strings)
        if lever.raised_midi is not None
    )
    moves = _moves(found.placed)
    cost = plan_cost(problem, start, tuple(choices), moves)
    return Plan(start, tuple(choices), moves, cost, 0)


def _moves(placed: tuple[tuple[Job, Option], ...]) -> tuple[Move, ...]:
    """Return the printed moves; what comes to the same printed move is one."""
    printed: dict[tuple[int, int, int, int], tuple[int, Microseconds]] = {}
    for job, option in placed:
        key = (option.slot, job.string, option.hand, job.raised)
        acts, slack = printed.get(key, (0, option.slack))
        printed[key] = (acts | option.acts, min(slack, option.slack))
    return tuple(
        Move(
            string,
            Position.UP if raised else Position.DOWN,
            slot,
            hand,
            tuple(place for place in range(acts.bit_length()) if acts >> place & 1),
            slack,
        )
        for (slot, string, hand, raised), (acts, slack) in sorted(printed.items())
    )


def plan_cost(
    problem: LeverProblem,
    start: tuple[tuple[int, Position], ...],
    choices: tuple[int, ...],
    moves: tuple[Move, ...],
) -> Cost:
    """Return what a plan costs."""
    prices = problem.prices
    total = sum(
        note.choices[choice].cost for note, choice in zip(problem.notes, choices, strict=True)
    )
    for string, position in start:
        lever = problem.strings[string]
        up = position is Position.UP
        total += lever.preset_cost_up if up else lever.preset_cost_down
    for move in moves:
        total += prices.move + problem.hands[move.hand].price + problem.slots[move.slot].price
        total += prices.hurried if move.slack < prices.hurried_below else 0
    return total
