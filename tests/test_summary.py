"""The summary file and the change log keep to their schemas and to what the result says."""

import hashlib
import json
from functools import cache
from importlib import resources
from typing import Any

import notation
import pytest
from jsonschema import Draft202012Validator

from arrange.changes import Outcome, to_lines
from arrange.check import check, from_summary
from arrange.harp.files import load_harp
from arrange.pipeline import Conversion, Settings, convert
from arrange.registry import installed
from arrange.report.summary import summary
from arrange.rulebook import load_rulebook
from arrange.score.container import read_source_bytes
from arrange.score.document import Document
from arrange.score.reading import Reading

PIECES = {
    "a lever moves": """key=-3 tempo=60
    RH: [pedals D0 C0 B-1 E-1 F0 G0 A-1] C5h rh | C#5h rh | C5h rh | Eb5h Bb4h
    LH: Eb3q rh. | rw | Ab3+C4q rh. | Eb3h Bb2h""",
    "a note is left open": """key=-3 tempo=160
    RH: C5e C#5e C5e C#5e C5e C#5e C5e C#5e | C5w
    LH: Eb3q Eb3q Eb3q Eb3q | Eb3w""",
    "a glissando": """key=-3 tempo=60
    RH: Eb4w(gliss) | Eb6w(gliss-end)
    LH: Eb2w | Eb2w""",
    "a piano's marks": """key=2 tempo=96 name=Piano
    RH: D5q(5) C#5q B4q A4q | D5w
    LH: [ped] D3h A2h | D2w [ped-up]""",
}


@cache
def converted(name: str) -> Conversion:
    return settled(notation.to_musicxml(PIECES[name]), key="keep")


def settled(source: bytes, **more: Any) -> Conversion:
    harp = load_harp("lever-34")
    book = load_rulebook(more.pop("book", "concert"), installed(), harp.player)
    score = read_source_bytes(source, "piece.musicxml")
    return convert(score, Settings(harp.harp, book, **more))


def schema(name: str) -> Draft202012Validator:
    text = (resources.files("arrange.report") / f"{name}.schema.json").read_text("utf-8")
    content = json.loads(text)
    Draft202012Validator.check_schema(content)
    return Draft202012Validator(content)


def record_of(conversion: Conversion) -> dict[str, Any]:
    """The summary as a reader of the file has it."""
    read: dict[str, Any] = json.loads(json.dumps(summary(conversion)))
    return read


@pytest.mark.parametrize("name", PIECES)
def test_the_summary_keeps_to_its_schema(name: str) -> None:
    schema("summary").validate(record_of(converted(name)))


@pytest.mark.parametrize("name", PIECES)
def test_each_line_of_the_log_keeps_to_its_schema(name: str) -> None:
    conversion = converted(name)
    lines = to_lines(conversion.log, {"harp": "lever-34", "book": "concert"}).splitlines()
    assert len(lines) > len(conversion.log.entries) > 0
    for line in lines:
        schema("changes").validate(json.loads(line))


@pytest.mark.parametrize("name", PIECES)
def test_its_own_check_and_audit_find_nothing(name: str) -> None:
    conversion = converted(name)
    record = record_of(conversion)
    assert record["check"] == {"playable": True, "violations": []}
    assert record["audit"] == {"accounted": True, "unlogged": []}


@pytest.mark.parametrize("name", PIECES)
def test_the_summary_alone_tells_a_player_enough(name: str) -> None:
    conversion = converted(name)
    read = Reading(Document.read(conversion.result, "result")).score()
    instructions = from_summary(record_of(conversion), read)
    settings = conversion.settings
    assert check(read, settings.harp, settings.book.player, instructions) == ()
    told = [(m.string, m.index, m.offset) for m in instructions.harps[0].moves]
    assert told == [(m.string, m.index, m.offset) for m in conversion.instructions.harps[0].moves]


def test_moves_say_their_cue_and_what_time_is_left() -> None:
    record = record_of(converted("a lever moves"))
    moves = record["levers"]["moves"]
    assert moves
    for move in moves:
        assert move["slack_s"] > 0
        assert (move["cue"]["index"], move["cue"]["offset"]) <= (move["index"], move["offset"])
    assert record["levers"]["proof"]["optimal"]
    assert record["levers"]["proof"]["gap"] == 0


