"""Whole conversions of the corpus: what is promised of every one of them."""

import hashlib
import json
from pathlib import Path

import pytest
from referee import judge
from referee.plant import every_planted
from schema import schema_faults

from arrange.apply.replay import replay
from arrange.apply.transposing import transpose
from arrange.changes import ChangeLog, from_lines, to_lines
from arrange.harp.files import load_harp
from arrange.pipeline import Conversion, Settings, convert
from arrange.registry import installed
from arrange.report.summary import summary
from arrange.rulebook import load_rulebook
from arrange.score.container import read_source, read_source_bytes
from arrange.score.document import Document
from arrange.score.reading import Reading

CORPUS = Path(__file__).parents[1] / "corpus"
SCORES = sorted(path for path in CORPUS.iterdir() if path.suffix in {".musicxml", ".mxl"})
NAMES = [path.stem for path in SCORES]


def settings(harp: str = "lever-34", book: str = "concert", key: str = "auto") -> Settings:
    file = load_harp(harp)
    return Settings(file.harp, load_rulebook(book, installed(), file.player), key=key)


@pytest.fixture(scope="module", params=SCORES, ids=NAMES)
def converted(request: pytest.FixtureRequest) -> tuple[Path, Conversion]:
    path: Path = request.param
    return path, convert(read_source(path), settings())


def written(folder: Path, path: Path, conversion: Conversion) -> tuple[Path, Path]:
    result = folder / path.name
    result.write_bytes(conversion.result)
    told = folder / f"{path.stem}.summary.json"
    source_sha = hashlib.sha256(path.read_bytes()).hexdigest()
    record = summary(conversion, result_name=path.name, source_sha256=source_sha)
    told.write_text(json.dumps(record), encoding="utf-8")
    return result, told


def test_a_conversion_passes_its_own_check_and_audit(
    converted: tuple[Path, Conversion],
) -> None:
    _, conversion = converted
    assert conversion.violations == ()
    assert conversion.unlogged == ()


def test_a_result_is_valid_musicxml(converted: tuple[Path, Conversion]) -> None:
    """The MusicXML 4.0 schema, published by the W3C."""
    path, conversion = converted
    result = read_source_bytes_of(conversion, path)
    assert schema_faults(result) == []


def read_source_bytes_of(conversion: Conversion, path: Path) -> bytes:
    return read_source_bytes(conversion.result, path.name).score_bytes


def test_a_result_satisfies_the_referee(
    converted: tuple[Path, Conversion], tmp_path: Path
) -> None:
    path, conversion = converted
    result, told = written(tmp_path, path, conversion)
    assert judge(path, result, told) == []


def test_the_referee_finds_every_planted_fault(tmp_path: Path) -> None:
    path = CORPUS / "romance-clarinet-harp.musicxml"
    conversion = convert(read_source(path), settings())
    result, told = written(tmp_path, path, conversion)
    record = json.loads(told.read_text(encoding="utf-8"))
    planted = every_planted(conversion.result, record)
    assert len(planted) >= 6
    for plant in planted:
        plant.write(result, told)
        assert judge(path, result, told), plant.what


def test_converting_a_result_again_writes_the_same_bytes(
    converted: tuple[Path, Conversion], tmp_path: Path
) -> None:
    path, conversion = converted
    result, _ = written(tmp_path, path, conversion)
    again = convert(read_source(result), settings())
    assert again.result == conversion.result


def test_the_log_replays_to_the_same_bytes(converted: tuple[Path, Conversion]) -> None:
    path, conversion = converted
    document = Document.read(conversion.source.score_bytes, path.name)
    reading = Reading(document)
    transpose(document, conversion.transposed_parts, conversion.interval)
    replay(document, reading, from_lines(to_lines(conversion.log)))
    assert document.to_bytes() == read_source_bytes_of(conversion, path)


@pytest.mark.parametrize("path", SCORES, ids=NAMES)
def test_the_empty_book_gives_the_source_back(path: Path) -> None:
    conversion = convert(read_source(path), settings(book="none"))
    assert conversion.result == path.read_bytes()
    assert conversion.is_sound


def test_proposals_and_entries_are_as_many(converted: tuple[Path, Conversion]) -> None:
    _, conversion = converted
    log: ChangeLog = conversion.log
    ids = [entry.change.id for entry in log.entries]
    assert len(ids) == len(set(ids))


def test_the_same_score_and_settings_give_the_same_bytes() -> None:
    path = CORPUS / "waltz-slow-afternoon.musicxml"
    one = convert(read_source(path), settings("lever-36"))
    two = convert(read_source(path), settings("lever-36"))
    assert one.result == two.result
    assert to_lines(one.log) == to_lines(two.log)
