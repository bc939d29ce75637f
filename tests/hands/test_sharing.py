"""How two hands share what one cannot hold."""

from itertools import combinations, product

from hypothesis import given, settings
from hypothesis import strategies as st

from arrange.hands.player import Grip
from arrange.hands.sharing import HeldNote, Sharing, holds, is_held, sharing
from arrange.score.model import HandName

GRIP = Grip()
LEFT, RIGHT = HandName.LEFT, HandName.RIGHT


def _notes(left: list[int], right: list[int], price: int | None = None) -> list[HeldNote]:
    rows = [(line, LEFT) for line in left] + [(line, RIGHT) for line in right]
    return [HeldNote(i, line, hand, price) for i, (line, hand) in enumerate(rows)]


def _always(hand: HandName, string: int) -> bool:
    del hand, string
    return True


def _never(hand: HandName, string: int) -> bool:
    del hand, string
    return False


def test_four_notes_over_ten_strings_are_held_and_eleven_only_rolled() -> None:
    assert holds([0, 3, 6, 9], GRIP, rolled=False)
    assert not holds([0, 3, 6, 10], GRIP, rolled=False)
    assert holds([0, 3, 6, 10], GRIP, rolled=True)
    assert not holds([0, 2, 4, 6, 8], GRIP, rolled=True)


def test_a_free_hand_takes_the_notes_on_its_side_and_no_more_than_needed() -> None:
    assert sharing(_notes([0, 4, 8, 12, 13], []), GRIP, _always) == Sharing(taken=(4, 3), by=RIGHT)


def test_a_hand_that_is_away_takes_nothing() -> None:
    assert sharing(_notes([0, 4, 7, 10], []), GRIP, _never) == Sharing(rolled=(LEFT,))
    assert sharing(_notes([0, 4, 7, 12], []), GRIP, _never) is None


def test_what_must_not_go_stays_whatever_it_costs() -> None:
    notes = [
        HeldNote(0, 0, LEFT, None),
        HeldNote(1, 4, LEFT, 400),
        HeldNote(2, 12, LEFT, None),
    ]
    assert sharing(notes, GRIP, _never) is None


def test_the_cheapest_note_is_left_out() -> None:
    prices = [None, 400, 100, 200, None]
    notes = [HeldNote(i, 2 * i, RIGHT, price) for i, price in enumerate(prices)]
    way = sharing(notes, GRIP, _never)
    assert way is not None
    assert (way.left_out, way.cost) == ((2,), 100)


HANDFUL = st.lists(
    st.tuples(
        st.integers(0, 24), st.sampled_from([LEFT, RIGHT]), st.sampled_from([None, 100, 200, 400])
    ),
    min_size=2,
    max_size=7,
    unique_by=lambda row: row[0],
)


@settings(max_examples=80, deadline=None)
@given(HANDFUL)
def test_the_price_paid_is_the_least_of_all_ways(
    rows: list[tuple[int, HandName, int | None]],
) -> None:
    notes = [HeldNote(i, *row) for i, row in enumerate(rows)]
    way = sharing(notes, GRIP, _always)
    least = _least(notes)
    assert (way.cost if way else None) == least
    if way is not None:
        assert is_held(_played(notes, way), GRIP)


def _played(notes: list[HeldNote], way: Sharing) -> list[HeldNote]:
    played = []
    for note in notes:
        if note.key not in way.left_out:
            hand = way.by if note.key in way.taken and way.by else note.hand
            played.append(HeldNote(note.key, note.line, hand, None, hand in way.rolled))
    return played


def _least(notes: list[HeldNote]) -> int | None:
    """The least price over every set left out and every share at the border of the hands."""
    prices = []
    for count in range(len(notes) + 1):
        for gone in combinations(notes, count):
            if any(n.price is None for n in gone):
                continue
            kept = [n for n in notes if n not in gone]
            if any(_fits(share) for share in _shares(kept)):
                prices.append(sum(n.price or 0 for n in gone))
    return min(prices, default=None)


def _shares(notes: list[HeldNote]) -> list[tuple[list[int], list[int]]]:
    left = sorted(n.line for n in notes if n.hand is LEFT)
    right = sorted(n.line for n in notes if n.hand is RIGHT)
    ways = [(left[:cut], left[cut:] + right) for cut in range(len(left) + 1)]
    return ways + [(left + right[:cut], right[cut:]) for cut in range(len(right) + 1)]


def _fits(share: tuple[list[int], list[int]]) -> bool:
    return any(
        all(holds(lines, GRIP, rolled=roll) for lines, roll in zip(share, rolls, strict=True))
        for rolls in product((False, True), repeat=2)
    )
