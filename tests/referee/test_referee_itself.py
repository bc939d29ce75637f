"""The referee finds every planted fault, and none where there is none."""

import copy
import io
import json
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from referee import judge, opening, plant
from referee.order import derived_order
from referee.tiny import (
    change,
    move,
    place,
    repeat_xml,
    score_xml,
    strings,
    summary_of,
    value,
    words_xml,
    written,
)
from referee.turns import turns_of

Rows = dict[str, Any]
PEDALS = (
    "<direction><direction-type><harp-pedals><pedal-tuning><pedal-step>D</pedal-step>"
    "<pedal-alter>0</pedal-alter></pedal-tuning></harp-pedals></direction-type></direction>"
)
OPEN, CLOSE = repeat_xml("forward", "left"), repeat_xml("backward", "right")


def good() -> tuple[bytes, bytes, Rows]:
    """A piece in F moved to E flat: a fold, a respelling, two moves, a repeat.

    The left hand plays F4 at first, the right F#4 in the third measure; D3 has no string.
    """
    source = score_xml(
        [
            ("C5:1 D5:1 E5:1 F5:1~", "G4:4 +D4:4"),
            ("~F5:4", "R:4"),
            ("G#4:4", "D3:2 +F4:2 R:2"),
            ("A#5:4!trill-mark", "R:4"),
        ],
        -1,
        {0: (OPEN + PEDALS, ""), 3: ("", CLOSE)},
    )
    result = score_xml(
        [
            ("Bb4:1 C5:1 D5:1 Eb5:1~", "F4:4 +C4:4"),
            ("~Eb5:4", "R:4"),
            ("F#4:4", "C4:2 +Eb4:2 R:2"),
            ("Ab5:4!trill-mark", "R:4"),
        ],
        -3,
        {
            0: (OPEN + words_xml("0", "Levers down"), ""),
            1: (words_xml("1", "F sharp"), ""),
            3: (words_xml("1", "F natural"), CLOSE),
        },
    )
    summary = summary_of(strings("C4", "C6"), [0, 1, 2, 3, 0, 1, 2, 3], "-M2")
    summary["key"] |= {"from": "F major", "to": "Eb major"}
    summary["key"]["ranking"] = [{"semitones": -2, "interval": "-M2", "key": "Eb major"}]
    summary["levers"]["moves"] = [
        move("F4", "up", (1, "2"), cue=place(1, "1")),
        move("F4", "down", (3, "2"), cue=place(3, "1")),
    ]
    folded, low = (value((2, "0", 2), "5", "2", pitch) for pitch in ("C4", "C3"))
    flat, sharp = (value((3, "0", 1), "1", "4", pitch) for pitch in ("Ab5", "G#5"))
    picture = "D natural"
    summary["changes"] = [
        change(1, "note", 2, [low], [folded]),
        change(2, "note", 3, [sharp], [flat]),
        change(3, "mark", 0, [place(0, "0") | {"text": picture}], []),
        change(4, "mark", 0, [], [place(0, "0") | {"text": "Levers down"}]),
        change(5, "mark", 1, [], [place(1, "1") | {"text": "F sharp"}]),
        change(6, "mark", 3, [], [place(3, "1") | {"text": "F natural"}]),
    ]
    return source, result, summary


def verdict(folder: Path, source: bytes, result: bytes, summary: Mapping[str, Any]) -> list[str]:
    """Kinds of the faults found, in order, each once."""
    faults = judge(*written(folder, source, result, summary))
    return list(dict.fromkeys(fault.kind for fault in faults))


def kinds_after(folder: Path, spoil: Callable[[Rows], None]) -> list[str]:
    """Kinds found after the good summary was spoilt."""
    source, result, summary = good()
    spoil(summary)
    return verdict(folder, source, result, summary)


def test_a_good_result_has_no_fault(tmp_path: Path) -> None:
    assert judge(*written(tmp_path, *good())) == []


def test_an_archive_is_read_like_its_score(tmp_path: Path) -> None:
    source, result, summary = good()
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
    packed = zipped(result)
    assert opening.score_bytes(packed) == result
    assert verdict(tmp_path / "a", source, packed, summary) == []
    planted = plant.note_moved(packed, summary)
    assert planted is not None
    assert planted.result.startswith(opening.ZIP_SIGN)
    assert "change" in verdict(tmp_path / "b", source, planted.result, planted.summary)


