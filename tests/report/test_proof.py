"""The proof: planted faults are found, and a clean page has none."""

import json
from dataclasses import replace
from importlib import resources
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from printed_scores import SLIP, converted, noted, on_paper, performed

from arrange.cli import main
from arrange.report.engraving.geometry import Box
from arrange.report.engraving.ink import Ink, Sheet
from arrange.report.proof import Printed, proof_of, rights_of
from arrange.report.proofs.layout import Layout
from arrange.report.proofs.records import ProofFinding, Subject, proof_record

CUE = "leverwright.cue.1.F4.up.left.0.2.all"
SETTING = (
    '"Lever harp, 34 strings (C2 to A6), uses C3 to G5.¶1 lever move. Level: concert. '
    'Tuning: E-flat.¶Set levers for C major (E, A, B up)."#leverwright.setting'
)
PLAIN = (
    f"tempo=60 name=Harp\nRH: {SETTING} C5h [mf] D5h | E5h F5h | G5w\n"
    f'LH: "middle F♯"#{CUE} C3w | rw | C3w'
)
RIGHTS = b"<identification><rights>All of it is ours</rights></identification><part-list>"


def _score(text: str = PLAIN) -> bytes:
    return noted(text).replace(b"<part-list>", RIGHTS, 1)


def _found(sheet: Printed, score: bytes) -> list[ProofFinding]:
    return list(proof_of(sheet, performed(score)).findings)


@pytest.fixture(scope="module")
def clean() -> tuple[Printed, bytes]:
    score = _score()
    return on_paper(score), score


def _the_cue(page: Sheet) -> Ink:
    (cue,) = [ink for ink in page.ink if ink.text == "middle F♯"]
    return cue


def _with_the_cue_at(sheet: Printed, x: float, y: float) -> Printed:
    """The page with the cue's left lower corner moved there."""
    page = sheet.pages[0]
    cue = _the_cue(page)
    dx, dy = x - cue.box.left, y - cue.line_y
    box = Box(cue.box.left + dx, cue.box.top + dy, cue.box.right + dx, cue.box.bottom + dy)
    runs = tuple(replace(run, x=run.x + dx) for run in cue.runs)
    moved = replace(cue, box=box, runs=runs, line_y=cue.line_y + dy)
    ink = tuple(moved if one is cue else one for one in page.ink)
    return replace(sheet, pages=(replace(page, ink=ink),))


def test_a_clean_page_has_no_findings(clean: tuple[Printed, bytes]) -> None:
    assert _found(*clean) == []


@pytest.mark.parametrize(
    ("group", "kind"),
    [("notehead", "notes"), ("dynam", "dynamics"), ("barLine", "barline"), ("staff", "staff")],
)
def test_a_cue_that_is_put_on_other_ink_is_found(
    clean: tuple[Printed, bytes], group: str, kind: str
) -> None:
    sheet, score = clean
    target = next(ink.box for ink in sheet.pages[0].ink if ink.group.name == group)
    moved = _with_the_cue_at(sheet, target.left - 0.5, target.bottom)
    against = {f.against: f for f in _found(moved, score) if f.subject is Subject.COLLISION}
    assert kind in against
    found = against[kind]
    assert (found.page, found.system, found.measure) == (1, 1, "1")
    assert found.words == "middle F♯"


def test_a_cue_on_other_words_and_one_over_the_edge_are_found(
    clean: tuple[Printed, bytes],
) -> None:
    sheet, score = clean
    words = next(ink for ink in sheet.pages[0].ink if ink.text.startswith("Lever harp"))
    on_words = _found(_with_the_cue_at(sheet, words.box.left, words.line_y), score)
    assert {f.against for f in on_words} == {"words"}
    assert len(on_words) == 2, "each of the two that meet"
    beyond = _found(_with_the_cue_at(sheet, 205.0, 150.0), score)
    assert [f.against for f in beyond] == ["edge"]


def test_a_cue_over_a_barline_that_the_engraver_interrupts_for_it_is_found() -> None:
    long = "middle F♯ and " * 6
    score = _score(PLAIN.replace('"middle F♯"', f'"{long}"'))
    assert "barline" in {f.against for f in _found(on_paper(score), score)}


def test_a_cue_that_was_not_drawn_is_found(clean: tuple[Printed, bytes]) -> None:
    sheet, score = clean
    page = sheet.pages[0]
    ink = tuple(one for one in page.ink if one is not _the_cue(page))
    missing = replace(sheet, pages=(replace(page, ink=ink),))
    assert [f.subject for f in _found(missing, score)] == [Subject.UNSEEN]


def test_a_turn_without_a_free_hand_is_found_and_one_in_a_rest_is_not() -> None:
    busy, low = " ".join(["C5e D5e"] * 4), " ".join(["C3e D3e"] * 4)
    fast = _score(
        "tempo=100 name=Harp\nRH: " + " | ".join([busy] * 8) + "\nLH: " + " | ".join([low] * 8)
    )
    slow = _score("tempo=50 name=Harp\nRH: " + " | ".join(["C5q rh."] * 40) + "\nLH: C3w")
    for score, expected in ((fast, True), (slow, False)):
        sheet = on_paper(score, SLIP)
        assert len(sheet.pages) > 1
        found = [f for f in _found(sheet, score) if f.subject is Subject.TURN]
        assert bool(found) is expected
        assert all(f.page and f.text.startswith("The turn to page") for f in found)


