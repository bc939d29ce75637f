"""The change log in Markdown: whole, in a harpist's words, and harmless."""

import re
from dataclasses import replace
from pathlib import Path

from printed_scores import converted

from arrange.report.changes_md import changes_markdown
from arrange.report.plain_text import in_html, in_markdown

EXPECTED = Path(__file__).with_name("lullaby.changes.md")
"""As ``convert lullaby-windy-night.musicxml --markdown`` writes it."""


def test_the_log_of_a_demo_score_reads_as_it_should() -> None:
    conversion, record = converted("lullaby-windy-night.musicxml")
    record = {**record, "result": {**record["result"], "file": "lullaby-windy-night.musicxml"}}
    assert changes_markdown(conversion, record) == EXPECTED.read_text("utf-8")


def test_every_change_move_and_open_point_has_its_line() -> None:
    conversion, record = converted("siciliana-flute-harp.musicxml")
    lines = changes_markdown(conversion, record).splitlines()
    changes = [line for line in lines if line.startswith("- ") and line.endswith("*")]
    assert sum(map(_made, changes)) == len(record["changes"])
    rows = [line for line in lines if line.startswith("| ") and line.endswith(" s |")]
    assert len(rows) == len(record["levers"]["moves"])
    assert f"## Open points ({len(record['open'])})" in lines
    assert f"## Noticed ({len(conversion.log.findings)})" in lines
    ways = {
        f"  - or: {option['text']} (price {option['cost'] / 100:.2f} lever moves)"
        for change in record["changes"]
        for option in change["options"]
        if not option["taken"]
    }
    assert ways
    assert {line for line in lines if line.startswith("  - or: ")} == ways


def _made(line: str) -> int:
    """How many changes a line speaks of."""
    where = re.match(
        r"- (?:part [^,]+, )?measures? (\d+(?: \(\d+ times\))?(?:, \d+(?: \(.*?\))?)*)", line
    )
    assert where is not None, line
    return sum(int(n or 1) for n in re.findall(r"\d+(?: \((\d+) times\))?", where[1]))


def test_changes_that_say_the_same_share_a_line() -> None:
    conversion, record = converted("air-variations-c-flat.musicxml")
    lines = changes_markdown(conversion, record).splitlines()
    alike = [line for line in lines if "so it is written G natural" in line]
    assert len(alike) == 1
    said = [c for c in record["changes"] if "so it is written G natural" in c["reason"]]
    assert _made(alike[0]) == len(said) > 6
    assert alike[0].startswith("- measures 17 (2 times), 21 (2 times), 49")


def test_hostile_text_is_shown_and_never_carried_out() -> None:
    conversion, record = converted("lullaby-windy-night.musicxml")
    title = "<script>alert(1)</script> [x](javascript:y) **b**\n# head \u202e"
    hostile = replace(conversion, score=replace(conversion.score, title=title))
    first, second = changes_markdown(hostile, record).split("\n", 1)
    assert first.startswith("# \\<script\\>alert(1)\\</script\\> \\[x\\](javascript:y) \\*\\*b")
    assert "\u202e" not in first
    assert "alert" not in second
    assert in_markdown("1. # - no list") == "1\\. # - no list"
    assert in_markdown("# no head") == "\\# no head"
    assert in_html('<a href="x">\n&') == "&lt;a href=&quot;x&quot;&gt; &amp;"
