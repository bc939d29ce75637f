"""The page itself: one file that opens from disk, loads nothing and runs only its own script."""

import base64
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from importlib.resources import files
from string import Template
from typing import Any

from arrange.report.comparing.wording import visible
from arrange.report.listening import listening_script
from arrange.report.review.payload import script_json
from arrange.report.review.sheets import Sheets

_SCRIPTS = (
    "elements", "sheets", "map", "harp", "entries", "decisions", "file", "chosen", "player",
    "start",
)  # fmt: skip
_STYLES = ("page", "sheets", "panel", "print")


@dataclass(frozen=True, slots=True)
class Page:
    """What a page shows.

    Attributes:
        kind: ``Review`` or ``Comparison``; *title*: its heading.
        facts: lines under the heading; *figures*: what is counted, each with its number.
        harps: pictures of harps, with their settings in words.
        remarks: what was noticed, for the end of the page.
        content: what the script needs: the entries, and what `review_content` adds.
    """

    kind: str
    title: str
    facts: tuple[str, ...]
    figures: tuple[tuple[str, str], ...]
    sheets: Sheets
    content: Mapping[str, Any]
    harps: tuple[tuple[str, str], ...] = ()
    remarks: tuple[str, ...] = ()


def page_html(page: Page) -> str:
    """The file's text."""
    sheets = page.sheets
    style = "\n".join(_asset(f"{name}.css") for name in _STYLES)
    if sheets.music_font:
        style += f'\n@font-face{{font-family:"engraved";src:url("{sheets.music_font}")}}'
    script = "\n".join(_asset(f"{name}.js") for name in _SCRIPTS)
    script = f'"use strict";\n(() => {{\n{script}\n}})();'
    sound = listening_script()
    content = {
        "kind": page.kind.lower(),
        "columns": sheets.columns,
        "rows": sheets.rows,
        **page.content,
    }
    return Template(_asset("page.html")).substitute(
        policy=content_policy(style, sound, script),
        kind=_text(page.kind),
        kind_class=page.kind.lower(),
        title=_text(page.title),
        style=style,
        facts="".join(f"<p>{_text(fact)}</p>" for fact in page.facts),
        figures="".join(
            f"<li><strong>{_text(number)}</strong> {_text(what)}</li>"
            for number, what in page.figures
        ),
        glyphs="".join(
            f'<path id="g-{name}" transform="scale(1,-1)" d="{outline}"/>'
            for name, outline in sheets.glyphs.items()
        ),
        harps="".join(
            f'<div class="harp-holder">{picture}<p class="setting">{_text(words)}</p></div>'
            for picture, words in page.harps
        ),
        remarks=_remarks(page.remarks),
        content=script_json(content),
        sound=sound,
        script=script,
    )


def _asset(name: str) -> str:
    return (files("arrange.report.review") / "assets" / name).read_text("utf-8")


def content_policy(style: str, *scripts: str) -> str:
    """What the page may do: its own style and scripts, by their hashes; nothing from elsewhere."""
    allowed = " ".join(map(_hash, scripts))
    return (
        f"default-src 'none'; script-src {allowed}; style-src {_hash(style)}; "
        "font-src data:; img-src data:; base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    return f"'sha256-{digest}'"


def _remarks(remarks: tuple[str, ...]) -> str:
    if not remarks:
        return ""
    lines = "".join(f"<li>{_text(remark)}</li>" for remark in remarks)
    return (
        f'<details id="remarks"><summary>What was noticed ({len(remarks)})</summary>'
        f"<ul>{lines}</ul></details>"
    )


def _text(text: str) -> str:
    return escape(visible(text))
