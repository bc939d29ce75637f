"""Placing moves on two hands, against trying everything."""

from itertools import product

import pytest
from strategies import dice

from arrange.levers.board import Board, Option

MOVES = (3, 4)


def _jobs(seed: int) -> dict[int, tuple[Option, ...]]:
    throw = dice(seed)
    jobs = {}
    for job in range(2 + throw(4)):
        options = []
        for slot in range(1 + throw(3)):
            times = tuple(sorted({throw(14) for _ in range(1 + throw(2))}))
            options.append(Option(slot, throw(2), 1, times, 0, 0))
        jobs[job] = tuple(options)
    return jobs


def _agree(options: tuple[Option, ...]) -> bool:
    spans = [(o.hand, time, job) for job, o in enumerate(options) for time in o.times]
    return all(
        a[0] != b[0] or a[2] == b[2] or abs(a[1] - b[1]) >= MOVES[a[0]]
        for a, b in product(spans, spans)
    )


@pytest.mark.parametrize("seed", range(200))
def test_moves_are_placed_where_there_is_a_way_and_only_there(seed: int) -> None:
    jobs = _jobs(seed)
    ways = [way for way in product(*jobs.values()) if _agree(way)]
    board = Board(jobs, MOVES)
    placed = board.placed()
    assert bool(placed) == bool(ways)
    assert board.is_impossible() == (not ways)
    if placed:
        assert tuple(placed[job] for job in jobs) in ways
    else:
        failed = {job: jobs[job] for job in board.failed}
        assert not any(_agree(way) for way in product(*failed.values()))


def test_both_answers_come_up() -> None:
    found = {bool(Board(_jobs(seed), MOVES).placed()) for seed in range(200)}
    assert found == {True, False}


def test_more_moves_than_time_holds_are_impossible_and_not_only_too_many_to_try() -> None:
    """Nine moves of three units in 24 units of time, at any moment: eight is all it holds."""
    options = tuple(Option(slot, 0, 1, (slot,), 0, 0) for slot in range(24))
    assert Board(dict.fromkeys(range(9), options), MOVES).is_impossible()
    assert len(Board(dict.fromkeys(range(8), options), MOVES).placed()) == 8
