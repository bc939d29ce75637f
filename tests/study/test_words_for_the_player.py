"""Where cues stand, and what the page says where people restart."""

from dataclasses import replace

import notation as short

from arrange.hands.player import Player
from arrange.harp.files import load_harp
from arrange.harp.harp import Position
from arrange.pitch import Interval
from arrange.score.course import Structure
from arrange.score.model import HandName, Score
from arrange.study.cueing import CLUSTER, cues, outside
from arrange.study.levering import LeverPlan, plan_as_it_stands
from arrange.study.opening import original_key, statement, too_many_open, too_many_presets
from arrange.study.planning import PlannedMove
from arrange.study.prices import PriceList
from arrange.study.restating import restarts
from arrange.study.terms import Terms
from arrange.units import Quarters

HARP = load_harp("lever-34").harp
CALM = "key=0 tempo=60\nRH: C5w | C5w | C5w | C5w\nLH: G3h rh | G3h rh | G3h rh | G3h rh"

QUICK = "key=0 tempo=60\n" + "\n".join(
    f"{hand}: " + " | ".join([" ".join([f"{note}s"] * 16)] * 4)
    for hand, note in (("RH", "C5"), ("LH", "G3"))
)
"""Measures that are wide enough for a cue on any beat."""


def _score(text: str) -> Score:
    return short.read(text).score()


def _move(string: str, index: int, offset: int, *, hand: HandName = HandName.LEFT) -> PlannedMove:
    return PlannedMove("P1", string, Position.UP, index, Quarters(offset), hand, 0)


def _places(score: Score, *moves: PlannedMove) -> list[tuple[int, Quarters]]:
    found = cues(score, score.harps[0], moves, HARP, Player())
    return [(cue.place.index, cue.place.offset) for cue in found]


def test_a_cue_stands_a_beat_ahead_of_its_move_on_a_beat() -> None:
    score = _score(QUICK)
    assert _places(score, _move("F4", 1, 3), _move("F5", 2, 0)) == [
        (1, Quarters(2)),
        (1, Quarters(3)),
    ]


def test_a_cue_comes_earlier_where_it_would_run_over_the_barline() -> None:
    score = _score(CALM)
    assert _places(score, _move("F5", 2, 0)) == [(1, Quarters(2))]
    assert _places(score, _move("F4", 2, 0)) == [(1, Quarters(1))]


def test_a_cue_takes_two_lines_where_no_beat_has_room_for_one() -> None:
    score = _score("key=0 tempo=60 time=1/4\nRH: C5q | C5q | C5q\nLH: G3q | G3q | G3q")
    move = replace(_move("F5", 1, 0, hand=HandName.RIGHT), passes=(2,))
    (cue,) = cues(score, score.harps[0], (move,), HARP, Player())
    assert cue.text == "high F♯\nR.H. (2nd time)"
    (cue,) = cues(score, score.harps[0], (replace(move, hand=HandName.LEFT),), HARP, Player())
    assert cue.text == "high F♯\n(2nd time)"


def test_words_about_notes_leave_the_space_between_the_staves_to_the_cues() -> None:
    score = _score(CALM)
    assert outside(score, "P1", 1)
    assert not outside(score, "P1", 2)


def test_two_cues_at_most_stand_at_one_place_and_none_after_its_move() -> None:
    score = _score(CALM)
    moves = [_move(f"{letter}{octave}", 2, 2) for octave in (4, 5) for letter in "DFAB"]
    places = _places(score, *moves)
    assert max(places.count(place) for place in places) == CLUSTER
    assert all(place < (2, Quarters(2)) for place in places)


def test_cues_of_one_place_are_read_from_the_top_in_the_order_of_their_moves() -> None:
    score = _score(CALM)
    moves = (_move("F4", 1, 3), _move("A4", 1, 3))
    found = cues(score, score.harps[0], moves, HARP, Player())
    assert len({cue.place for cue in found}) == 1
    assert [cue.text for cue in found] == ["middle A♮", "middle F♯"]
    crossing = _score("key=0 tempo=60\nRH: C5w | C5w\nLH: G3w | G3w")
    part = crossing.parts[0]
    notes = tuple(replace(n, voice="1") for n in part.measures[1].notes)
    measures = (part.measures[0], replace(part.measures[1], notes=notes))
    crossing = replace(crossing, parts=(replace(part, measures=measures),))
    below = cues(crossing, crossing.harps[0], moves, HARP, Player())
    assert [cue.text for cue in below] == ["middle F♯", "middle A♮"]


def test_a_cue_does_not_run_into_the_next_one() -> None:
    score = _score("key=0 tempo=60\nRH: C5q C5q C5q C5q | C5q C5q C5q C5q\nLH: G3w | G3w")
    early, late = _move("F4", 1, 2), _move("A4", 1, 3)
    assert _places(score, early) == [(1, Quarters(1))]
    assert _places(score, late) == [(1, Quarters(2))]
    assert _places(score, early, late) == [(1, Quarters(1))] * 2


