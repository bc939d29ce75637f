"""Fingers against brute force, against what the trade teaches, and against a harpist's own."""

from itertools import pairwise

import notation as short
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from slow_fingering import SlowHand

from arrange.hands.fingering import Joining, fingering
from arrange.hands.fingering.search import Search, Step
from arrange.hands.fingering.shapes import Shapes
from arrange.hands.fingering.ways import Pluckings
from arrange.hands.player import Grip, Player
from arrange.pitch import Pitch
from arrange.score.model import HandName

SEARCH = Search(Shapes(Grip()))
SMALL = Grip(strings=6, rolled_strings=6, wide_gap=4, close_gap=2)


def _row(text: str, *, haste: int = 1, beat: int = 4, wanted: str = "") -> list[Step]:
    """Steps of a row like ``C4 D4+F4``; *wanted* names fingers in the same way, 0 for free."""
    asked = wanted.split() or ["0"] * len(text.split())
    row = []
    for place, (pitches, fingers) in enumerate(zip(text.split(), asked, strict=True)):
        lines = [Pitch.parse(pitch).line for pitch in pitches.split("+")]
        hands = [int(finger) for finger in fingers.split("+")]
        hands = hands if len(hands) == len(lines) else hands * len(lines)
        pluckings = Pluckings(tuple(lines), tuple(hands))
        row.append(Step(pluckings, haste, is_fresh=not place, is_on_beat=place % beat == 0))
    return row


def _fingers(text: str, *, haste: int = 1, beat: int = 4, wanted: str = "") -> str:
    """The fingers, chords from the bottom up; a stroke where the hand is placed anew."""
    found, _ = SEARCH.fingers(_row(text, haste=haste, beat=beat, wanted=wanted))
    groups = ["".join(map(str, one.fingers)) for one in found]
    return " ".join(
        f"{'|' if place and one.joining.begins else ''}{group}"
        for place, (one, group) in enumerate(zip(found, groups, strict=True))
    )


@st.composite
def rows(draw: st.DrawFn) -> list[Step]:
    """A short row in a small compass, so that crossings, slides and jumps all come about."""
    row = []
    for place in range(draw(st.integers(1, 4))):
        count = draw(st.sampled_from((1, 1, 1, 2, 3)))
        lines = sorted(draw(st.sets(st.integers(20, 31), min_size=count, max_size=count)))
        wanted = [0] * count
        if draw(st.integers(0, 5)) == 0:
            wanted[0] = draw(st.integers(count, 4))
        pluckings = Pluckings(tuple(lines), tuple(wanted), draw(st.booleans()))
        fresh = place > 0 and draw(st.integers(0, 5)) == 0
        row.append(
            Step(
                pluckings,
                draw(st.integers(0, 3)),
                is_fresh=fresh,
                is_on_beat=draw(st.booleans()),
            )
        )
    return row


@settings(max_examples=60, deadline=None)
@given(rows(), st.sampled_from((Grip(), SMALL)))
def test_no_fingering_is_cheaper_than_the_one_found(row: list[Step], grip: Grip) -> None:
    assert Search(Shapes(grip)).fingers(row)[1] == SlowHand(grip).cheapest(row)


@settings(max_examples=40, deadline=None)
@given(rows(), st.integers(0, 15))
def test_fingers_that_are_given_back_in_part_come_out_again(row: list[Step], kept: int) -> None:
    found, price = SEARCH.fingers(row)
    again = [
        Step(
            Pluckings(
                step.pluckings.lines,
                one.fingers if kept >> place & 1 else step.pluckings.wanted,
                step.pluckings.is_rolled,
            ),
            step.haste,
            is_fresh=step.is_fresh,
            is_on_beat=step.is_on_beat,
        )
        for place, (step, one) in enumerate(zip(row, found, strict=True))
    ]
    assert SEARCH.fingers(again) == (found, price)


@settings(max_examples=40, deadline=None)
@given(rows(), st.integers(-14, 14))
def test_a_row_is_fingered_alike_wherever_on_the_harp_it_lies(row: list[Step], up: int) -> None:
    moved = [
        Step(
            Pluckings(
                tuple(line + up for line in step.pluckings.lines),
                step.pluckings.wanted,
                step.pluckings.is_rolled,
            ),
            step.haste,
            is_fresh=step.is_fresh,
            is_on_beat=step.is_on_beat,
        )
        for step in row
    ]
    assert SEARCH.fingers(moved) == SEARCH.fingers(row)


@pytest.mark.parametrize("haste", [0, 1, 2, 3])
def test_scales_cross_under_with_the_fourth_finger_and_over_with_the_thumb(haste: int) -> None:
    """Up 4-3-2-1, crossing under with 4; down 1-2-3-4, crossing over with the thumb.

    A teacher's page on scales (samanthaballardharp.com, "scale mistakes"); common practice.
    """
    up = "C4 D4 E4 F4 G4 A4 B4 C5"
    assert _fingers(up, haste=haste) == "4 3 2 1 |4 3 2 1"
    assert _fingers(" ".join(up.split()[::-1]), haste=haste) == "1 2 3 4 |1 2 3 4"


def test_two_octaves_go_in_fours_and_end_with_what_is_left() -> None:
    """Common practice: full groups first."""
    up = "C4 D4 E4 F4 G4 A4 B4 C5 D5 E5 F5 G5 A5 B5 C6"
    assert _fingers(up, haste=2) == "4 3 2 1 |4 3 2 1 |4 3 2 1 |3 2 1"


