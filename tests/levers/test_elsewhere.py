"""Where else a move could lie, held to the checker of plans."""

from dataclasses import replace

import pytest
from plan_checker import verify
from strategies import Shape, numbered_problem

from arrange.levers.elsewhere import Elsewhere
from arrange.levers.solve import plan_cost, solve


@pytest.mark.parametrize("seed", range(60))
def test_a_move_is_as_good_at_each_of_its_other_places(seed: int) -> None:
    problem = numbered_problem(seed, Shape(3, 7, 2))
    plan = solve(problem)
    elsewhere = Elsewhere(problem, plan)
    for number, move in enumerate(plan.moves):
        places = list(elsewhere.places(move))
        assert (move.slot, move.hand) in {(one.slot, one.hand) for one in places}
        for other in places:
            moves = (*plan.moves[:number], other, *plan.moves[number + 1 :])
            moves = tuple(sorted(moves, key=lambda one: (one.slot, one.string)))
            cost = plan_cost(problem, plan.start, plan.choices, moves)
            assert cost <= plan.cost
            faults = verify(problem, replace(plan, moves=moves, cost=cost, bound=0))
            assert all("want one hand at once" in fault for fault in faults)
