"""The replay of a score: what a harpist cannot do is named, what can be done is not."""

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

import notation
import pytest

from arrange.check import (
    HarpInstructions,
    Instruction,
    Instructions,
    Violation,
    check,
    from_page,
    from_summary,
    spare_times,
)
from arrange.errors import BadInput
from arrange.hands.player import Player
from arrange.harp.files import load_harp
from arrange.harp.harp import Position
from arrange.score.document import Document
from arrange.score.model import HandName, Score
from arrange.score.reading import Reading
from arrange.study.levering import plan_as_it_stands
from arrange.study.terms import Terms
from arrange.units import SECOND

HARP = load_harp("lever-34").harp
PLAYER = Player()
ALL_DOWN = {s.name: Position.DOWN for s in HARP.strings if s.raised is not None}
UP, DOWN = Position.UP, Position.DOWN
LEFT, RIGHT = HandName.LEFT, HandName.RIGHT
SETTING = '"Tuning: E-flat. Set levers for Eb major (all levers down)."#leverwright.setting'

RISING = """key=-3 tempo=60
RH: C5w | C#5w
LH: rw | rw"""
"""One string in two positions; a quarter lasts a second."""
BUSY = """key=-3 tempo=60
RH: C5w | C#5w
LH: Eb3q Eb3q Eb3q Eb3q | rw"""


def score_of(text: str) -> Score:
    return Reading(Document.read(notation.to_musicxml(text), "example")).score()


def move(
    offset: str, string: str = "C5", index: int = 0, hand: HandName = LEFT, **more: Any
) -> Instruction:
    position = more.get("position", UP)
    passes = more.get("passes", ())
    return Instruction("P1", string, position, index, Fraction(offset), hand, passes)


def told(*moves: Instruction, setting: Mapping[str, Position] = ALL_DOWN) -> Instructions:
    return Instructions((HarpInstructions(setting, moves),))


def problems(text: str, *moves: Instruction, player: Player = PLAYER) -> list[str]:
    return [v.problem for v in check(score_of(text), HARP, player, told(*moves))]


def one(found: list[str]) -> str:
    (problem,) = found
    return problem


def test_a_string_that_is_set_in_time_can_be_plucked() -> None:
    assert problems(RISING, move("2")) == []


def test_a_note_whose_lever_is_never_moved_is_named_with_its_place() -> None:
    (violation,) = check(score_of(RISING), HARP, PLAYER, told())
    assert violation == Violation(
        "P1", 1, "2", 1, Fraction(0), ("C#5",),
        "The C5 string is not set to C#5 when it is plucked.",
    )  # fmt: skip


def test_a_move_that_ends_with_a_note_comes_before_it() -> None:
    assert problems(RISING, move("0", index=1)) == []
    assert "not set to C#5" in problems(RISING, move("1/2", index=1))[0]


def test_a_string_is_left_alone_while_it_rings_up_to_twice_its_lock() -> None:
    # C5: 0.7 s; a whole note holds it longer, but no longer than 1.4 s; the move takes 0.3 s.
    assert problems(RISING, move("17/10")) == []
    assert "still sounds" in one(problems(RISING, move("33/20")))


def test_a_damped_string_is_free_at_its_written_end() -> None:
    text = RISING.replace("C5w |", "C5q(damp) rq rh |")
    assert problems(text, move("13/10")) == []
    assert "still sounds" in one(problems(text, move("6/5")))


def test_the_hand_needs_time_from_its_last_note_to_the_lever() -> None:
    assert problems(BUSY, move("13/5")) == []
    assert one(problems(BUSY, move("5/2"))) == (
        "The left hand has 0.20 s from its last note to the lever of C5; it needs 0.25 s."
    )


def test_the_hand_needs_time_from_the_lever_to_its_next_note() -> None:
    assert one(problems(BUSY, move("11/4"))) == (
        "The left hand has 0.25 s from the lever of C5 to its next note; it needs 0.30 s."
    )


def test_three_notes_to_place_need_more_time() -> None:
    text = BUSY.replace("Eb3q | rw", "Eb3+G3+Bb3q | rw")
    assert "needs 0.60 s" in one(problems(text, move("13/5")))


