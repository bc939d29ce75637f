"""Moves at the same place in parallel passages, where that costs nothing.

Measures are parallel where the same hands pluck at the same places, on whatever strings. Moves
for the same note of parallel measures are put to the place, counted from that measure, that most
of them can have at the price that they cost now. The plan keeps its cost, and so its proof.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from arrange.levers.elsewhere import Elsewhere
from arrange.levers.problem import LeverProblem, Move, Plan
from arrange.study.grounds import Ground
from arrange.study.planning import passes_needed
from arrange.units import SECOND, Microseconds, Quarters

Shape = tuple[object, ...]
"""What is plucked in a measure, by offset and hand."""

Apart = tuple[int, Quarters, int]
"""A place, counted from a measure: so many measures before it, at an offset, by a hand."""

EASE: Microseconds = SECOND
"""More time to spare than this makes no difference."""


def aligned(basis: Ground, problem: LeverProblem, plan: Plan) -> Plan:
    """Return the plan with its moves at the same places in parallel passages."""
    if len(plan.moves) < 2:
        return plan
    elsewhere = Elsewhere(problem, plan)
    moves = list(plan.moves)
    for targets in _parallel(basis, problem, plan, elsewhere):
        ways = {
            number: _ways(basis, elsewhere.places(moves[number]), index)
            for number, index in targets.items()
        }
        place = _common(basis, ways, {n: (moves[n], i) for n, i in targets.items()})
        for number, offered in ways.items():
            other = offered.get(place)
            if other is not None and _is_free(problem, moves, number, other):
                moves[number] = other
    moves.sort(key=lambda move: (move.slot, move.string))
    other_plan = replace(plan, moves=tuple(moves))
    return plan if _limited(problem, other_plan) > _limited(problem, plan) else other_plan


def _limited(problem: LeverProblem, plan: Plan) -> int:
    """How many moves are for certain passes only, which a cue has to say."""
    return sum(1 for passes in passes_needed(problem, plan) if passes)


def _parallel(
    basis: Ground, problem: LeverProblem, plan: Plan, elsewhere: Elsewhere
) -> list[dict[int, int]]:
    """Moves for the same note of parallel measures, each with the measure of that note."""
    shapes = _shapes(basis)
    plucked: dict[tuple[int, Microseconds], int] = {}
    for visit in problem.visits:
        for string, _ in problem.notes[visit.note].choices[plan.choices[visit.note]].demands:
            plucked.setdefault((string, visit.time), visit.note)
    found: dict[tuple[object, ...], dict[int, int]] = {}
    for number, move in enumerate(plan.moves):
        note = plucked[move.string, elsewhere.needed(move)]
        if note < len(basis.printed.firsts):
            pluck = basis.printed.firsts[note]
            index = basis.plucks[pluck].index
            shape, first = shapes[index]
            found.setdefault((shape, pluck - first), {})[number] = index
    return [targets for targets in found.values() if len(set(targets.values())) > 1]


def _shapes(basis: Ground) -> dict[int, tuple[Shape, int]]:
    """The shape of each measure, and the place of its first pluck."""
    rows: dict[int, list[int]] = {}
    for place, pluck in enumerate(basis.plucks):
        rows.setdefault(pluck.index, []).append(place)
    return {
        index: (
            tuple((p.offset, p.hand) for p in map(basis.plucks.__getitem__, row)),
            row[0],
        )
        for index, row in rows.items()
    }


def _ways(basis: Ground, places: Iterable[Move], index: int) -> dict[Apart, Move]:
    """The moves that *places* offers, by where they lie as seen from a measure."""
    return {_apart(basis, move, index): move for move in places}


def _apart(basis: Ground, move: Move, index: int) -> Apart:
    place = basis.places[move.slot]
    return index - place.index, place.offset, move.hand


def _common(
    basis: Ground, ways: dict[int, dict[Apart, Move]], now: dict[int, tuple[Move, int]]
) -> Apart:
    """The place that most moves can have; of equals with most ease, then that of most now."""
    count = Counter(place for offered in ways.values() for place in offered)
    taken = Counter(_apart(basis, move, index) for move, index in now.values())
    ease: Counter[Apart] = Counter()
    for offered in ways.values():
        for place, move in offered.items():
            ease[place] += min(move.slack, EASE)
    return max(count, key=lambda place: (count[place], ease[place], taken[place], *_early(place)))


def _early(place: Apart) -> tuple[int, Quarters, int]:
    return place[0], -place[1], -place[2]


def _is_free(problem: LeverProblem, moves: list[Move], number: int, other: Move) -> bool:
    """Whether the hand of *other* makes no other move then."""
    length = problem.hands[other.hand].move
    times = [problem.slots[other.slot].times[act].time for act in other.acts]
    return not any(
        abs(time - problem.slots[one.slot].times[act].time) < length
        for place, one in enumerate(moves)
        if place != number and one.hand == other.hand
        for act in one.acts
        for time in times
    )
