"""The command that compares: what it prints, what it writes, what it refuses."""

import json
from pathlib import Path

import pytest
from compared_sheets import note, public_score, sheet, transposed
from jsonschema import Draft202012Validator

import arrange.report
from arrange.cli import main
from arrange.report.compare import as_json, compare

SCHEMA = Path(arrange.report.__file__).parent / "comparison.schema.json"


@pytest.fixture
def pair(tmp_path: Path) -> tuple[str, str]:
    before, after = tmp_path / "before.musicxml", tmp_path / "after.musicxml"
    before.write_bytes(sheet(note("C4") + note("D4")))
    after.write_bytes(sheet(note("C4") + note("E4")))
    return str(before), str(after)


def test_prints_text(pair: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", *pair]) == 0
    printed = capsys.readouterr()
    assert "D4 becomes E4 (up a major second)." in printed.out
    assert printed.err == ""


def test_prints_one_json_document(
    pair: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["compare", *pair, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["counts"]["notes"] == 1


@pytest.mark.parametrize(
    ("ending", "begins"),
    [("html", "<!DOCTYPE html>"), ("md", "# "), ("json", "{")],
)
def test_writes_what_the_ending_says(
    pair: tuple[str, str], tmp_path: Path, ending: str, begins: str
) -> None:
    out = tmp_path / "new" / f"changes.{ending}"
    assert main(["compare", *pair, "-o", str(out)]) == 0
    written = out.read_text("utf-8")
    assert written.startswith(begins)
    assert "E4" in written


def test_refuses_an_ending_that_says_nothing(pair: tuple[str, str], tmp_path: Path) -> None:
    out = tmp_path / "changes.pdf"
    assert main(["compare", *pair, "-o", str(out)]) == 2
    assert not out.exists()


def test_never_overwrites_a_score(tmp_path: Path) -> None:
    score = tmp_path / "score.html"
    score.write_bytes(sheet(note("C4")))
    assert main(["compare", str(score), str(score), "-o", str(score)]) == 2
    assert score.read_bytes() == sheet(note("C4"))


def test_a_missing_file_is_one_line(
    pair: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["compare", pair[0], "nowhere.musicxml"]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.count("\n") == 1
    assert "nowhere.musicxml" in printed.err


def test_every_record_keeps_the_schema() -> None:
    validator = Draft202012Validator(json.loads(SCHEMA.read_text("utf-8")))
    one, two = public_score("bach/bwv66.6.mxl"), public_score("schumann_clara/polonaise_op1n1.mxl")
    for other in (one, transposed(one, "m3"), two):
        record = as_json(compare(one, other, ("one", "two")))
        assert [error.message for error in validator.iter_errors(record)] == []
