"""The sign-off sheet says what the summary says."""

import re
from typing import Any

import pytest
from printed_scores import converted

from arrange.report.proofs.records import Proof, ProofFinding, Subject
from arrange.report.sign_off import Sheet, sign_off_sheet
from arrange.report.sign_off_pages import sign_off_html, sign_off_markdown

DECISIONS = {
    "file": "x.toml",
    "same_source": True,
    "all_declined": False,
    "entries": [
        {"kind": "decline", "change": "a", "rule": "set-levers", "what": "keep the B flat",
         "place": {"measure": "5"}, "by": "EM", "note": "", "outcome": "APPLIED", "detail": ""},
        {"kind": "pin", "change": "", "rule": "", "what": "the key is kept", "place": None,
         "by": "", "note": "", "outcome": "STALE", "detail": "the measure is gone"},
    ],
}  # fmt: skip
PROOF = Proof("a4", 2, 7.0, (ProofFinding(Subject.TURN, 1, 3, 9, "10", "No time."),))


@pytest.fixture(scope="module")
def record() -> dict[str, Any]:
    return converted("siciliana-flute-harp.musicxml")[1]


def _cells(row: str) -> list[str]:
    return [cell.strip() for cell in row.strip("|").split("|")]


def test_the_numbers_are_the_summary_s(record: dict[str, Any]) -> None:
    applied = [c for c in record["changes"] if c["outcome"] == "APPLIED"]
    text = sign_off_markdown(sign_off_sheet(record, "Nocturne"))
    rows = {_cells(r)[0]: _cells(r)[1:] for r in text.splitlines() if r.startswith("| ")}
    for rule in {c["rule"] for c in applied}:
        of_rule = [c["fidelity"] for c in applied if c["rule"] == rule]
        kinds = [of_rule.count(f) for f in ("EXACT", "IDIOMATIC", "LOSSY")]
        assert rows[rule] == [str(number) for number in (*kinds, len(of_rule))]
    assert rows["in all"][-1] == str(len(applied))
    assert f"{len(record['levers']['moves'])} moves" in text
    assert f"## Open: {len(record['open'])}" in text


def test_it_names_who_decided_what_is_open_and_the_proof(record: dict[str, Any]) -> None:
    sheet = sign_off_sheet({**record, "decisions": DECISIONS}, "Nocturne", PROOF)
    for text in (sign_off_markdown(sheet), sign_off_html(sheet)):
        assert "measure 5: declined: keep the B flat, by EM" in text
        assert "by someone who gave no name (stale: the measure is gone)" in text
        assert "page 1, line 3, measure 10: No time." in text
        assert "needs its owner" in text
        assert text.index("Player or teacher") > text.index("Signed")


def test_a_failed_check_or_audit_is_not_hidden(record: dict[str, Any]) -> None:
    failed = {
        **record,
        "check": {"playable": False, "violations": [{}, {}]},
        "audit": {"accounted": False, "unlogged": ["x"]},
    }
    text = sign_off_markdown(sign_off_sheet(failed, "Nocturne"))
    assert "Check: 2 things cannot be played" in text
    assert "Audit: 1 difference not in the log" in text


def test_it_stays_one_page_however_much_there_is(record: dict[str, Any]) -> None:
    one = record["changes"][0]
    many = {
        **record,
        "changes": [{**one, "rule": f"rule-{n}", "outcome": "APPLIED"} for n in range(40)],
        "open": [{**record["open"][0], "problem": "Long. " * 100}] * 50,
    }
    sheet = sign_off_sheet(many, "Nocturne", PROOF)
    assert len(sheet.rules) == 17
    assert sheet.rules[-1][0] == "24 other rules"
    assert sheet.sums[-1] == 40
    assert sum(len(texts) for _, texts in sheet.lists) <= 12
    assert max(len(text) for _, texts in sheet.lists for text in texts) <= 115


def test_hostile_text_is_harmless(record: dict[str, Any]) -> None:
    title = '</title><script>alert(1)</script>"\n| x'
    sheet = sign_off_sheet(record, title)
    page = sign_off_html(sheet)
    assert "<script" not in page
    assert "Content-Security-Policy" in page
    assert not re.search(r"(?m)^\| x", sign_off_markdown(sheet))


def test_without_changes_the_sums_are_nothing(record: dict[str, Any]) -> None:
    sheet: Sheet = sign_off_sheet({**record, "changes": []}, "")
    assert sheet.sums == (0, 0, 0, 0)
    assert sheet.title == record["source"]["file"]