def test_a_far_lever_needs_more_time() -> None:
    text = BUSY.replace("C5w | C#5w", "C3w | C#3w")
    assert "needs 0.33 s" in problems(text, move("13/5", string="C3"))[0]


def test_a_roll_keeps_the_hand_until_its_last_note() -> None:
    text = BUSY.replace("Eb3q Eb3q Eb3q Eb3q", "Eb3q Eb3q Eb3+G3+Bb3q(roll) rq")
    assert problems(text, move("11/4")) == []
    assert "from its last note" in one(problems(text, move("27/10")))


def test_one_hand_moves_one_lever_at_a_time() -> None:
    text = RISING.replace("C5w | C#5w", "C5+F5w | C#5+F#5w")
    moves = (move("2"), move("9/4", string="F5"))
    assert one(problems(text, *moves)) == (
        "The left hand would move two levers at once: C5 and F5."
    )
    assert problems(text, move("2"), move("23/10", string="F5")) == []
    assert problems(text, move("2"), move("9/4", string="F5", hand=RIGHT)) == []


def test_the_right_hand_moves_only_the_levers_that_are_its_own() -> None:
    text = RISING.replace("C5w | C#5w", "C4w | C#4w")
    moved = move("3", string="C4", hand=RIGHT)
    assert "C4 lies below" in one(problems(text, moved))
    without = replace(PLAYER, right=None)
    assert one(problems(RISING, move("2", hand=RIGHT), player=without)) == (
        "This player moves no lever with the right hand."
    )


def test_low_levers_that_are_set_before_the_piece_only_do_not_move() -> None:
    low = replace(PLAYER, moves_lowest="D5")
    assert "before the piece only" in one(problems(RISING, move("2"), player=low))


def test_a_lever_that_stands_right_needs_no_hand() -> None:
    assert problems(BUSY, move("13/5"), move("3")) == []


def test_a_move_for_one_pass_leaves_the_other_as_it_was() -> None:
    text = """key=-3 tempo=60
    RH: rh C5h | rh C#5h
    LH: rw | rw"""
    twice = replace(score_of(text), performed=(0, 1, 0, 1))
    back = move("0", position=DOWN)
    up = move("1", index=1)
    assert check(twice, HARP, PLAYER, told(back, up)) == ()
    first = replace(back, passes=(1,))
    (violation,) = check(twice, HARP, PLAYER, told(first, up))
    assert violation.problem == "The C5 string is not set to C5 when it is plucked."


def test_a_note_is_spelled_as_the_string_that_plays_it() -> None:
    assert one(problems("key=-3 | Gb5w")) == (
        "Gb5 names no string; the string that gives it is called F#5."
    )
    silent = score_of("key=-3 | Gb5w")
    assert check(silent, HARP, PLAYER, from_page(silent, HARP)) == ()


def test_a_note_beyond_the_strings_is_named() -> None:
    assert one(problems("key=-3 | C7w")) == "No string of this harp gives C7."


def test_two_notes_that_need_one_string_cannot_sound_at_once() -> None:
    assert "C5 string is not set to C#5" in one(problems("key=-3 | C5+C#5w"))


def test_the_auxiliary_of_a_trill_needs_its_string_too() -> None:
    assert problems("key=-3 | D5w(trill)") == []
    assert "not set to E5" in one(problems("key=0 | D5w(trill)"))


def test_what_is_left_open_is_no_violation_and_asks_for_nothing() -> None:
    score = score_of(RISING)
    sharp = next(n.id for n in score.notes_by_id.values() if str(n.pitch) == "C#5")
    assert check(score, HARP, PLAYER, replace(told(), left_open=frozenset({sharp}))) == ()


@pytest.mark.parametrize(
    ("chord", "problem"),
    [
        ("Eb2+G2+Bb2+Eb3w", ""),
        ("Eb2+G2+Bb2+Eb3+G3w", "has 5 notes at once"),
        ("Eb2+G3w", ""),
        ("Eb2+Ab3w", "would span 11 strings"),
        ("Eb2+Ab3w(roll)", ""),
        ("Eb2+Bb3w(roll)", "would span 12 strings"),
    ],
)
def test_a_hand_holds_four_notes_within_ten_strings(chord: str, problem: str) -> None:
    found = problems(f"key=-3\nRH: rw\nLH: {chord}")
    assert problem in one(found) if problem else not found