def test_a_move_just_after_a_turn_is_found() -> None:
    measures = ["C5q D5q E5q F5q"] * 12
    score = _score("tempo=60 name=Harp\nRH: " + " | ".join(measures) + "\nLH: C3w")
    sheet = on_paper(score, SLIP)
    first = min(i for i, spot in _spots(sheet).items() if spot == 2)
    left = ["rw"] * 12
    left[first] = f'"middle F♯"#{CUE.replace(".0.2.", ".0.1.")} rw'
    moved = _score("tempo=60 name=Harp\nRH: " + " | ".join(measures) + "\nLH: " + " | ".join(left))
    again = on_paper(moved, SLIP)
    assert min(i for i, spot in _spots(again).items() if spot == 2) == first
    found = [f for f in _found(again, moved) if f.subject is Subject.MOVE_AFTER_TURN]
    assert [(f.page, f.index) for f in found] == [(2, first)]
    assert "0.7 s after the turn" in found[0].text


def _spots(sheet: Printed) -> dict[int, int]:
    layout = Layout(sheet.copy, sheet.pages, sheet.paper.margin_mm)
    return {index: spot.page for index, spot in layout.spots.items()}


def test_a_passage_on_many_ledger_lines_is_found_and_a_single_high_note_is_not() -> None:
    high = _score(PLAIN.replace("E5h F5h", "C7e D7e C7e D7e C7e D7e C7e D7e"))
    found = [f for f in _found(on_paper(high), high) if f.subject is Subject.LEDGER_LINES]
    assert [(f.measure, f.text[:15]) for f in found] == [("2", "8 notes in a ro")]
    once = _score(PLAIN.replace("E5h F5h", "C7h F5h"))
    assert all(f.subject is not Subject.LEDGER_LINES for f in _found(on_paper(once), once))


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ("Tuning: E-flat.", "", "does not say the tuning"),
        (", uses C3 to G5", "", "does not say which strings are used"),
        ("Level: concert. ", "", "does not say the level"),
        ("1 lever move.", "3 lever moves.", "speaks of 3 lever moves; the music has 1 cue"),
    ],
)
def test_what_the_first_page_leaves_unsaid_is_found(before: str, after: str, said: str) -> None:
    score = _score(PLAIN.replace(before, after))
    (found,) = _found(on_paper(score), score)
    assert found.subject is Subject.STATEMENT
    assert said in found.text


def test_a_lost_rights_line_is_found() -> None:
    score = noted(PLAIN)
    before = rights_of(_score(), "before")
    proof = proof_of(on_paper(score), performed(score), before)
    assert [f.text for f in proof.findings] == [
        "The rights line “All of it is ours” is gone.",
        "The first page has no rights line.",
    ]


def test_small_staves_and_signs_that_no_font_has_are_found() -> None:
    scaling = b"<scaling><millimeters>5</millimeters><tenths>40</tenths></scaling>"
    scaling = b"<defaults>" + scaling + b"</defaults>"
    small = _score().replace(b"<part-list>", scaling + b"<part-list>")
    assert Subject.STAVES in {f.subject for f in _found(on_paper(small), small)}
    strange = _score(PLAIN.replace("[mf]", '"竪琴"'))
    (found,) = _found(on_paper(strange), strange)
    assert found.subject is Subject.LETTERS
    assert "U+7AEA" in found.text


def test_every_line_of_a_demo_score_has_its_measure_number_and_every_cue_is_seen() -> None:
    result = converted("siciliana-flute-harp.musicxml")[0].result
    subjects = {f.subject for f in _found(on_paper(result), result)}
    assert not subjects & {Subject.UNSEEN, Subject.MEASURE_NUMBERS, Subject.STATEMENT}


def _is_by_the_schema(said: object) -> bool:
    text = resources.files("arrange.report").joinpath("proof.schema.json").read_text("utf-8")
    return Draft202012Validator(json.loads(text)).is_valid(said)


def test_the_record_is_by_its_schema(clean: tuple[Printed, bytes]) -> None:
    sheet, score = clean
    moved = _with_the_cue_at(sheet, 205.0, 150.0)
    proof = proof_of(moved, performed(score))
    source = {"file": "x.musicxml", "sha256": "0" * 64}
    assert proof.findings
    assert _is_by_the_schema(proof_record(proof, source))
    assert not _is_by_the_schema(proof_record(replace(proof, paper="slip"), source))


def test_the_command_prints_says_and_returns_what_it_found(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    score, pdf = tmp_path / "plain.musicxml", tmp_path / "plain.pdf"
    score.write_bytes(_score())
    assert main(["proof", str(score), "-o", str(pdf)]) == 0
    assert capsys.readouterr().out == (
        "plain.musicxml: 1 page of A4, staves 7.0 mm high, no findings\n"
    )
    assert pdf.read_bytes().startswith(b"%PDF-")
    score.write_bytes(noted(PLAIN))
    assert main(["proof", str(score), "--json"]) == 3
    said = json.loads(capsys.readouterr().out)
    assert [f["subject"] for f in said["findings"]] == ["title statement"]
    assert _is_by_the_schema(said)
    assert main(["proof", str(score), "-o", str(tmp_path / "plain.png")]) == 2
