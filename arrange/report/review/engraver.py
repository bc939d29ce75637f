"""The one place of the review page that calls the engraver."""

import re
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from arrange.errors import BadInput
from arrange.report.engraving.needs import engraver
from arrange.report.review.drawing import Drawing, drawn
from arrange.report.review.preview import Preview, Side, preview

PAGE_WIDTH = 1750
"""Tenths of a millimetre; what a system takes at print size (house judgement)."""
_LOOK = {
    "adjustPageHeight": True,
    "breaks": "encoded",
    "condense": "none",
    "footer": "none",
    "header": "none",
    "minLastJustification": 0.55,
    "mnumInterval": 0,
    "pageHeight": 60000,
    "pageMarginBottom": 15,
    "pageMarginLeft": 5,
    "pageMarginRight": 10,
    "pageMarginTop": 15,
    "pageWidth": PAGE_WIDTH,
    "scale": 100,
    "svgFormatRaw": True,
    "svgRemoveXlink": True,
    "svgViewBox": True,
    "xmlIdSeed": 1,
}
INSTALL = "this page needs the engraver; install it: pip install 'leverwright[review]'"
_MUSIC_FONT = re.compile(r"url\((data:application/font-woff2;[\w=;,-]*base64,[\w+/=]+)\)")


class Engraved:
    """One score, drawn.

    Attributes:
        drawings: its systems, in order.
        glyphs: the outlines that they use, by name.
        music_font: the font of music signs within words, as a data URL; "" where none occur.
    """

    def __init__(self, drawings: Sequence[Drawing], glyphs: dict[str, str], font: str) -> None:
        self.drawings = drawings
        self.glyphs = glyphs
        self.music_font = font


def engraved(side: Side, starts: Sequence[int], prefix: str, file: str) -> Engraved:
    """Draw a score, one picture a system.

    Args:
        side: the score.
        starts: indices of the measures that begin a system, the first one included.
        prefix: ``b`` or ``a``: put before every id, so that ids are unique in the page.
        file: its name, for messages.

    Raises:
        BadInput: the engraver is not installed, or cannot draw the score.
    """
    return engraved_copy(preview(side, starts), prefix, file)


def engraved_copy(
    copy: Preview, prefix: str, file: str, look: Mapping[str, object] = MappingProxyType({})
) -> Engraved:
    """Draw a score that is written for the engraver, one picture a page of it.

    Args:
        copy: the score.
        prefix: put before every id.
        file: its name, for messages.
        look: settings of the engraver in place of the page's own.

    Raises:
        BadInput: the engraver is not installed, or cannot draw the score.
    """
    toolkit = engraver({**_LOOK, **look}, INSTALL)
    if not toolkit.loadData(copy.text) or not toolkit.getPageCount():
        raise BadInput("the engraver cannot draw it", file=file)
    glyphs: dict[str, str] = {}
    font = ""
    drawings = []
    for page in range(1, toolkit.getPageCount() + 1):
        svg = str(toolkit.renderToSVG(page))
        if not font:
            match = _MUSIC_FONT.search(svg)
            font = match[1] if match else ""
        drawings.append(drawn(svg, prefix, copy.marks, glyphs))
    return Engraved(drawings, glyphs, font)
