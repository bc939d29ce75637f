"""When a hand is free to move a lever."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from arrange.hands.player import Player
from arrange.hands.windows import Grasp, Windows
from arrange.score.model import HandName

TENTH = 100_000
GRASPS = st.lists(st.tuples(st.integers(0, 200), st.integers(0, 5), st.integers(1, 4)))


@given(GRASPS, GRASPS)
def test_no_move_ends_outside_the_spans_that_are_named_for_it(
    left: list[tuple[int, int, int]], right: list[tuple[int, int, int]]
) -> None:
    held = {
        hand: [Grasp(at * TENTH, (at + lasting) * TENTH, notes) for at, lasting, notes in row]
        for hand, row in ((HandName.LEFT, left), (HandName.RIGHT, right))
    }
    windows = Windows(Player(), held)
    spans = list(windows.spans())
    for moment, hands in windows.slacks(range(-10 * TENTH, 230 * TENTH, TENTH // 2)).items():
        is_free = any(left >= 0 for row in hands for left in row)
        assert is_free <= any(opens <= moment <= closes for opens, closes in spans)


@pytest.mark.parametrize(("gap", "count"), [(8, 4), (20, 5)])
def test_a_gap_counts_where_a_move_fits_in(gap: int, count: int) -> None:
    row = [Grasp(0, 0, 1), Grasp(gap * TENTH, gap * TENTH, 1)]
    spans = list(Windows(Player(), {HandName.LEFT: row, HandName.RIGHT: []}).spans())
    assert len(spans) == count - 1
