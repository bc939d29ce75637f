"""What is heard when: the timeline that a page plays, on small scores of each case."""

import json
from itertools import pairwise
from typing import Any

from heard_scores import BACKWARD, GRACE, n, score, sign
from notation import read, to_musicxml

from arrange.check import HarpInstructions, Instruction, Instructions
from arrange.harp.files import load_harp
from arrange.harp.harp import Position
from arrange.report.listening import listening_script, note_id, timeline
from arrange.score.document import Document
from arrange.score.model import EventId, HandName, Score
from arrange.score.reading import Reading
from arrange.units import Quarters

HARP = load_harp("lever-34").harp
CHORD = "<chord/>"
ROLL, ROLL_DOWN = "<arpeggiate/>", "<arpeggiate direction='down'/>"
STACCATO = "<articulations><staccato/></articulations>"
HARMONIC = "<technical><harmonic/></technical>"


def rolled(pitch: str, roll: str) -> str:
    return n(pitch, 16, roll, before=CHORD)


def short(text: str) -> Score:
    return read(text).score()


def column(heard: dict[str, Any], *names: str) -> list[Any]:
    """The named columns of the plucks, one value or one tuple a pluck."""
    places = [heard["columns"].index(name) for name in names]
    rows = [tuple(row[place] for place in places) for row in heard["plucks"]]
    return rows if len(names) > 1 else [row[0] for row in rows]


def test_strings_sound_at_their_time_and_are_lit_for_their_written_length() -> None:
    heard = timeline(short("tempo=120\nRH: C4q E4h Gb4q"))
    assert column(heard, "at", "lit", "midi", "string") == [
        (0.0, 0.5, 60, "C4"),
        (0.5, 1.5, 64, "E4"),
        (1.5, 2.0, 66, "G4"),
    ]
    assert heard["end"] == 2.0


def test_a_tied_note_is_plucked_once_and_lights_both_its_heads() -> None:
    heard = timeline(short("tempo=60\nRH: rh C4h~ | C4w"))
    assert column(heard, "at", "lit", "notes") == [(2.0, 8.0, ["n-P1-0-1", "n-P1-1-0"])]


def test_repeats_are_played_and_each_pass_has_its_place() -> None:
    heard = timeline(score(n("C4", 16), n("D4", 16) + BACKWARD))
    assert [(m["index"], m["pass"], m["at"]) for m in heard["measures"]] == [
        (0, 1, 0.0),
        (1, 1, 4.0),
        (0, 2, 8.0),
        (1, 2, 12.0),
    ]
    assert column(heard, "at", "place") == [(0.0, 0), (4.0, 1), (8.0, 2), (12.0, 3)]


def test_the_tempo_is_told_in_the_order_of_play() -> None:
    slower = "<sound tempo='30'/>"
    heard = timeline(score(n("C4", 8) + slower + n("D4", 8) + BACKWARD))
    told = [(t["place"], t["at"], t["quarters_per_minute"]) for t in heard["tempo"]]
    assert told == [(0, 0.0, 60.0), (0, 2.0, 30.0), (1, 6.0, 60.0), (1, 8.0, 30.0)]


def test_a_string_rings_until_it_is_plucked_again() -> None:
    heard = timeline(short("tempo=60\nRH: C4q D4q C4q D4q"))
    assert column(heard, "until") == [2.0, 3.0, None, None]


def test_two_spellings_of_one_letter_share_a_string() -> None:
    heard = timeline(short("tempo=60\nRH: C4h C#4h"))
    assert column(heard, "midi", "until") == [(60, 2.0), (61, None)]


def test_a_damped_note_stops_where_it_ends_and_a_staccato_one_halfway() -> None:
    heard = timeline(short("tempo=60\nRH: C4h(damp) D4h"))
    assert column(heard, "until", "touch") == [(2.0, "damped"), (None, "")]
    heard = timeline(score(n("C4", 8, STACCATO) + n("D4", 8)))
    assert column(heard, "until") == [1.0, None]


def test_a_sign_to_damp_all_stops_every_string_but_those_plucked_then() -> None:
    heard = timeline(score(n("C4", 4) + n("E4", 4) + sign("<damp-all/>") + n("G4", 8)))
    assert column(heard, "until") == [2.0, 2.0, None]


def test_small_notes_come_before_their_note_and_before_the_barline() -> None:
    grace = n("D5", before=GRACE) + n("E5", before=GRACE)
    heard = timeline(score(n("C4", 16), grace + n("F5", 16)))
    assert column(heard, "at", "midi", "place") == [
        (0.0, 60, 0),
        (3.82, 74, 1),
        (3.91, 76, 1),
        (4.0, 77, 1),
    ]
    assert [m["from"] for m in heard["measures"]] == [0.0, 3.82]


def test_small_notes_are_quicker_where_there_is_little_room() -> None:
    grace = n("D5", before=GRACE)
    heard = timeline(score("<sound tempo='1200'/>" + n("C5", 4) + grace + n("E5", 4)))
    first, small, main = column(heard, "at")
    assert (first, main) == (0.0, 0.05)
    assert first < small < main


def test_a_rolled_chord_spreads_upward_from_its_time_or_down_where_it_says_so() -> None:
    heard = timeline(score(n("E4", 16, ROLL) + rolled("C4", ROLL) + rolled("G4", ROLL)))
    assert column(heard, "at", "midi") == [(0.0, 60), (0.08, 64), (0.16, 67)]
    heard = timeline(score(n("C4", 16, ROLL_DOWN) + rolled("G4", ROLL_DOWN)))
    assert column(heard, "at", "midi") == [(0.0, 67), (0.08, 60)]


