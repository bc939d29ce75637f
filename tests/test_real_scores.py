"""Scores that nobody wrote for this program: converted, or refused with a reason, never broken."""

import hashlib
import importlib.util
import json
from pathlib import Path

import pytest
from referee import judge
from schema import schema_faults

from arrange.errors import BadInput
from arrange.harp.files import load_harp
from arrange.pipeline import Conversion, Settings, convert
from arrange.registry import installed
from arrange.report.summary import summary
from arrange.rulebook import load_rulebook
from arrange.score.container import Source, read_source, read_source_bytes
from arrange.score.document import Document
from arrange.score.reading import Reading
from arrange.score.reading.part_list import part_nodes

# The library is found, not loaded: only its scores are wanted.
_FOUND = importlib.util.find_spec("music21")
assert _FOUND is not None
assert _FOUND.origin is not None
LIBRARY = Path(_FOUND.origin).parent
SUITE = sorted((LIBRARY / "musicxml" / "lilypondTestSuite").glob("*.*l"))
KEYBOARD = [
    LIBRARY / "corpus" / name
    for name in (
        "bach/bwv846.mxl",
        "bach/bwv52.6.mxl",
        "corelli/opus3no1/1grave.xml",
        "demos/two-parts.xml",
        "demos/two-voices.xml",
        "handel/rinaldo/Lascia_chio_pianga.mxl",
        "liliuokalani/aloha_oe.mxl",
        "mozart/k545/movement1_exposition.mxl",
        "schoenberg/opus19/movement2.mxl",
        "schoenberg/opus19/movement6.mxl",
        "schumann_robert/opus48no2.mxl",
        "theoryExercises/TriadExercise.mxl",
        "verdi/laDonnaEMobile.mxl",
    )
]
NO_INSTRUMENT = "no part is named as a harp or keyboard"


def settings(parts: tuple[str, ...] = (), harp: str = "lever-34") -> Settings:
    file = load_harp(harp)
    return Settings(file.harp, load_rulebook("concert", installed(), file.player), parts=parts)


def first_part(source: Source) -> str:
    """The part that a user would have to choose where none is named as a harp."""
    parts, _ = part_nodes(Document.read(source.score_bytes, source.name).root, source.name)
    return parts[0].listed.id


def wanted_for(path: Path) -> Settings:
    """What a user asks for: the named instrument, or a part of choice where none is named."""
    source = read_source(path)
    try:
        Reading(Document.read(source.score_bytes, source.name)).score()
    except BadInput as refusal:
        if NO_INSTRUMENT not in str(refusal):
            raise
        return settings((first_part(source),))
    return settings()


def held_to_every_promise(path: Path, wanted: Settings, folder: Path) -> Conversion:
    """Convert a score; what a conversion promises has to be kept for it."""
    source = read_source(path)
    conversion = convert(source, wanted)
    assert conversion.violations == ()
    assert conversion.unlogged == ()
    result = folder / path.name
    result.write_bytes(conversion.result)
    if not schema_faults(source.score_bytes):
        score_bytes = read_source_bytes(conversion.result, path.name).score_bytes
        assert schema_faults(score_bytes) == []
    told = folder / f"{path.stem}.summary.json"
    sha = hashlib.sha256(path.read_bytes()).hexdigest()
    record = summary(conversion, result_name=path.name, source_sha256=sha)
    told.write_text(json.dumps(record), encoding="utf-8")
    assert judge(path, result, told) == []
    assert convert(read_source(result), wanted).result == conversion.result
    return conversion


@pytest.mark.parametrize("path", KEYBOARD, ids=lambda path: path.stem)
def test_a_keyboard_piece_keeps_every_promise(path: Path, tmp_path: Path) -> None:
    conversion = held_to_every_promise(path, settings(), tmp_path)
    assert conversion.result != path.read_bytes()


@pytest.mark.parametrize("path", SUITE, ids=lambda path: path.stem)
def test_a_score_of_the_suite_keeps_every_promise(path: Path, tmp_path: Path) -> None:
    held_to_every_promise(path, wanted_for(path), tmp_path)


def test_a_score_that_names_no_instrument_is_refused_with_its_parts() -> None:
    assert len(SUITE) == 143
    refused = [path for path in SUITE if wanted_for(path).parts]
    assert len(refused) > 100
    for path in refused[::10]:
        with pytest.raises(BadInput, match=NO_INSTRUMENT) as refusal:
            convert(read_source(path), settings())
        assert path.name in str(refusal.value)
        assert wanted_for(path).parts[0] in str(refusal.value)


@pytest.mark.parametrize("harp", ["lever-22", "lever-26", "lever-34-C"])
def test_a_small_harp_leaves_open_what_it_cannot_play(harp: str, tmp_path: Path) -> None:
    path = LIBRARY / "corpus" / "schoenberg/opus19/movement6.mxl"
    conversion = held_to_every_promise(path, settings(harp=harp), tmp_path)
    assert conversion.is_sound
