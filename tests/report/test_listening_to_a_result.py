"""A converted score as it is heard: strings sound what their levers give, and moves are made."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import corpus
from arrange.harp.files import load_harp
from arrange.pipeline import Conversion, Settings, convert
from arrange.registry import installed
from arrange.report.listening import note_id, timeline
from arrange.report.summary import summary
from arrange.rulebook import load_rulebook
from arrange.score.container import read_source

HOME = Path(corpus.__file__).parent
HARP = load_harp("lever-34").harp


def converted(name: str) -> Conversion:
    book = load_rulebook("concert", installed(), {})
    return convert(read_source(HOME / f"{name}.musicxml"), Settings(HARP, book))


def off_its_lever(heard: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """The plucks that sound something else than their string as its lever stands."""
    strings = {row["string"]: row for row in heard["strings"]}
    standing = dict(heard["initial"][0])
    moves = list(heard["moves"])
    for row in heard["plucks"]:
        pluck = dict(zip(heard["columns"], row, strict=True))
        while moves and moves[0]["at"] <= pluck["at"]:
            move = moves.pop(0)
            standing[move["string"]] = move["position"]
        string = strings[pluck["string"]]
        is_up = standing.get(pluck["string"]) == "up"
        octave = 12 if pluck["touch"] == "harmonic" else 0
        if pluck["midi"] - octave != string["raised" if is_up else "open"]:
            yield pluck


@pytest.mark.parametrize("name", ["barcarolle-glissandi", "air-variations-c-flat"])
def test_every_string_sounds_as_its_lever_stands_but_for_open_notes(name: str) -> None:
    conversion = converted(name)
    heard = timeline(conversion.score, HARP, conversion.instructions)
    left_open = {note_id(note) for note in conversion.instructions.left_open}
    assert heard["moves"]
    assert "swept" in {row[heard["columns"].index("touch")] for row in heard["plucks"]}
    wrong = [pluck for pluck in off_its_lever(heard) if left_open.isdisjoint(pluck["notes"])]
    assert wrong == []
    assert timeline(conversion.score, HARP) == heard


def test_the_moves_that_are_heard_are_those_of_the_summary() -> None:
    conversion = converted("barcarolle-glissandi")
    told = summary(conversion)["levers"]["moves"]
    heard = timeline(conversion.score, HARP, conversion.instructions)["moves"]
    assert [(m["string"], m["position"], m["hand"]) for m in heard] == [
        (m["string"], m["position"], m["hand"]) for m in told
    ]
