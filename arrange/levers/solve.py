"""The exact lever planner."""

from arrange.errors import LeverwrightError
from arrange.levers.groups import SCALE
from arrange.levers.problem import Cost, LeverProblem, Move, Plan, Position
from arrange.levers.schedule import Job, Option
from arrange.levers.search import Found, Frontier, Node, Search
from arrange.levers.timetable import Timetable

NODES = 2000
"""How many nodes the search opens before it settles for an honest gap (house judgement)."""


class Infeasible(LeverwrightError):  # noqa: N818 - it names what is wrong
    """No plan exists."""


def solve(
    problem: LeverProblem, *, limit: int = NODES, timetable: Timetable | None = None
) -> Plan:
    """Return the cheapest plan, or the best one found when *limit* nodes did not suffice."""
    search = Search(problem, _fitting(problem, timetable))
    found, bound = _explore(search, limit)
    return _plan(search, found, bound)


def lower_bound(problem: LeverProblem, *, timetable: Timetable | None = None) -> Cost:
    """Return a cost that no plan can undercut: what the groups cost each by itself."""
    bound = Search(problem, _fitting(problem, timetable)).bound(Node())
    if bound is None:
        raise Infeasible("no plan exists for these notes on this harp")
    return bound // SCALE


def _fitting(problem: LeverProblem, timetable: Timetable | None) -> Timetable:
    if timetable is not None and timetable.fits(problem):
        return timetable
    return Timetable(problem.slots, problem.hands, problem.prices)


def _explore(search: Search, limit: int) -> tuple[Found, int]:
    frontier = Frontier()
    root = search.bound(Node())
    if root is None:
        raise Infeasible("no plan exists for these notes on this harp")
    frontier.push(root, Node())
    opened = 0
    while frontier:
        known, node = frontier.pop()
        bound = search.bound(node)
        if bound is None:
            continue
        if bound > known and frontier and bound > frontier.lowest():
            frontier.push(bound, node)
            continue
        opened += 1
        found, nodes = _step(search, node)
        if found is not None:
            return found, min([bound, known, *([frontier.lowest()] if frontier else [])])
        if opened > limit:
            lowest = min([known, *([frontier.lowest()] if frontier else [])])
            return _dive(search, nodes), lowest
        for child in nodes:
            below = search.bound(child)
            if below is not None:
                frontier.push(max(below, known), child)
    raise Infeasible("no plan exists for these notes on this harp")


def _step(search: Search, node: Node) -> tuple[Found | None, list[Node]]:
    """Return the plan that *node* stands for, or the nodes that it splits into."""
    solved = search.solve_groups(node)
    if solved is None:
        return None, []
    choices, disputed = search.agreed(solved)
    if disputed:
        if search.merge(disputed, solved):
            return None, [node]
        return None, search.children(node, disputed, solved)
    placed, clash = search.place(solved)
    if not clash:
        return Found(choices, solved, placed), []
    dearer = search.priced(node, clash)
    return None, [dearer] if dearer is not None else search.banned(node, clash)


def _dive(search: Search, nodes: list[Node]) -> Found:
    """Follow the cheapest branch down to some plan."""
    waiting = list(nodes)
    while waiting:
        bounds = [(search.bound(node), order) for order, node in enumerate(waiting)]
        ranked = sorted((bound, order) for bound, order in bounds if bound is not None)
        if not ranked:
            break
        best = waiting[ranked[0][1]]
        found, children = _step(search, best)
        if found is not None:
            return found
        waiting = children or [node for order, node in enumerate(waiting) if order != ranked[0][1]]
    raise Infeasible("no plan was found within the limit")


def _plan(search: Search, found: Found, bound: int) -> Plan:
    problem = search.problem
    coupling = search.coupling
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
    return Plan(start, tuple(choices), moves, cost, min(cost, max(0, bound // SCALE)))


def _moves(placed: tuple[tuple[Job, Option], ...]) -> tuple[Move, ...]:
    moves = [
        Move(
            job.string,
            Position.UP if job.raised else Position.DOWN,
            option.slot,
            option.hand,
            tuple(place for place in range(option.acts.bit_length()) if option.acts >> place & 1),
            option.slack,
        )
        for job, option in placed
    ]
    moves.sort(key=lambda move: (move.slot, move.string, move.hand, move.acts))
    return tuple(moves)


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
