"""The planner against two oracles that share nothing with it."""

from dataclasses import replace

import pytest
from brute_force import least_cost
from hypothesis import given, settings
from oracle_cpsat import Oracle
from plan_checker import verify
from strategies import Shape, lever_problems, numbered_problem

from arrange.harp.harp import Position
from arrange.levers.problem import (
    Choice,
    Hand,
    LeverProblem,
    LeverString,
    PrintedNote,
    Slot,
    SlotTime,
    Visit,
)
from arrange.levers.solve import Infeasible, lower_bound, solve

SECOND = 1_000_000
TIGHT = Shape(6, 9, 2)
TINY = Shape(2, 3, 1, ("A", "AA"))


@pytest.mark.parametrize("seed", range(320))
def test_the_plan_costs_what_an_exact_constraint_solver_finds(seed: int) -> None:
    """CP-SAT of ortools, on tight instances with contention, repeats and groups of strings."""
    problem = numbered_problem(seed, TIGHT if seed % 4 == 0 else Shape())
    plan = solve(problem, limit=300_000)
    assert verify(problem, plan) == []
    assert plan.cost == Oracle(problem).optimum()
    assert plan.is_optimal
    assert lower_bound(problem) <= plan.cost


def test_what_groups_pay_each_other_does_not_hide_a_cheaper_plan() -> None:
    """Here a group is paid so much for a note that what it has yet to pay falls below zero."""
    problem = numbered_problem(7047, TIGHT)
    plan = solve(problem)
    assert plan.cost == Oracle(problem).optimum()
    assert plan.is_optimal


@pytest.mark.parametrize("seed", range(1000, 1040))
def test_the_plan_costs_what_trying_everything_finds(seed: int) -> None:
    problem = numbered_problem(seed, TINY)
    everything = least_cost(problem)
    plan = solve(problem)
    assert everything is not None
    assert plan.cost <= everything
    if len(plan.moves) <= 3:
        assert plan.cost == everything


@settings(max_examples=60)
@given(lever_problems())
def test_a_plan_replays_and_a_small_effort_leaves_an_honest_gap(problem: LeverProblem) -> None:
    hasty = solve(problem, limit=1)
    assert verify(problem, hasty) == []
    thorough = solve(problem, limit=300_000)
    assert verify(problem, thorough) == []
    assert hasty.bound <= thorough.cost <= hasty.cost


@settings(max_examples=40)
@given(lever_problems())
def test_all_times_may_be_shifted_together(problem: LeverProblem) -> None:
    later = replace(
        problem,
        visits=tuple(
            replace(v, time=v.time + SECOND, locks=tuple(lock + SECOND for lock in v.locks))
            for v in problem.visits
        ),
        slots=tuple(
            replace(s, times=tuple(replace(m, time=m.time + SECOND) for m in s.times))
            for s in problem.slots
        ),
    )
    assert solve(later).cost == solve(problem).cost


