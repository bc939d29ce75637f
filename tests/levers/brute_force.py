"""Every choice and every set of printed moves tried; knows nothing of the planner."""

from itertools import combinations, product

from plan_checker import verify

from arrange.harp.harp import Position
from arrange.levers.problem import LeverProblem, Move, Plan

MOST_MOVES = 3


def least_cost(problem: LeverProblem) -> int | None:
    """The least cost of any plan with at most ``MOST_MOVES`` printed moves; None without one."""
    moves = [*_moves(problem)]
    best: int | None = None
    for start in _starts(problem):
        for choices in product(*(range(len(note.choices)) for note in problem.notes)):
            for count in range(MOST_MOVES + 1):
                for chosen in combinations(moves, count):
                    plan = Plan(start, choices, chosen, _cost(problem, start, choices, chosen), 0)
                    if (best is None or plan.cost < best) and not verify(problem, plan):
                        best = plan.cost
    return best


def _starts(problem: LeverProblem) -> list[tuple[tuple[int, Position], ...]]:
    pinned = dict(problem.fixed_start)
    options = [
        [(i, position) for position in Position if pinned.get(i, position) is position]
        for i, string in enumerate(problem.strings)
        if string.raised_midi is not None
    ]
    return [tuple(start) for start in product(*options)]


def _moves(problem: LeverProblem) -> list[Move]:
    found = []
    for i, string in enumerate(problem.strings):
        if string.raised_midi is None or not string.movable:
            continue
        for s, slot in enumerate(problem.slots):
            for h, hand in enumerate(problem.hands):
                if string.reach not in hand.reaches:
                    continue
                free = [k for k, m in enumerate(slot.times) if m.slack[h][string.reach] >= 0]
                for size in range(1, len(free) + 1):
                    for acts in combinations(free, size):
                        slack = min(slot.times[k].slack[h][string.reach] for k in acts)
                        found += [Move(i, position, s, h, acts, slack) for position in Position]
    return found


def _cost(
    problem: LeverProblem,
    start: tuple[tuple[int, Position], ...],
    choices: tuple[int, ...],
    moves: tuple[Move, ...],
) -> int:
    prices = problem.prices
    total = sum(
        note.choices[choice].cost for note, choice in zip(problem.notes, choices, strict=True)
    )
    for i, position in start:
        string = problem.strings[i]
        is_up = position is Position.UP
        total += string.preset_cost_up if is_up else string.preset_cost_down
    for move in moves:
        total += prices.move + problem.hands[move.hand].price + problem.slots[move.slot].price
        total += prices.hurried if move.slack < prices.hurried_below else 0
    return total
