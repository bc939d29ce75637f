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
small groups, each planned exactly by itself (``chain`` without repeats, ``passes`` with them,
``standing`` where nobody can ever move a lever).
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

from arrange.levers.branching import explored
from arrange.levers.groups import NEVER, whole
from arrange.levers.improving import improved
from arrange.levers.infeasible import Infeasible, infeasible
from arrange.levers.nodes import Frontier, Node
from arrange.levers.plans import plan_cost, plan_of
from arrange.levers.problem import Cost, LeverProblem, Plan
from arrange.levers.search import Found, Groups
from arrange.levers.timetable import Timetable

__all__ = ["EFFORT", "Infeasible", "Prospect", "lower_bound", "plan_cost", "solve"]

EFFORT = 150_000
"""How many states the search works through before it settles for an honest gap (house
judgement: a second or two)."""

A_NODE = 200
"""What opening a node counts for, in states."""


HASTY_STATES = 32
"""How many states a group's program may keep when the effort is spent."""

STARTS = 5
"""From so many waiting nodes the search goes straight down when its effort is spent."""

MOST_STATES = 1_000
"""How many states a group's program may keep at a time (house judgement)."""


class Prospect:
    """A question on the way to its plan: first what it costs at least, then the plan.

    Args:
        problem: what to plan.
        timetable: the problem's slots, where the caller has them ready from another key.
    """

    def __init__(self, problem: LeverProblem, timetable: Timetable | None = None) -> None:
        self.problem = problem
        self._timetable = _fitting(problem, timetable)
        self._groups = Groups(problem, self._timetable, MOST_STATES)

    def bound(self) -> Cost:
        """Return a cost that no plan can undercut: what the groups cost each by itself."""
        bound = self._groups.bound(Node())
        if bound is None:
            raise infeasible(self.problem, lambda shorter: self._has_plan(shorter, EFFORT))
        return whole(bound)

    def plan(self, limit: int = EFFORT) -> Plan:
        """Return the cheapest plan, or the best one found when *limit* did not suffice.

        *limit* is how many states may be worked through; a plan is found in any case.
        """
        plan = _Exploration(self._groups).plan(limit)
        if plan is None:
            raise infeasible(self.problem, lambda shorter: self._has_plan(shorter, limit))
        return plan

    def _has_plan(self, shorter: LeverProblem, limit: int) -> bool:
        groups = Groups(shorter, self._timetable, MOST_STATES)
        return _Exploration(groups).plan(limit) is not None


def solve(
    problem: LeverProblem, *, limit: int = EFFORT, timetable: Timetable | None = None
) -> Plan:
    """Return the plan of a problem; see ``Prospect``."""
    return Prospect(problem, timetable).plan(limit)


def lower_bound(problem: LeverProblem, *, timetable: Timetable | None = None) -> Cost:
    """Return a cost that no plan can undercut."""
    return Prospect(problem, timetable).bound()


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
        self._found: Found | None = None
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
        until = self.groups.visited + limit // 2
        best, *others = self.frontier.some(STARTS)
        self._dive(best, until, is_hasty=True)
        until = max(until, self.groups.visited + limit // 4)
        self._dive(best, until, is_hasty=False)
        starts = deque(others)
        while starts and self.groups.visited < until:
            starts.extend(self._dive(starts.popleft(), until, is_hasty=True))
        if self.best is not None and self._found is not None:
            gap = self.best.cost - self.frontier.lowest()
            in_pairs = gap > self.groups.problem.prices.hurried
            self._keep(improved(self.groups, self._found, until + limit, in_pairs=in_pairs))

    def _dive(self, node: Node, until: int, *, is_hasty: bool) -> list[Node]:
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
            found, nodes = explored(self.groups, nodes[ranked[0][1]], is_hasty=is_hasty)
            if found is not None:
                self._keep(found)
                break
        return passed

    def _keep(self, found: Found) -> None:
        plan = plan_of(self.groups, found)
        if self.best is None or plan.cost < self.best.cost:
            self.best, self._found = plan, found