def test_a_trill_is_plucked_on_both_its_strings() -> None:
    heard = timeline(short("tempo=60\nRH: B4w(trill)"))
    assert set(column(heard, "midi")) == {71, 72}
    assert len(heard["plucks"]) == 16
    assert set(map(tuple, column(heard, "notes"))) == {("n-P1-0-0",)}


def test_a_harmonic_sounds_an_octave_above_its_string() -> None:
    heard = timeline(score(n("C4", 16, HARMONIC)))
    assert column(heard, "midi", "string", "touch") == [(72, "C4", "harmonic")]


def test_near_the_board_holds_until_the_usual_place() -> None:
    heard = timeline(short('tempo=60\nRH: "p.d.l.t." C4q D4q "naturel" E4q F4q'))
    assert column(heard, "touch") == ["table", "table", "", ""]


def test_dynamics_and_hairpins_make_it_louder_and_softer() -> None:
    swell = sign("<wedge type='crescendo'/>")
    stop = sign("<wedge type='stop'/>")
    soft, loud = (sign(f"<dynamics><{d}/></dynamics>") for d in ("p", "f"))
    notes = soft + n("C4") + swell + n("D4") + n("E4") + n("F4")
    heard = timeline(score(notes, stop + loud + n("G4", 16), n("A4", 16)))
    first, second, third, fourth, fifth, sixth = column(heard, "loudness")
    assert first == second < third < fourth < fifth == sixth


def test_a_forced_note_is_louder_alone() -> None:
    forced = sign("<dynamics><sfz/></dynamics>")
    heard = timeline(score(n("C4", 4) + forced + n("D4", 4) + n("E4", 8)))
    first, second, third = column(heard, "loudness")
    assert first == third < second


def test_each_staff_keeps_its_own_dynamic_where_it_has_one() -> None:
    heard = timeline(short("tempo=60\nRH: [f] C5w | C5w\nLH: [p] C3w | C3w"))
    assert len(set(column(heard, "staff", "loudness"))) == 2
    upper, lower = (
        {loud for staff, loud in column(heard, "staff", "loudness") if staff == s} for s in (1, 2)
    )
    assert min(upper) > max(lower)


def test_a_glissando_is_heard_string_by_string_between_its_ends() -> None:
    heard = timeline(short("key=0 tempo=60\nRH: C4h(gliss) C5h(gliss-end)"))
    assert column(heard, "midi") == [60, 62, 64, 65, 67, 69, 71, 72]
    times = column(heard, "at")
    assert (times[0], times[-1]) == (0.0, 2.0)
    assert len({round(later - sooner, 2) for sooner, later in pairwise(times)}) == 1
    assert column(heard, "touch") == ["", *["swept"] * 6, ""]


def test_a_swept_string_sounds_as_its_lever_stands() -> None:
    found = short("key=0 tempo=60\nRH: C4h(gliss) C5h(gliss-end)")
    setting = {s.name: Position.DOWN for s in HARP.strings if s.raised is not None}
    setting["E4"] = Position.UP
    heard = timeline(found, HARP, Instructions((HarpInstructions(setting),)))
    assert dict(zip(column(heard, "string"), column(heard, "midi"), strict=True)) == {
        "C4": 60,
        "D4": 62,
        "E4": 64,
        "F4": 65,
        "G4": 67,
        "A4": 68,
        "B4": 70,
        "C5": 72,
    }


def test_a_lever_moves_at_its_moment_once_and_stops_its_string() -> None:
    found = short("tempo=60\nRH: C5h G4h | C#5w")
    setting = {s.name: Position.DOWN for s in HARP.strings if s.raised is not None}
    move = Instruction("P1", "C5", Position.UP, 0, Quarters(3), HandName.LEFT)
    again = Instruction("P1", "C5", Position.UP, 1, Quarters(0), HandName.LEFT)
    heard = timeline(found, HARP, Instructions((HarpInstructions(setting, (move, again)),)))
    assert heard["moves"] == [
        {"at": 3.0, "string": "C5", "position": "up", "hand": "left", "place": 0, "harp": 0}
    ]
    assert column(heard, "string", "until") == [("C5", 3.0), ("G4", None), ("C5", None)]
    assert heard["initial"] == [dict.fromkeys(setting, "down")]
    assert {"string": "C4", "open": 60, "raised": 61} in heard["strings"]


def test_a_note_is_called_by_its_place_whatever_its_part_is_called() -> None:
    assert note_id(EventId("P1", 4, "n12")) == "n-P1-4-12"
    names = {note_id(EventId(part, 1, "n2")) for part in ("P-1", "P.1", 'P"1', "P 1", "Pé1")}
    assert len(names) == 5
    assert not any(c in name for name in names for c in " \"'<>&")


def test_the_timeline_is_json_and_the_script_can_stand_in_a_page() -> None:
    source = to_musicxml("tempo=60\nRH: C4w")
    found = Reading(Document.read(source, "x.musicxml")).score()
    heard = timeline(found)
    assert json.loads(json.dumps(heard)) == heard
    assert timeline(found) == heard
    script = listening_script()
    assert "</" not in script
    assert "<!--" not in script
