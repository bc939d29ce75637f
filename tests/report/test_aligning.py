"""Measures are paired in order, each once; insertions are found where they are, in linear time."""

from hypothesis import given
from hypothesis import strategies as st

from arrange.report.comparing.aligning import ALONE, Pairs, aligned

PRINTS = st.lists(st.integers(0, 5), max_size=14)


def same(before: list[int], after: list[int]) -> Pairs:
    return aligned(before, after, lambda i, j: 100 if before[i] == after[j] else 0)


def cost(pairs: Pairs, before: list[int], after: list[int]) -> int:
    return sum(
        ALONE if i is None or j is None else 0 if before[i] == after[j] else 100 for i, j in pairs
    )


def cheapest(before: list[int], after: list[int]) -> int:
    """The least that any pairing costs, by the plain recurrence."""
    row = [ALONE * j for j in range(len(after) + 1)]
    for i, one in enumerate(before, start=1):
        above, row = row, [ALONE * i]
        for j, two in enumerate(after, start=1):
            paired = above[j - 1] + (0 if one == two else 100)
            row.append(min(paired, above[j] + ALONE, row[j - 1] + ALONE))
    return row[-1]


@given(PRINTS, PRINTS)
def test_every_measure_stands_once_and_in_order(before: list[int], after: list[int]) -> None:
    pairs = same(before, after)
    assert [i for i, _ in pairs if i is not None] == list(range(len(before)))
    assert [j for _, j in pairs if j is not None] == list(range(len(after)))


@given(PRINTS, PRINTS)
def test_without_measures_that_are_alone_in_their_kind_the_pairing_is_the_cheapest(
    before: list[int], after: list[int]
) -> None:
    before, after = [b % 2 for b in before] * 2, [a % 2 for a in after] * 2
    assert cost(same(before, after), before, after) == cheapest(before, after)


@given(st.integers(2, 30), st.data())
def test_what_is_put_into_a_score_is_found_where_it_is(length: int, draw: st.DataObject) -> None:
    before = list(range(length))
    at = draw.draw(st.integers(0, length))
    new = draw.draw(st.lists(st.integers(100, 103), min_size=1, max_size=4))
    pairs = same(before, [*before[:at], *new, *before[at:]])
    assert [j for i, j in pairs if i is None] == list(range(at, at + len(new)))
    back = same([*before[:at], *new, *before[at:]], before)
    assert [i for i, j in back if j is None] == list(range(at, at + len(new)))


def test_two_long_scores_that_share_nothing_are_compared_in_a_band() -> None:
    asked = []

    def likeness(i: int, j: int) -> int:
        asked.append((i, j))
        return 0

    pairs = aligned(list(range(3000)), list(range(5000, 7500)), likeness)
    assert len(asked) <= 70 * 3000
    assert len(pairs) >= 3000
