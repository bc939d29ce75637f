"""What the referee knows of hands, ringing strings, ornaments, glissandi and pitches."""

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from music21 import interval as m21interval
from music21 import pitch as m21pitch

from referee import Fault, judge, opening, pitches
from referee.reading import read_sheet
from referee.tiny import move, place, score_xml, strings, summary_of, words_xml, written

Rows = dict[str, Any]
Staves = list[tuple[str, str]]
REST = "R:4"
REPEATED = (
    "<attributes><measure-style><measure-repeat type='start'>1</measure-repeat>"
    "</measure-style></attributes>"
)


def judged(folder: Path, staves: Staves, low: str = "C3", **more: Any) -> list[Fault]:
    """Faults of a score that was taken over as it is, in E flat, at sixty quarters a minute."""
    score = score_xml(staves, -3, more.pop("extras", {}))
    summary = summary_of(strings(low, "C6"), list(range(len(staves))), "P1")
    summary["levers"]["moves"] = more.pop("moves", [])
    for row in summary["levers"]["initial"]:
        row["position"] = "up" if row["string"] in more.get("up", ()) else "down"
    more.pop("up", None)
    faults = judge(*written(folder, score, score, summary | more))
    return [fault for fault in faults if fault.kind not in {"cue", "accidental"}]


def kinds(faults: list[Fault]) -> set[str]:
    """The kinds of faults."""
    return {fault.kind for fault in faults}


FREE_HAND: Staves = [(REST, "C4:1 R:3"), (REST, "C4:4")]
BASS: Staves = [(REST, "C3:1 R:3"), (REST, "C3:4")]
CHORD: Staves = [(REST, "C4:1 R:3"), (REST, "C4:4 +Eb4:4 +G4:4")]
GRACE: Staves = [(REST, "C4:1 R:3"), (REST, "gD4 C4:4")]
TREMOLO: Staves = [(REST, "C4:2!tremolo3 R:2"), (REST, "C4:4")]
TRILLED: Staves = [(REST, "C4:2!trill-mark R:2"), (REST, "C4:4")]


@pytest.mark.parametrize(
    ("staves", "string", "offset", "is_free"),
    [
        (FREE_HAND, "F4", "11/20", True),
        (FREE_HAND, "F4", "54/100", False),
        (FREE_HAND, "F4", "37/10", True),
        (FREE_HAND, "F4", "371/100", False),
        (FREE_HAND, "F3", "5/8", True),
        (FREE_HAND, "F3", "62/100", False),
        (BASS, "F3", "361/100", True),
        (BASS, "F3", "362/100", False),
        (CHORD, "F4", "34/10", True),
        (CHORD, "F4", "341/100", False),
        (GRACE, "F4", "37/10", True),
        (GRACE, "F4", "371/100", False),
        (TREMOLO, "F4", "1", False),
        (TREMOLO, "F4", "26/10", True),
        (TRILLED, "F4", "2", False),
    ],
)
def test_a_hand_needs_its_time_before_and_after_a_move(
    tmp_path: Path, staves: Staves, string: str, offset: str, *, is_free: bool
) -> None:
    faults = judged(tmp_path, staves, moves=[move(string, "up", (0, offset))])
    assert kinds(faults) == (set() if is_free else {"hand"})


@pytest.mark.parametrize(
    ("note", "offset", "is_quiet"),
    [
        ("F4:1 R:3", "15/10", True),
        ("F4:1 R:3", "149/100", False),
        ("F4:2 R:2", "23/10", True),
        ("F4:2 R:2", "229/100", False),
        ("F4:4", "27/10", True),
        ("F4:4", "269/100", False),
        ("F3:1 R:3", "23/10", True),
        ("F3:1 R:3", "229/100", False),
    ],
)
def test_a_string_rings_until_its_lock_ends(
    tmp_path: Path, note: str, offset: str, *, is_quiet: bool
) -> None:
    string = note[:2]
    faults = judged(tmp_path, [(note, REST)], moves=[move(string, "up", (0, offset))])
    assert kinds(faults) == (set() if is_quiet else {"ring"})


def test_a_tied_group_is_one_pluck(tmp_path: Path) -> None:
    staves = [("F#4:4~", REST), ("~F#4:4", REST), ("F4:4", REST)]
    moves = [move("F4", "down", (1, "0"))]
    assert judged(tmp_path, staves, up=("F4",), moves=moves) == []
    staves[1] = ("F#4:4", REST)
    assert kinds(judged(tmp_path, staves, up=("F4",), moves=moves)) == {"position"}


def test_one_hand_moves_one_lever_at_a_time(tmp_path: Path) -> None:
    moves = [move("F4", "up", (0, "2")), move("G4", "up", (0, "22/10"))]
    assert kinds(judged(tmp_path, FREE_HAND, moves=moves)) == {"hand"}
    moves[1] = move("G4", "up", (0, "23/10"))
    assert judged(tmp_path, FREE_HAND, moves=moves) == []


def test_a_lever_that_stands_there_already_needs_no_hand(tmp_path: Path) -> None:
    moves = [move("F4", "up", (0, "0"))]
    assert judged(tmp_path, FREE_HAND, moves=moves, up=("F4",)) == []
    assert "hand" in kinds(judged(tmp_path, FREE_HAND, moves=moves))


