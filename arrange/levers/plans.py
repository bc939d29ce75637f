"""From the groups' answers to a plan, and what a plan costs."""

from arrange.harp.harp import Position
from arrange.levers.board import Option
from arrange.levers.problem import Cost, LeverProblem, Move, Plan
from arrange.levers.schedule import Job
from arrange.levers.search import Found, Groups
from arrange.units import Microseconds


def plan_of(groups: Groups, found: Found) -> Plan:
    """Return the plan that was found; nothing is proven of it."""
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