def zipped(score: bytes) -> bytes:
    """A compressed score with another member beside it."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        container = '<container><rootfiles><rootfile full-path="s.xml"/></rootfiles></container>'
        archive.writestr("META-INF/container.xml", container)
        archive.writestr("s.xml", score)
        archive.writestr("picture.png", b"x")
    return packed.getvalue()


@pytest.mark.parametrize(
    ("planting", "kind"),
    [
        (plant.note_moved, "change"),
        (plant.move_dropped, "position"),
        (plant.move_after_its_note, "position"),
        (plant.move_under_the_hand, "hand"),
        (plant.move_on_a_ringing_string, "ring"),
        (plant.log_line_removed, "change"),
        (plant.mark_line_removed, "mark"),
        (plant.initial_wrong, "position"),
        (plant.string_missing, "string"),
    ],
)
def test_a_planted_fault_is_found(tmp_path: Path, planting: plant.Plant, kind: str) -> None:
    source, result, summary = good()
    planted = planting(result, summary)
    assert planted is not None
    assert kind in verdict(tmp_path, source, planted.result, planted.summary), planted.what


def test_every_plant_is_in_the_list() -> None:
    _, result, summary = good()
    assert len(plant.every_planted(result, summary)) == len(plant.PLANTS)


def test_a_plant_leaves_the_good_summary_alone() -> None:
    _, result, summary = good()
    before = copy.deepcopy(summary)
    plant.every_planted(result, summary)
    assert summary == before


def spoil_order(rows: Rows) -> None:
    rows["performed"] = [0, 1, 2, 3]


def spoil_tempo(rows: Rows) -> None:
    rows["tempo"].append({"index": 2, "offset": "0", "quarters_per_minute": "30"})


def spoil_initial(rows: Rows) -> None:
    rows["levers"]["initial"].pop()


def spoil_interval(rows: Rows) -> None:
    rows["key"]["transposition"]["semitones"] = -1


def spoil_spelling(rows: Rows) -> None:
    rows["key"]["transposition"]["interval"] = "-d3"


def spoil_parts(rows: Rows) -> None:
    rows["key"]["transposed_parts"] = []


def spoil_hash(rows: Rows) -> None:
    rows["version"] = 2


def spoil_hand(rows: Rows) -> None:
    rows["levers"]["moves"][0]["hand"] = "right"


def spoil_cue(rows: Rows) -> None:
    rows["levers"]["moves"][0]["cue"] = place(2, "0")


def spoil_reassigned(rows: Rows) -> None:
    gone = {"part": "P1", "index": 0, "staff": 2, "offset": "0", "pitch": "D4", "hand": "right"}
    rows["reassigned"].append(gone)


def spoil_open(rows: Rows) -> None:
    rows["open"].append(place(1, "0") | {"part": "P1", "staff": 1, "pitches": ["F5"]})


def spoil_log(rows: Rows) -> None:
    rows["changes"].append(rows["changes"][0] | {"id": "again"})


def spoil_marks(rows: Rows) -> None:
    mark = place(2, "0") | {"text": "cresc."}
    rows["changes"].append(change(9, "mark", 2, [], [mark]))


@pytest.mark.parametrize(
    ("spoil", "kind"),
    [
        (spoil_order, "order"),
        (spoil_tempo, "tempo"),
        (spoil_initial, "initial"),
        (spoil_interval, "key"),
        (spoil_spelling, "change"),
        (spoil_parts, "change"),
        (spoil_hash, "summary"),
        (spoil_hand, "hand"),
        (spoil_cue, "cue"),
        (spoil_reassigned, "hand"),
        (spoil_open, "open"),
        (spoil_log, "change"),
        (spoil_marks, "mark"),
    ],
)
def test_a_wrong_summary_is_found(
    tmp_path: Path, spoil: Callable[[Rows], None], kind: str
) -> None:
    assert kind in kinds_after(tmp_path, spoil)


def test_a_wrong_hash_is_found(tmp_path: Path) -> None:
    source, result, told = written(tmp_path, *good())
    result.write_bytes(result.read_bytes() + b"\n")
    assert [fault.kind for fault in judge(source, result, told)] == ["hash"]


def test_a_summary_without_its_fields_is_one_fault(tmp_path: Path) -> None:
    source, result, told = written(tmp_path, *good())
    rows = json.loads(told.read_text())
    del rows["levers"]["initial"]
    told.write_text(json.dumps(rows))
    assert [fault.kind for fault in judge(source, result, told)] == ["summary"]


def test_an_open_note_makes_no_demand(tmp_path: Path) -> None:
    source, result, summary = good()
    summary["levers"]["moves"] = []
    assert verdict(tmp_path, source, result, summary) == ["position"]
    point = place(2, "0") | {"part": "P1", "staff": 1, "pitches": ["F#4"]}
    summary["open"] = [point]
    marked = result.replace(b'<measure number="3">', b'<measure number="3">' + ASKED)
    summary["changes"].append(change(7, "mark", 2, [], [place(2, "0") | {"text": "F#?"}]))
    assert verdict(tmp_path, source, marked, summary) == []


ASKED = words_xml("0", "F#?").encode()


@pytest.mark.parametrize(
    ("jumps", "order"),
    [
        ({1: "D.C. al Fine", 0: "Fine"}, [0, 1, 0]),
        ({1: "Segno", 3: "D.S."}, [0, 1, 2, 3, 1, 2, 3]),
        ({0: "To Coda", 2: "D.C. al Coda", 3: "Coda"}, [0, 1, 2, 0, 3]),
        ({0: "Fine", 1: "To Coda", 2: "D.C. al Coda", 3: "Coda"}, [0, 1, 2, 0, 1, 3]),
        ({1: "Fine", 0: "To Coda", 2: "D.C. al Fine", 3: "Coda"}, [0, 1, 2, 0, 1]),
    ],
)
def test_words_that_jump_are_followed(jumps: dict[int, str], order: list[int]) -> None:
    extras = {index: (words_xml("0", words), "") for index, words in jumps.items()}
    score = score_xml([("C5:4", "R:4")] * 4, 0, extras)
    assert derived_order(turns_of(opening.tree_of(score))) == order


def ending(number: str, kind: str, location: str, repeat: str = "") -> str:
    """One end of an ending."""
    sign = '<repeat direction="backward"/>' if repeat else ""
    return (
        f'<barline location="{location}"><ending number="{number}" type="{kind}"/>{sign}</barline>'
    )


def test_endings_are_taken_on_their_passes_and_repeats_not_again_after_a_jump() -> None:
    extras = {
        0: (OPEN, ""),
        1: (ending("1, 2", "start", "left"), ending("1, 2", "stop", "right", "yes")),
        2: (ending("3", "start", "left"), ending("3", "stop", "right")),
        3: (words_xml("0", "D.C."), ""),
    }
    score = score_xml([("C5:4", "R:4")] * 4, 0, extras)
    found = derived_order(turns_of(opening.tree_of(score)))
    assert found == [0, 1, 0, 1, 0, 2, 3, 0, 2, 3]