def test_no_cue_stands_before_a_note_that_its_string_plays_as_it_stood() -> None:
    score = _score("key=0 tempo=60\nRH: C5h. F5e G5e | F#5w\nLH: G3w | G3w")
    assert _places(score, _move("F5", 1, 0)) == [(0, Quarters(3))]
    assert _places(score, _move("A5", 1, 0)) == [(0, Quarters(2))]
    late = _score("key=0 tempo=60\nRH: C5h. G5e F5e | F#5w\nLH: G3w | G3w")
    assert _places(late, _move("F5", 1, 0)) == [(0, Quarters(7, 2))]


def test_no_cue_stands_in_the_first_measure_after_a_page_turn() -> None:
    score = _score(QUICK)
    part = score.parts[0]
    turned = replace(part.measures[2], structure=Structure(new_page=True))
    measures = (*part.measures[:2], turned, *part.measures[3:])
    score = replace(score, parts=(replace(part, measures=measures),))
    assert _places(score, _move("F4", 2, 2)) == [(1, Quarters(3))]


def test_a_cue_hangs_above_the_left_hand_and_below_it_where_a_voice_crosses_over() -> None:
    score = _score(CALM)
    (cue,) = cues(score, score.harps[0], (_move("F4", 1, 3),), HARP, Player())
    assert (cue.staff, cue.above) == (2, True)
    part = score.parts[0]
    crossing = tuple(replace(n, voice="1") for n in part.measures[1].notes)
    measures = (part.measures[0], replace(part.measures[1], notes=crossing), *part.measures[2:])
    score = replace(score, parts=(replace(part, measures=measures),))
    (cue,) = cues(score, score.harps[0], (_move("F4", 1, 3),), HARP, Player())
    assert (cue.staff, cue.above) == (2, False)


def _plan(score: Score, *moves: PlannedMove) -> LeverPlan:
    (plan,) = plan_as_it_stands(score, Terms(HARP, Player(), PriceList()))
    return replace(plan, moves=moves)


def _said(score: Score, plan: LeverPlan) -> dict[int, str]:
    return {r.index: " ".join(r.text.split()) for r in restarts(score, plan, HARP)}


def test_the_top_names_the_key_that_the_piece_was_moved_from() -> None:
    score = _score("key=0 | C5w")
    plan = _plan(score)
    assert original_key(score, plan, Interval.parse("m2")) == "B major"
    assert original_key(score, plan, Interval.parse("A1")) == "Cb major"
    assert original_key(score, plan, Interval.parse("P1")) == ""
    said = statement(plan, HARP, "concert", "B major")
    assert said.endswith("Level: concert. Transposed from B major.")


def test_a_restart_says_what_differs_from_the_start() -> None:
    score = _score(CALM.replace("| C5w | C5w\n", "| [rehearsal A] C5w | [rehearsal B] C5w\n"))
    plan = _plan(score, _move("F4", 1, 3), _move("F5", 2, 0), _move("G3", 2, 2))
    assert _said(score, plan) == {
        2: "Levers as at the start but middle and high F sharp.",
        3: "Levers as at the start but middle and high F sharp; low G sharp.",
    }


def test_a_restart_speaks_of_the_first_time_where_the_levers_change_between() -> None:
    score = _score(CALM.replace("| C5w | C5w\n", "| [rehearsal A] C5w | C5w\n"))
    score = replace(score, performed=(0, 1, 2, 3, 2, 3))
    plan = _plan(score, _move("F4", 3, 0))
    assert _said(score, plan) == {2: "Levers the 1st time as at the start."}


def test_more_presets_than_a_player_should_have_are_said_once_there_are_too_many() -> None:
    score = _score("key=0 tempo=60\nRH: F#5h C#5h | F#4h C#4h")
    (plan,) = plan_as_it_stands(score, Terms(HARP, Player(), PriceList()))
    assert too_many_presets(score, plan, HARP, Player(presets_apart=4)) == ""
    assert too_many_presets(score, plan, HARP, Player(presets_apart=3)) == (
        "4 levers stand apart from the key signature before the first note; "
        "this book asks for 3 at most."
    )


def test_a_piece_with_many_open_notes_is_said_to_ask_for_pedals() -> None:
    upper, lower = " | ".join(["F5q F#5q F5q F#5q"] * 3), " | ".join(["C3q G3q C3q G3q"] * 3)
    text = f"key=0 tempo=120\nRH: {upper}\nLH: {lower}"
    marked = _score(text.replace("F#5q", '"?"#leverwright.open.1.Fs5 F#5q'))
    (plan,) = plan_as_it_stands(marked, Terms(HARP, Player(), PriceList()))
    assert too_many_open(marked, plan).startswith("6 notes are left open in 3 measures: ")
    few = _score(text.replace("F#5q", "F5q"))
    (plan,) = plan_as_it_stands(few, Terms(HARP, Player(), PriceList()))
    assert too_many_open(few, plan) == ""
