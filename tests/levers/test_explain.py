"""Reasons hold numbers that a replay confirms."""

from dataclasses import replace

import pytest
from strategies import Shape, numbered_problem

from arrange.levers.explain import reasons
from arrange.levers.problem import PrintedNote
from arrange.levers.solve import Infeasible, solve


@pytest.mark.parametrize("seed", range(60))
def test_each_move_has_a_window_that_holds_it_and_each_repair_a_price(seed: int) -> None:
    problem = numbered_problem(seed, Shape(4, 7, 2))
    plan = solve(problem)
    moves, choices = reasons(problem, plan)
    assert [reason.move for reason in moves] == list(range(len(plan.moves)))
    assert [(r.note, r.choice) for r in choices] == [
        (note, choice) for note, choice in enumerate(plan.choices) if choice
    ]
    for move, reason in zip(plan.moves, moves, strict=True):
        moment = problem.slots[move.slot].times[move.acts[0]].time
        assert moment <= reason.needed
        begin = moment - problem.hands[move.hand].move
        assert reason.released is None or reason.released <= begin
        assert reason.places >= 1
        assert f"{move.slack / 1_000_000:.1f} s to spare" in reason.words


@pytest.mark.parametrize("seed", range(40))
def test_a_note_kept_as_it_is_costs_what_its_reason_says_at_least(seed: int) -> None:
    problem = numbered_problem(seed, Shape(3, 6, 2))
    _, choices = reasons(problem, solve(problem))
    for reason in choices:
        first = PrintedNote(problem.notes[reason.note].choices[:1])
        notes = (*problem.notes[: reason.note], first, *problem.notes[reason.note + 1 :])
        visits = tuple(
            replace(v, locks=v.locks[:1]) if v.note == reason.note else v for v in problem.visits
        )
        kept = replace(problem, notes=notes, visits=visits)
        if reason.instead is None:
            with pytest.raises(Infeasible):
                solve(kept)
        else:
            try:
                cost = solve(kept).cost
            except Infeasible:
                continue
            assert cost >= reason.instead


def test_the_span_that_cannot_be_had_is_as_small_as_it_can_be() -> None:
    found = 0
    for seed in range(120):
        problem = numbered_problem(seed, Shape(2, 6, 1))
        bare = replace(
            problem,
            notes=tuple(PrintedNote(note.choices[:1]) for note in problem.notes),
            visits=tuple(replace(v, locks=(v.time,)) for v in problem.visits),
        )
        try:
            solve(bare)
        except Infeasible as error:
            found += 1
            span = [v for v in bare.visits if error.since <= v.time <= error.until]
            assert span
            with pytest.raises(Infeasible):
                solve(replace(bare, visits=tuple(span)))
            inside = tuple(v for v in span if error.since < v.time)
            assert solve(replace(bare, visits=inside)).cost >= 0
    assert found > 20
