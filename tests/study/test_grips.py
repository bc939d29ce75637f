"""What a hand may be asked for at one moment."""

import notation as short

from arrange.hands.player import Grip
from arrange.study.grips import held_octaves


def _moves(text: str) -> dict[str, tuple[int, ...]]:
    score = short.read(text).score()
    found = held_octaves(score, score.harps[0], Grip())
    return {str(score.notes_by_id[i].pitch): octaves for i, octaves in found.items()}


def test_a_note_alone_in_its_hand_moves_either_way() -> None:
    assert _moves("RH: E5w\nLH: C3w") == {"E5": (1, -1), "C3": (1, -1)}


def test_no_move_takes_a_hand_beyond_its_span() -> None:
    assert _moves("LH: C3+E3+G3w") == {"C3": (1,), "E3": (1,)}


def test_moves_of_one_moment_are_safe_together() -> None:
    """E3 up and G3 down would be a thirteenth; so only one of the two ways is open."""
    moves = _moves("LH: E3+G3w")
    lines = {"E3": 2, "G3": 4}
    places = [lines[n] + 7 * by for n, row in moves.items() for by in (0, *row)]
    assert max(places) - min(places) + 1 <= Grip().strings


def test_no_move_meets_another_note_on_its_string() -> None:
    assert 1 not in _moves("RH: C4w\nLH: C3w").get("C3", ())