def test_a_grip_that_the_other_hand_shares_is_held() -> None:
    text = "key=-3\nRH: rw\nLH: Eb2+G2+Bb2+Eb3+G3w"
    score = score_of(text)
    top = next(n.id for n in score.notes_by_id.values() if str(n.pitch) == "G3")
    shared = replace(told(), reassigned=((top, RIGHT),))
    assert check(score, HARP, PLAYER, shared) == ()


SWEEP = "key={key} tempo=60\nRH: {words}C4w(gliss) | C5w(gliss-end)\nLH: rw | rw"


def test_the_strings_of_a_glissando_stand_as_its_tones_say() -> None:
    assert problems(SWEEP.format(key=-3, words="")) == []
    problem = one(problems(SWEEP.format(key=0, words="")))
    assert problem == (
        "In the glissando the E4 string stands at Eb4, the A4 string stands at Ab4, "
        "the B4 string stands at Bb4."
    )
    natural = {**ALL_DOWN, "E4": UP, "A4": UP, "B4": UP}
    score = score_of(SWEEP.format(key=0, words=""))
    assert check(score, HARP, PLAYER, told(setting=natural)) == ()


def test_strings_that_the_page_names_as_foreign_may_sound_otherwise() -> None:
    words = f'{SETTING} "E♭ A♭ B♭"#leverwright.foreign.1.E4-A4-B4 '
    score = score_of(SWEEP.format(key=0, words=words))
    assert check(score, HARP, PLAYER, from_page(score, HARP)) == ()


def held_sweep(left: str = "rw | rw", names: str = "E4-B4") -> list[str]:
    setting = SETTING.replace("(all levers down)", "(A up)")
    words = f'{setting} "hold"#leverwright.held.1.{names} '
    text = SWEEP.format(key=0, words=words).replace("LH: rw | rw", f"LH: {left}")
    score = score_of(text)
    return [v.problem for v in check(score, HARP, PLAYER, from_page(score, HARP))]


def test_a_damping_hand_holds_two_strings_while_it_is_free() -> None:
    assert held_sweep() == []
    assert "plucks too" in one(held_sweep("rq C3h. | rw"))
    assert "should sound while its string is damped" in held_sweep("Eb4q rh. | rw")[0]
    assert "No hand damps 3 strings" in one(held_sweep(names="E4-B4-D4"))


def test_cues_on_the_page_are_followed() -> None:
    cue = '"high C sharp"#leverwright.cue.1.C5.up.left.0.2.all'
    score = score_of(RISING.replace("C5w |", f"{SETTING} C5w |").replace("LH:", f"LH: {cue}"))
    instructions = from_page(score, HARP)
    assert instructions.harps == (HarpInstructions(ALL_DOWN, (move("2"),)),)
    assert not instructions.is_by_ear
    assert check(score, HARP, PLAYER, instructions) == ()


@pytest.mark.parametrize(
    ("cue", "problem"),
    [
        ('"high D flat"#leverwright.cue.1.C5.up.left.0.2.all', "another note than C#5"),
        ('"high C sharp R.H."#leverwright.cue.1.C5.up.left.0.2.all', "another hand"),
        ('"high C sharp"#leverwright.cue.1.C5.up.left.7.2.all', "not there"),
        ('"high C sharp"#leverwright.cue.1.C5.sideways.left.0.2.all', "understood"),
        ('"very high C sharp"#leverwright.cue.1.C9.up.left.0.2.all', "does not have"),
    ],
)
def test_a_cue_whose_words_and_meaning_differ_is_no_cue(cue: str, problem: str) -> None:
    text = RISING.replace("C5w |", f"{SETTING} C5w |").replace("LH:", f"LH: {cue}")
    score = score_of(text)
    first, second = check(score, HARP, PLAYER, from_page(score, HARP))
    assert problem in first.problem
    assert second.pitches == ("C#5",)


def test_opening_words_that_say_no_setting_are_named() -> None:
    score = score_of('key=-3 | "Set as you like."#leverwright.setting C5w')
    (violation,) = check(score, HARP, PLAYER, from_page(score, HARP))
    assert "does not say how to set the levers" in violation.problem