def test_every_string_with_a_lever_has_its_place_before_the_first_note() -> None:
    record = record_of(converted("a lever moves"))
    levered = [s["string"] for s in record["harp"]["strings"] if s["raised"]]
    assert [s["string"] for s in record["levers"]["initial"]] == levered
    assert len(record["harp"]["strings"]) == 34
    assert record["harp"]["strings"][2] == {"string": "E2", "open": "Eb2", "raised": "E2"}


def test_an_open_note_stands_in_the_list_with_what_could_be_done() -> None:
    conversion = converted("a note is left open")
    points = record_of(conversion)["open"]
    assert len(points) == len(conversion.log.open_points) > 0
    assert all(point["suggestions"] and point["pitches"] for point in points)


def test_a_glissando_says_its_strings_its_hand_and_its_speed() -> None:
    (sweep,) = record_of(converted("a glissando"))["glissandi"]
    assert sweep["hand"] == "right"
    assert sweep["strings_per_s"] == 3.5
    assert (sweep["from"][0], sweep["to"][0]) == ("E", "E")
    assert sweep["until"] == {"index": 1, "offset": "0"}


def test_files_are_named_with_their_hashes() -> None:
    conversion = converted("a glissando")
    record = record_of(conversion)
    assert record["source"]["file"] == "piece.musicxml"
    assert record["result"]["file"] == "piece.lever.musicxml"
    assert record["result"]["sha256"] == hashlib.sha256(conversion.result).hexdigest()
    named = summary(conversion, result_name="other.musicxml", source_sha256="0" * 64)
    assert named["result"]["file"] == "other.musicxml"
    assert named["source"]["sha256"] == "0" * 64


def test_applied_changes_stand_in_the_order_of_the_log() -> None:
    conversion = converted("a piano's marks")
    applied = [c for c in record_of(conversion)["changes"] if c["outcome"] == "APPLIED"]
    assert [c["id"] for c in applied] == [
        e.change.id for e in conversion.log.entries if e.outcome is Outcome.APPLIED
    ]
    assert {c["kind"] for c in applied} == {"mark"}


def test_a_kept_key_and_a_chosen_one_are_told_apart() -> None:
    source = notation.to_musicxml(PIECES["a piano's marks"])
    kept = record_of(settled(source, key="keep"))["key"]
    assert kept["transposition"] == {"semitones": 0, "interval": "P1"}
    assert (kept["from"], kept["to"], kept["transposed_parts"]) == ("D major", "D major", [])
    moved = record_of(settled(source, key="-M2"))["key"]
    assert moved["transposition"] == {"semitones": -2, "interval": "-M2"}
    assert (moved["from"], moved["to"], moved["transposed_parts"]) == (
        "D major",
        "C major",
        ["P1"],
    )


def test_a_book_that_changes_nothing_has_a_summary_too() -> None:
    source = notation.to_musicxml(PIECES["a lever moves"])
    conversion = settled(source, book="none")
    record = record_of(conversion)
    schema("summary").validate(record)
    assert conversion.result == source
    assert record["changes"] == []
    assert record["source"]["sha256"] == record["result"]["sha256"]


@pytest.mark.parametrize(
    ("place", "value"),
    [
        (("version",), 2),
        (("hands", 0, "hand"), "third"),
        (("key", "transposition", "interval"), "3m"),
        (("levers", "moves", 0, "offset"), "1.5"),
        (("levers", "moves", 0, "unheard"), 1),
        (("changes", 0, "outcome"), "DONE"),
        (("harp", "strings", 0, "open"), "C♯2"),
        (("source", "sha256"), "abc"),
    ],
)
def test_the_schema_refuses_what_the_page_about_it_does_not_allow(
    place: tuple[str | int, ...], value: object
) -> None:
    record = record_of(converted("a lever moves"))
    inner: Any = record
    for step in place[:-1]:
        inner = inner[step]
    inner[place[-1]] = value
    assert not schema("summary").is_valid(record)