def test_a_move_may_act_on_one_pass_only(tmp_path: Path) -> None:
    staves = [("F4:1 R:3", REST), (REST, REST), ("F#4:1 R:3", REST)]
    moves = [move("F4", "up", (1, "2"), passes=[2])]
    assert kinds(judged(tmp_path, staves, moves=moves)) == {"position"}
    moves[0]["passes"] = [1]
    assert judged(tmp_path, staves, moves=moves) == []


def test_neighbours_of_ornaments_are_plucks(tmp_path: Path) -> None:
    for sign, string in (("trill-mark", "B4"), ("inverted-mordent", "B4"), ("mordent", "G4")):
        staves = [(f"Ab4:4!{sign}", REST)]
        assert judged(tmp_path, staves) == []
        assert kinds(judged(tmp_path, staves, up=(string,))) == {"position"}


def test_cue_notes_are_silent(tmp_path: Path) -> None:
    assert judged(tmp_path, [("cF#4:4", REST)]) == []
    assert kinds(judged(tmp_path, [("F#4:4", REST)])) == {"position"}


def test_a_repeated_measure_is_played_again(tmp_path: Path) -> None:
    staves = [("F4:1 R:3", REST), (REST, REST)]
    moves = [move("F4", "up", (0, "3"))]
    assert judged(tmp_path, staves, moves=moves) == []
    extras = {1: (REPEATED, "")}
    assert kinds(judged(tmp_path, staves, moves=moves, extras=extras)) == {"position"}


def test_a_hand_strikes_four_notes_at_most(tmp_path: Path) -> None:
    five = "C4:4 +Eb4:4 +G4:4 +Bb4:4 +C5:4"
    assert kinds(judged(tmp_path, [(five, REST)])) == {"grip"}
    rolled = " ".join(f"{word}!arpeggiate" for word in five.split())
    assert judged(tmp_path, [(rolled, REST)]) == []
    taken = {
        "part": "P1", "index": 0, "staff": 1, "offset": "0", "pitch": "C4", "hand": "left",
    }  # fmt: skip
    assert judged(tmp_path, [(five, REST)], reassigned=[taken]) == []


SWEEP = {
    "part": "P1", **place(0, "0"), "until": {"index": 0, "offset": "2"}, "from": "C4",
    "to": "C6", "hand": "right", "strings_per_s": 7.5, "foreign": [], "held": [],
}  # fmt: skip


def test_a_glissando_sweeps_the_strings_that_its_tones_name(tmp_path: Path) -> None:
    staves: Staves = [("C4:2 C6:2", REST)]
    assert judged(tmp_path, staves, glissandi=[SWEEP]) == []
    assert kinds(judged(tmp_path, staves, glissandi=[SWEEP], up=("F5",))) == {"position"}
    known = SWEEP | {"foreign": ["F5"]}
    assert judged(tmp_path, staves, glissandi=[known], up=("F5",)) == []
    assert judged(tmp_path, staves, glissandi=[SWEEP], up=("D5",)) == []
    named = SWEEP | {"tones": ["C", "D#", "Eb", "F", "G", "Ab", "Bb"]}
    assert judged(tmp_path, staves, glissandi=[named], up=("D4", "D5")) == []
    plain = SWEEP | {"tones": ["C", "D", "E", "F", "G", "A", "B"]}
    assert kinds(judged(tmp_path, staves, glissandi=[plain])) == {"position"}


def test_a_hand_that_damps_moves_no_lever(tmp_path: Path) -> None:
    staves: Staves = [("C4:2 C6:2", REST)]
    held = SWEEP | {"held": ["E4"]}
    moves = [move("F3", "up", (0, "1"))]
    assert judged(tmp_path, staves, glissandi=[SWEEP], moves=moves) == []
    assert kinds(judged(tmp_path, staves, glissandi=[held], moves=moves)) == {"hand"}


def test_a_swept_string_rings(tmp_path: Path) -> None:
    staves: Staves = [("C4:2 C6:2", REST)]
    moves = [move("C5", "up", (0, "19/10"))]
    assert kinds(judged(tmp_path, staves, glissandi=[SWEEP], moves=moves)) == {"ring"}


def test_a_slack_is_no_longer_than_the_window(tmp_path: Path) -> None:
    moves = [move("F4", "up", (0, "2"), slack_s=2.0)]
    assert kinds(judged(tmp_path, FREE_HAND, moves=moves)) == set()
    moves[0]["slack_s"] = 3.2
    assert kinds(judged(tmp_path, FREE_HAND, moves=moves)) == {"slack"}


def test_a_unison_of_both_hands_binds_neither(tmp_path: Path) -> None:
    staves: Staves = [("C4:1 R:3", "C4:1 R:3")]
    assert judged(tmp_path, staves, moves=[move("F4", "up", (0, "1/2"))]) == []