def one_string(slack: int, *, lock: int = 0, movable: bool = True) -> LeverProblem:
    """C then C sharp a second later, and half way a place for a move."""
    string = LeverString("C4", 60, 61, movable=movable)
    down, up = ((0, Position.DOWN),), ((0, Position.UP),)
    notes = (
        PrintedNote((Choice(down, 0),)),
        PrintedNote((Choice(up, 0), Choice((), 1000, "open"))),
    )
    return LeverProblem(
        (string,),
        notes,
        (Visit(0, 0, (lock,)), Visit(1, SECOND, (0, 0))),
        (Slot((SlotTime(SECOND * 3 // 4, ((slack,),)),)),),
        (Hand("left", SECOND // 4, 0, frozenset({0})),),
    )


def test_a_free_hand_moves_the_lever() -> None:
    plan = solve(one_string(SECOND))
    assert [(m.string, m.position, m.slot) for m in plan.moves] == [(0, Position.UP, 0)]
    assert plan.cost == 100


def test_a_hurried_move_costs_more() -> None:
    assert solve(one_string(SECOND // 4)).cost == 400


def test_a_hand_that_is_not_free_leaves_the_note_open() -> None:
    plan = solve(one_string(-1))
    assert plan.choices == (0, 1)
    assert plan.cost == 1000


def test_a_ringing_string_is_not_touched() -> None:
    assert solve(one_string(SECOND, lock=SECOND // 2)).cost == 100
    assert solve(one_string(SECOND, lock=SECOND // 2 + 1)).cost == 1000


def test_a_lever_that_is_set_before_the_piece_only_does_not_move() -> None:
    assert solve(one_string(SECOND, movable=False)).moves == ()


@pytest.mark.parametrize("seed", range(2000, 2040))
def test_where_no_lever_can_be_moved_the_plan_costs_what_the_solver_finds(seed: int) -> None:
    problem = numbered_problem(seed, TIGHT if seed % 2 else Shape())
    shut = tuple(
        replace(slot, times=tuple(replace(m, slack=_shut(m.slack)) for m in slot.times))
        for slot in problem.slots
    )
    for still in (replace(problem, slots=()), replace(problem, slots=shut)):
        plan = solve(still)
        assert plan.moves == ()
        assert plan.is_optimal
        assert plan.cost == Oracle(still).optimum()


def _shut(slack: tuple[tuple[int, ...], ...]) -> tuple[tuple[int, ...], ...]:
    return tuple(tuple(-1 for _ in row) for row in slack)


def test_what_cannot_be_planned_is_said() -> None:
    problem = one_string(-1)
    bare = replace(problem, notes=(problem.notes[0], PrintedNote(problem.notes[1].choices[:1])))
    with pytest.raises(Infeasible):
        solve(bare)


def test_a_note_struck_again_and_again_is_planned_as_one_while_no_lever_can_move() -> None:
    """A long trill beside a lever that has to be moved before and after it."""
    strings = (LeverString("C4", 60, 61), LeverString("D4", 62, 63))
    c, c_sharp = Choice(((0, Position.DOWN),), 0), Choice(((0, Position.UP),), 0)
    d = Choice(((1, Position.DOWN),), 0)
    trill = [(1 + i % 2, 10 * SECOND + i * SECOND // 8) for i in range(64)]
    played = [(0, 0), *trill, (0, 30 * SECOND)]
    slack = ((SECOND,),)
    problem = LeverProblem(
        strings,
        (PrintedNote((c,)), PrintedNote((c_sharp,)), PrintedNote((d,))),
        tuple(Visit(note, time, (time + SECOND,)) for note, time in played),
        tuple(Slot((SlotTime(time * SECOND, slack),)) for time in (5, 25)),
        (Hand("left", SECOND // 4, 0, frozenset({0})),),
    )
    plan = solve(problem)
    assert [(m.string, m.position, m.slot) for m in plan.moves] == [
        (0, Position.UP, 0),
        (0, Position.DOWN, 1),
    ]
    assert plan.is_optimal
    assert verify(problem, plan) == []


def test_plans_that_are_not_proved_are_near_the_best() -> None:
    spent = best = 0
    for seed in range(7040, 7080):
        problem = numbered_problem(seed, TIGHT)
        plan = solve(problem, limit=1_000)
        optimum = Oracle(problem).optimum()
        assert verify(problem, plan) == []
        assert plan.bound <= optimum <= plan.cost
        spent, best = spent + plan.cost, best + optimum
    assert best < spent < best * 103 // 100


def test_one_printed_move_serves_both_passes_of_a_repeat() -> None:
    string = LeverString("C4", 60, 61)
    down, up = Choice(((0, Position.DOWN),), 0), Choice(((0, Position.UP),), 0)
    slack = ((10 * SECOND,),)
    times = (0, 10 * SECOND, 20 * SECOND, 30 * SECOND)
    problem = LeverProblem(
        (string,),
        (PrintedNote((down,)), PrintedNote((up,))),
        tuple(Visit(i % 2, time, (time + SECOND,)) for i, time in enumerate(times)),
        (
            Slot((SlotTime(5 * SECOND, slack), SlotTime(25 * SECOND, slack))),
            Slot((SlotTime(15 * SECOND, slack), SlotTime(35 * SECOND, slack))),
        ),
        (Hand("left", SECOND, 0, frozenset({0})),),
    )
    plan = solve(problem)
    assert [(m.slot, m.position, m.acts) for m in plan.moves] == [
        (0, Position.UP, (0, 1)),
        (1, Position.DOWN, (0,)),
    ]
    assert plan.cost == 200


def test_a_lock_outlasts_another_note_of_its_string() -> None:
    """A note rings on from a pass after which another one was plucked, and no lever can move."""
    down, up = Choice(((0, Position.DOWN),), 0), Choice(((0, Position.UP),), 0)
    left_open = Choice((), 1000, "open")
    problem = LeverProblem(
        (LeverString("C4", 60, 61),),
        (PrintedNote((down,)), PrintedNote((down,)), PrintedNote((up, left_open))),
        (
            Visit(0, 0, (2 * SECOND,)),
            Visit(1, 2 * SECOND, (4 * SECOND,)),
            Visit(0, 3 * SECOND, (5 * SECOND,)),
            Visit(2, 5 * SECOND, (7 * SECOND, 0)),
        ),
        (Slot((SlotTime(5 * SECOND, ((SECOND,),)),)),),
        (Hand("left", SECOND // 4, 0, frozenset({0})),),
    )
    plan = solve(problem)
    assert verify(problem, plan) == []
    assert plan.choices == (0, 0, 1)


@pytest.mark.parametrize("seed", range(5000, 5060))
def test_where_every_note_may_be_left_open_there_is_a_plan_however_little_is_spent(
    seed: int,
) -> None:
    problem = numbered_problem(seed, TIGHT)
    assert all(any(not c.demands for c in note.choices) for note in problem.notes)
    hasty = solve(problem, limit=0)
    assert verify(problem, hasty) == []
    assert lower_bound(problem) <= hasty.cost


def test_a_note_that_is_left_out_does_not_shorten_the_lock_before_it() -> None:
    down, up = Choice(((0, Position.DOWN),), 0), Choice(((0, Position.UP),), 0)
    left_out, left_open = Choice((), 100, "omit"), Choice((), 1000, "open")
    problem = LeverProblem(
        (LeverString("C4", 60, 61),),
        (
            PrintedNote((down, left_open)),
            PrintedNote((up, left_out)),
            PrintedNote((up, left_open)),
        ),
        (
            Visit(0, 0, (3 * SECOND, 0)),
            Visit(1, SECOND, (2 * SECOND, 0)),
            Visit(2, 5 * SECOND, (7 * SECOND, 0)),
        ),
        (Slot((SlotTime(5 * SECOND // 2, ((SECOND,),)),)),),
        (Hand("left", SECOND // 4, 0, frozenset({0})),),
    )
    plan = solve(problem)
    assert verify(problem, plan) == []
    assert (plan.choices, plan.cost) == ((1, 0, 0), 1000)
