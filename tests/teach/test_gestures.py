"""Lever moves as gestures, and the harp where people restart."""

import re

import pytest
from lessons import HARP, converted, lesson_of, short_lesson

from arrange.report.lever_records import lever_record
from arrange.teach.gestures import Gesture
from arrange.teach.setting import restarts

MOVING = (
    "nocturne-d-flat",
    "march-tin-lanterns",
    "barcarolle-glissandi",
    "habanera-blue-shutters",
)


def tightest(gesture: Gesture, spare: dict[tuple[str, int, str], float]) -> float:
    return min(spare[m.string, m.index, str(m.offset)] for m in gesture.moves)


@pytest.mark.parametrize("name", MOVING)
def test_every_move_of_the_summary_is_in_one_gesture_with_its_time_to_spare(name: str) -> None:
    told = lever_record(converted(name))["moves"]
    found = lesson_of(name).gestures
    moves = [(m.string, m.position.value, m.index, str(m.offset)) for g in found for m in g.moves]
    summary = [(m["string"], m["position"], m["index"], m["offset"]) for m in told]
    assert sorted(moves) == sorted(summary)
    spare = {(m["string"], m["index"], m["offset"]): m["slack_s"] for m in told}
    for gesture in found:
        assert gesture.spare / 1_000_000 == pytest.approx(tightest(gesture, spare), abs=0.001)


@pytest.mark.parametrize("name", MOVING)
def test_each_count_plays_moves_every_lever_and_plays_again(name: str) -> None:
    for gesture in lesson_of(name).gestures:
        done = [what for _, what in gesture.count]
        levers = [what for what in done if what[0] in "ABCDEFG"]
        assert len(levers) == len(gesture.names)
        if gesture.way.startswith("from the lap"):
            continue
        assert done.index("play") < done.index(levers[0])


def test_a_gesture_says_from_where_to_where_and_what_the_other_hand_does() -> None:
    (gesture,) = [g for g in lesson_of("march-tin-lanterns").gestures if g.where == "m. 18"]
    assert re.fullmatch(
        r"High B♭ \(lever down\) on beat 3 and low (D♯ \(lever up\)|E♭ \(lever down\)) on beat 4",
        gesture.levers,
    )
    assert gesture.hand == "L.H."
    assert gesture.way == "from low A, middle C, F (beat 2), back to very low F (m. 19 beat 1)"
    assert gesture.meanwhile.startswith("R.H. goes on: low C, middle F")
    assert [beat for beat, _ in gesture.count] == ["2", "3", "4", "1"]


CUE = '"high F♯"#leverwright.cue.1.F5.up.left.0.{}.all'


def test_a_lever_whose_string_sounds_on_its_beat_is_moved_just_before() -> None:
    (gesture,) = short_lesson(
        f"key=0 tempo=60\nRH: F5h F5h | C5h F#5h | G5w\nLH: C3w | {CUE.format(2)} C3h rh | G2w"
    ).gestures
    assert gesture.levers == "High F♯ (lever up) just before it sounds on beat 3"
    assert gesture.names == ("high F♯ (before 3)",)
    assert ("before 3", "F♯") in gesture.count


def test_a_note_that_is_left_open_is_no_part_of_a_gesture() -> None:
    left = f'{CUE.format(2)} C3h "? C♯3"#leverwright.open.1.Cs3 C#3h'
    (gesture,) = short_lesson(
        f"key=0 tempo=60\nRH: F5h F5h | C5w | F#5w\nLH: C3w | {left} | G2w"
    ).gestures
    assert gesture.way == "from low C (beat 1), back to very low G (m. 3 beat 1)"
    assert gesture.count[-1] == ("1", "play")


def test_a_move_on_an_upbeat_is_counted_on_the_last_beat() -> None:
    (gesture,) = [g for g in lesson_of("march-tin-lanterns").gestures if g.moves[0].index == 0]
    assert gesture.where == "m. 1 (upbeat) (only time 2)"
    assert "on beat 4" in gesture.levers
    assert gesture.count[-1] == ("1", "play")


def test_the_levers_are_told_where_strains_begin_and_where_the_whole_begins_again() -> None:
    whys = [(r.index, r.why) for r in lesson_of("march-tin-lanterns").restarts]
    assert whys == [(0, "D.C."), (1, "repeat"), (10, "B"), (18, "new key"), (20, "repeat")]
    assert ("m. 27", "A\N{PRIME}") in [
        (r.where, r.why) for r in lesson_of("nocturne-d-flat").restarts
    ]


def test_where_people_restart_the_levers_are_told_time_by_time() -> None:
    told = {r.where: r for r in lesson_of("habanera-blue-shutters").restarts}
    assert told["m. 5"].why == "the sign"
    assert told["m. 5"].levers.startswith("time 1: as at the start; time 2: as at the start but")
    assert told["m. 37"].why == "the Coda"


def test_the_told_state_is_the_replayed_one() -> None:
    made = lesson_of("nocturne-d-flat")
    piece = made.piece
    for restart in restarts(piece, made.form):
        place = piece.clock.occurrences(restart.index)[0]
        setting = piece.setting(place)
        apart = [name for name, at in setting.items() if at is not piece.told.initial[name]]
        assert bool(apart) == (restart.levers != "as at the start")
        for name in apart:
            number = HARP.string_named(name)
            assert number is not None
            pitch = HARP.strings[number].pitch(setting[name])
            assert pitch is not None
            assert f"{pitch.step} " in restart.levers
