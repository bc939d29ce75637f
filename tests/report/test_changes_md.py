"""The change log in Markdown: whole, in a harpist's words, and harmless."""

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
    assert len(changes) == len(record["changes"])
    rows = [line for line in lines if line.startswith("| ") and line.endswith(" s |")]
    assert len(rows) == len(record["levers"]["moves"])
    assert f"## Open points ({len(record['open'])})" in lines
    assert f"## Noticed ({len(conversion.log.findings)})" in lines
    others = sum(
        not option["taken"] for change in record["changes"] for option in change["options"]
    )
    assert sum(line.startswith("  - or: ") for line in lines) == others


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