def test_a_score_that_says_nothing_is_played_with_the_levers_set_once() -> None:
    score = score_of("key=2 | C5q C#5q C#5q D5q")
    instructions = from_page(score, HARP)
    assert instructions.harps[0].initial["C5"] is UP
    assert instructions.harps[0].initial["B4"] is UP
    assert instructions.harps[0].initial["D5"] is DOWN
    (violation,) = check(score, HARP, PLAYER, instructions)
    assert violation.pitches == ("C5",)


def test_a_setting_that_leaves_out_a_lever_is_named() -> None:
    partial = {name: p for name, p in ALL_DOWN.items() if name != "F6"}
    (violation,) = check(score_of("key=-3 | C5w"), HARP, PLAYER, told(setting=partial))
    assert "levers of F6" in violation.problem


def test_the_time_that_a_move_leaves_is_what_its_window_has_beyond_it() -> None:
    # Between two notes a second apart: 1 - 0.25 - 0.3 - 0.3 s.
    score, moved = score_of(BUSY), move("13/5")
    assert spare_times(score, HARP, PLAYER, told(moved)) == {moved: 15 * SECOND // 100}


SUMMARY: dict[str, Any] = {
    "format": "leverwright-summary",
    "version": 1,
    "levers": {
        "initial": [{"string": s, "position": p.value} for s, p in ALL_DOWN.items()],
        "moves": [
            {"part": "P1", "string": "C5", "position": "up", "index": 0, "measure": "1",
             "offset": "2", "hand": "left", "slack_s": 1.0, "passes": None, "cue": None},
        ],
    },
    "open": [],
    "reassigned": [],
    "glissandi": [],
}  # fmt: skip


def test_a_summary_says_the_same_as_the_page() -> None:
    score = score_of(RISING)
    instructions = from_summary(SUMMARY, score)
    assert instructions == told(move("2"))
    assert check(score, HARP, PLAYER, instructions) == ()


def test_an_open_point_of_a_summary_is_no_violation() -> None:
    point = {"part": "P1", "index": 1, "measure": "2", "staff": 1, "offset": "0",
             "pitches": ["C#5"], "problem": "?", "suggestions": []}  # fmt: skip
    still = {**SUMMARY, "levers": {**SUMMARY["levers"], "moves": []}, "open": [point]}
    score = score_of(RISING)
    assert check(score, HARP, PLAYER, from_summary(still, score)) == ()


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"format": "other"}, "not a summary file"),
        ({"version": 2}, "version 2"),
        ({"levers": {}}, "cannot be read"),
        ({"open": [{"part": "P9", "index": 0}]}, "not there"),
    ],
)
def test_a_summary_that_cannot_be_used_is_refused(change: dict[str, Any], problem: str) -> None:
    with pytest.raises(BadInput, match=problem) as refused:
        from_summary({**SUMMARY, **change}, score_of(RISING), "x.summary.json")
    assert str(refused.value).startswith("x.summary.json: ")


CHROMATIC = (
    """key=-3 tempo=60
    RH: C5h rh | C#5h rh | C5h rh | F5h F#5h
    LH: Eb3q rh. | rw | Ab3+C4q rh. | rw""",
    """key=1 tempo=72
    RH: G4h B4q rq | Bb4h rh | B4h C#5q rq | C5h D5h
    LH: G2h rh | rw | G2h rh | rh D3h""",
)


@pytest.mark.parametrize("text", CHROMATIC)
def test_a_plan_passes_and_none_of_its_moves_can_be_spared(text: str) -> None:
    score = score_of(text)
    (plan,) = plan_as_it_stands(score, Terms(HARP, PLAYER))
    moves = tuple(
        Instruction(m.part, m.string, m.position, m.index, m.offset, m.hand, m.passes)
        for m in plan.moves
    )
    assert moves
    left_open = frozenset(t.pluck.note for t in plan.treatments if t.label == "open")
    assert not left_open
    assert check(score, HARP, PLAYER, told(*moves, setting=plan.initial)) == ()
    for place in range(len(moves)):
        fewer = (*moves[:place], *moves[place + 1 :])
        assert check(score, HARP, PLAYER, told(*fewer, setting=plan.initial))
