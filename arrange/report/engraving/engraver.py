"""The engraver: a score in, its pages as pictures out, at the size at which they are printed."""

import re
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from arrange.errors import BadInput
from arrange.report.engraving.headings import Heading
from arrange.report.engraving.needs import engraver
from arrange.report.engraving.papers import FOOTING_MM, Paper
from arrange.report.engraving.preview import CLOSE, OPEN, PreviewCopy
from arrange.score.own import SETTING

if TYPE_CHECKING:
    import verovio

UNITS_A_MM = 10
"""The engraver counts in tenths of a millimetre; its pictures in hundredths."""
LEAST_STAFF_MM, MOST_STAFF_MM = 3.6, 9.6
"""What the engraver can draw."""
_HALF_SPACES = 8
"""A staff is four spaces high, and the engraver's unit is half a space."""
_TEXTS = ("dir", "tempo", "reh", "dynam", "harm", "repeatMark")
_MARKED = re.compile(
    rf"<(?P<tag>{'|'.join(_TEXTS)}) xml:id=\"[^\"]*\"(?P<attrs>[^>]*)>(?P<body>.*?)</(?P=tag)>",
    re.DOTALL,
)
_MARKER = re.compile(f"{OPEN}([0-9]+){CLOSE}")
_HEAD = re.compile(r"<pgHead.*?</pgHead>", re.DOTALL)
_FOOT = re.compile(r"<pgFoot.*?</pgFoot>", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Engraving:
    """The pages of a score as SVG pictures, and the fonts that they name."""

    pages: tuple[str, ...]
    fonts: Path


def engraved(copy: PreviewCopy, paper: Paper, file: str, *, is_paged: bool = False) -> Engraving:
    """Engrave a copy of a score.

    Texts of the music get their printed size and the id ``w-N``, by their place in
    ``copy.words``; measures keep the ids of the copy. The words at the top stand among the
    tempo marks, so that marks at notes come below them.

    Args:
        copy: the marked copy.
        paper: the sheets.
        file: the score's name, for messages.
        is_paged: lines and pages begin where the copy says so, not where they are full.

    Raises:
        BadInput: the engraver is not installed, or cannot read the score.
    """
    first = _toolkit(copy, paper)
    if not first.loadData(copy.text):
        raise BadInput("the engraver cannot draw this score", file=file)
    second = _toolkit(copy, paper, breaks="encoded" if is_paged else "auto")
    if not second.loadData(_sized(first.getMEI(), copy)):
        raise BadInput("the engraver cannot draw this score", file=file)
    pages = tuple(second.renderToSVG(page + 1) for page in range(second.getPageCount()))
    return Engraving(pages, Path(second.getResourcePath()))


def _toolkit(copy: PreviewCopy, paper: Paper, breaks: str = "none") -> "verovio.toolkit":
    margin = round(paper.margin_mm * UNITS_A_MM)
    staff = min(max(copy.staff_mm, LEAST_STAFF_MM), MOST_STAFF_MM)
    return engraver(
        {
            "breaks": breaks,
            "footer": "none",
            "justifyVertically": breaks == "encoded",
            "header": "encoded",
            "pageHeight": round(paper.height_mm * UNITS_A_MM),
            "pageWidth": round(paper.width_mm * UNITS_A_MM),
            "pageMarginBottom": margin + round(FOOTING_MM * UNITS_A_MM),
            "pageMarginLeft": margin,
            "pageMarginRight": margin,
            "pageMarginTop": margin,
            "smuflTextFont": "none",
            "svgViewBox": True,
            "unit": round(staff * UNITS_A_MM / _HALF_SPACES, 3),
            "xmlIdSeed": 1,
        }
    )


def _sized(encoded: str, copy: PreviewCopy) -> str:
    """The engraver's own encoding, with texts in their sizes and the headings as we have them."""
    encoded = _MARKED.sub(lambda found: _marked(found, copy), encoded)
    encoded = _MARKER.sub("", _FOOT.sub("", _HEAD.sub("", encoded)))
    head = "".join(map(_heading, copy.headings))
    scored = encoded.index(">", encoded.index("<scoreDef")) + 1
    return f'{encoded[:scored]}<pgHead func="first">{head}</pgHead>{encoded[scored:]}'


def _marked(found: re.Match[str], copy: PreviewCopy) -> str:
    body = found["body"]
    numbers = [int(number) for number in _MARKER.findall(body)]
    if not numbers:
        return found[0]
    sizes = iter(f' fontsize="{copy.words[number].size_pt:g}pt"' for number in numbers)
    size = next(sizes)
    tag = found["tag"]
    if copy.words[numbers[0]].own.startswith(SETTING):
        tag = "tempo"
    if "<rend" in body:
        body = re.sub("<rend", lambda _: f"<rend{next(sizes, size)}", body)
    else:
        body = f"<rend{size}>{body}</rend>"
    body = body.replace("</rend>(", "</rend> (", 1)
    attrs = found["attrs"]
    if "tstamp=" not in attrs and "startid=" not in attrs:
        attrs += f' tstamp="{copy.words[numbers[0]].beat:g}"'
    return f'<{tag} xml:id="w-{numbers[0]}"{attrs}>{body}</{tag}>'


def _heading(heading: Heading) -> str:
    if heading.is_footing:
        return ""
    weight = ' fontweight="bold"' if heading.kind == "title" else ""
    place = "top" if heading.side == "center" else "bottom"
    lines = "<lb/>".join(map(escape, heading.lines))
    return (
        f'<rend halign="{heading.side}" valign="{place}" '
        f'fontsize="{heading.size_pt:g}pt"{weight}>{lines}</rend>'
    )