@pytest.mark.parametrize(
    ("chord", "fingers"),
    [
        ("C4+E4+G4+C5", "4321"),  # four notes take four fingers, the thumb on top
        ("C4+E4+G4", "321"),
        ("E4+G4+C5", "321"),
        ("C4+G4+C5", "421"),  # root, fifth, octave skips a finger
        ("C4+G4+E5", "421"),  # root, fifth, tenth too
        ("C4+C5", "41"),  # an octave
        ("C4+E4", "21"),  # a third
        ("C4+G4", "21"),  # the wide gap lies between thumb and second finger
    ],
)
def test_chords_lie_as_they_are_taught(chord: str, fingers: str) -> None:
    """Common practice; the skipped finger in 1-5-8 and 1-5-10 from memory."""
    assert _fingers(chord) == fingers


def test_a_stock_left_hand_shape_is_one_placing() -> None:
    """C3 G3 C4 E4, rolled or broken, needs no second placing (from memory)."""
    assert _fingers("C3 G3 C4 E4") == "4 3 2 1"
    assert _fingers("C3 G3 C4 E4 C4 G3", beat=6) == "4 3 2 1 2 3"


def test_arpeggios_cross_at_the_octave() -> None:
    """Common practice."""
    assert _fingers("C4 E4 G4 C5 E5 G5 C6") == "4 3 2 1 |3 2 1"
    assert _fingers("C6 G5 E5 C5 G4 E4 C4") == "1 2 3 4 |1 2 3"


def test_a_turning_figure_stays_in_its_placing_and_moves_under_a_kept_finger() -> None:
    assert _fingers("C4 G4 E4 G4 D4 G4 F4 G4") == "3 1 2 1 |3 1 2 1"


def test_a_fifth_note_in_one_direction_slides_where_crossing_is_not_asked_for() -> None:
    """A fifth note needs a slide or a crossing (common practice); a hand may ask for either."""
    slid, _ = SEARCH.fingers(_row("G4 F4 E4 D4 C4", wanted="1 1 2 3 4"))
    assert [one.joining for one in slid[1:]] == [Joining.SLIDE, *[Joining.ON] * 3]
    under, _ = SEARCH.fingers(_row("C4 D4 E4 F4 G4", wanted="4 4 3 2 1"))
    assert [one.joining for one in under[1:]] == [Joining.SLIDE, *[Joining.ON] * 3]
    assert _fingers("C4 D4 E4 F4 G4").count("|") == 1


def test_fast_repeated_notes_change_fingers_and_slow_ones_do_not() -> None:
    """One hand that alternates reaches 3 to 4 a second (from memory)."""
    assert _fingers("C5 C5 C5", haste=1) == "1 1 1"
    changing = _fingers("C5 C5 C5", haste=3).replace("|", "").split()
    assert all(one != other for one, other in pairwise(changing))


def test_what_four_fingers_cannot_take_is_left_and_the_rest_goes_on() -> None:
    assert _fingers("C4 C4+D4+E4+F4+G4 C5") == "1 | |1"
    assert _fingers("C4+E4 C5", wanted="1+2 0") == " |1"


def _played(text: str) -> dict[HandName, list[tuple[str, int]]]:
    score = short.read(text).score()
    return {
        hand.hand: [
            (str(note.pitch), finger)
            for placing in hand.placings
            for one in placing.row
            for note, finger in one
        ]
        for hand in fingering(score, score.harps[0], Player())
    }


def test_the_thumb_is_on_top_in_both_hands() -> None:
    hands = _played("tempo=60\nRH: C5+E5+G5+C6w\nLH: C3+E3+G3+C4w")
    assert [finger for _, finger in hands[HandName.LEFT]] == [4, 3, 2, 1]
    assert [finger for _, finger in hands[HandName.RIGHT]] == [4, 3, 2, 1]


def test_a_chord_of_four_is_placed_thumb_and_bottom_first() -> None:
    """Common practice."""
    score = short.read("tempo=60 | C5+E5+G5+C6w").score()
    _, right = fingering(score, score.harps[0], Player())
    order = [(str(note.pitch), finger) for note, finger in right.placings[0].row[0].order]
    assert order == [("C6", 1), ("C5", 4), ("E5", 3), ("G5", 2)]


def test_a_hand_at_the_levers_is_placed_anew() -> None:
    plain = "tempo=120 | C5q D5q E5q F5q"
    cued = "tempo=120 | C5q D5q " + '"high F♯"#leverwright.cue.1.F6.up.right.0.2.all E5q F5q'
    joined = []
    for text in (plain, cued):
        score = short.read(text).score()
        _, right = fingering(score, score.harps[0], Player())
        joined.append([placing.joining for placing in right.placings])
    assert joined == [[Joining.ANEW], [Joining.ANEW, Joining.ANEW]]


def test_a_small_hand_is_placed_more_often() -> None:
    score = short.read("tempo=90\nRH: rw\nLH: C3e G3e C4e E4e C3e G3e C4e E4e").score()
    counts = [
        sum(len(hand.placings) for hand in fingering(score, score.harps[0], Player(grip=grip)))
        for grip in (Grip(), SMALL)
    ]
    assert counts[0] < counts[1]


def test_notes_of_a_glissando_get_no_fingers() -> None:
    hands = _played("tempo=60 | C5h(gliss) C6h(gliss-end)")
    assert [pitch for pitch, _ in hands[HandName.RIGHT]] == ["C6"]
