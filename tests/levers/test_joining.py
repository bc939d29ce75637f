"""Notes that the planner treats as one: nothing is lost by it."""

from dataclasses import replace

import pytest
from plan_checker import verify
from strategies import UNIT, Shape, numbered_problem

from arrange.levers.crossings import Kind
from arrange.levers.problem import LeverProblem, Visit
from arrange.levers.solve import lower_bound, solve

PLAIN = Shape(strings=3, events=9, layouts=("A",))
REPEATED = Shape(strings=3, events=7, layouts=("AA", "AAB", "ABAC"))


def _with_echoes(problem: LeverProblem) -> LeverProblem:
    """Every note is struck twice more, by notes of their own, a quarter of a unit apart."""
    count = len(problem.notes)
    visits = [
        Visit(
            visit.note + echo * count,
            visit.time + echo * UNIT // 4,
            tuple(lock + echo * UNIT // 4 if lock else 0 for lock in visit.locks),
        )
        for visit in problem.visits
        for echo in range(3)
    ]
    visits.sort(key=lambda visit: (visit.time, visit.note))
    return replace(problem, notes=problem.notes * 3, visits=tuple(visits))


@pytest.mark.parametrize("shape", [PLAIN, REPEATED], ids=["once", "repeated"])
@pytest.mark.parametrize("seed", range(40))
def test_joining_notes_loses_nothing(
    seed: int, shape: Shape, monkeypatch: pytest.MonkeyPatch
) -> None:
    problem = _with_echoes(numbered_problem(seed, shape))
    joined, bound = solve(problem), lower_bound(problem)
    assert verify(problem, joined) == []
    monkeypatch.setattr(Kind, "is_like", lambda *_: False)
    assert lower_bound(problem) == bound
    apart = solve(problem)
    if joined.is_optimal and apart.is_optimal:
        assert joined.cost == apart.cost


def test_notes_are_joined_at_all(monkeypatch: pytest.MonkeyPatch) -> None:
    """Else the test above would say nothing."""
    alike = []
    like = Kind.is_like

    def noted(one: Kind, other: Kind) -> bool:
        alike.append(like(one, other))
        return alike[-1]

    monkeypatch.setattr(Kind, "is_like", noted)
    for shape in (PLAIN, REPEATED):
        alike.clear()
        for seed in range(5):
            solve(_with_echoes(numbered_problem(seed, shape)))
        assert sum(alike) > 20