def test_a_damped_string_is_quiet_at_its_end(tmp_path: Path) -> None:
    staves: Staves = [("F4:1 R:3", REST)]
    moves = [move("F4", "up", (0, "14/10"))]
    assert kinds(judged(tmp_path, staves, moves=moves)) == {"ring"}
    extras = {0: (words_xml("0", "étouffé"), "")}
    assert judged(tmp_path, staves, moves=moves, extras=extras) == []


def test_rounded_tuplets_are_put_right() -> None:
    note = (
        "<note><pitch><step>C</step><octave>4</octave></pitch><duration>{}</duration>"
        "<type>eighth</type><time-modification><actual-notes>3</actual-notes>"
        "<normal-notes>2</normal-notes></time-modification></note>"
    )
    triplet = "".join(note.format(count) for count in (85, 86, 85))
    score = (
        "<score-partwise><part id='P1'><measure number='1'><attributes><divisions>256"
        f"</divisions></attributes>{triplet}<backup><duration>256</duration></backup>{triplet}"
        "</measure></part></score-partwise>"
    )
    measure = read_sheet(opening.tree_of(score.encode())).parts["P1"][0]
    third = Fraction(1, 3)
    assert [note.offset for note in measure.notes] == [0, third, 2 * third] * 2
    assert {note.duration for note in measure.notes} == {third}
    assert measure.length == 1


def test_an_accidental_that_the_page_lacks_is_found(tmp_path: Path) -> None:
    good = score_xml([("F#4:4", REST)], -3, {})
    summary = summary_of(strings("C3", "C6"), [0], "P1")
    for row in summary["levers"]["initial"]:
        row["position"] = "up" if row["string"] == "F4" else "down"
    assert judge(*written(tmp_path, good, good, summary)) == []
    bare = good.replace(b"<accidental>sharp</accidental>", b"")
    assert bare != good
    assert kinds(judge(*written(tmp_path, good, bare, summary))) == {"accidental"}


def test_pitches_move_as_music21_moves_them() -> None:
    names = ("m2", "M2", "A2", "m3", "M3", "P4", "A4", "d5", "P5", "m6", "A1", "P8")
    for letter in pitches.LETTERS:
        for alter in range(-2, 3):
            for name in (*names, *(f"-{name}" for name in names)):
                start = m21pitch.Pitch(step=letter, octave=4)
                start.accidental = m21pitch.Accidental(alter)
                moved = m21interval.Interval(name).transposePitch(start, maxAccidental=None)
                found = pitches.transposed(pitches.spelled(letter, alter, 4), name)
                assert found.replace("b", "-") == str(moved.nameWithOctave)


def test_ties_of_two_voices_on_one_pitch_are_kept_apart(tmp_path: Path) -> None:
    staves: Staves = [("R:3 C4:1/2~ ~C4:1/2", "C4:4~"), (REST, "~C4:1 R:3")]
    moves = [move("F4", "up", (1, "0"))]
    assert "hand" not in kinds(judged(tmp_path, staves, moves=moves))
    struck: Staves = [staves[0], (REST, "C4:1 R:3")]
    assert "hand" in kinds(judged(tmp_path, struck, moves=moves))


def test_a_grace_note_does_not_end_a_tie(tmp_path: Path) -> None:
    staves: Staves = [(REST, "C4:4~"), ("gC4 D4:4", "~C4:1 R:3")]
    moves = [move("F3", "up", (1, "0"))]
    assert "hand" not in kinds(judged(tmp_path, staves, moves=moves))


def test_the_later_notes_of_ornaments_are_in_no_grip(tmp_path: Path) -> None:
    chord = "+Eb4:1 +G4:1 +Bb4:1"
    plain: Staves = [(f"C4:1 {chord} R:3", REST)]
    assert "grip" not in kinds(judged(tmp_path, plain))
    five: Staves = [(f"C4:1 {chord} +D5:1 R:3", REST)]
    assert "grip" in kinds(judged(tmp_path, five))
    turned: Staves = [(f"C4:1!mordent {chord} R:3", REST)]
    assert "grip" not in kinds(judged(tmp_path, turned))


def test_a_key_signature_is_in_force_from_its_time_on_in_every_voice() -> None:
    key = "<attributes><key><fifths>{}</fifths></key></attributes>"
    note = (
        "<note><pitch><step>B</step><octave>4</octave></pitch><duration>1</duration>{}<staff>1"
        "</staff><notations><ornaments><trill-mark/></ornaments></notations></note>"
    )
    rest = "<note><rest/><duration>1</duration><voice>1</voice><staff>1</staff></note>"
    score = (
        "<score-partwise><part id='P1'><measure number='1'><attributes><divisions>1</divisions>"
        f"</attributes>{key.format(7)}{rest}{key.format(-3)}{rest}<backup><duration>2</duration>"
        f"</backup>{note.format('<voice>2</voice>')}{note.format('<voice>2</voice>')}"
        "</measure></part></score-partwise>"
    )
    measure = read_sheet(opening.tree_of(score.encode())).parts["P1"][0]
    said = [note.auxiliaries[0].pitches for note in measure.notes]
    assert "C#5" in said[0]
    assert "C5" not in said[0]
    assert "C5" in said[1]
    assert "C#5" not in said[1]
