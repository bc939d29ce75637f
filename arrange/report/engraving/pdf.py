"""Pages of ink as a PDF: the same bytes for the same pages, its fonts in it.

The date in it is always the same one, and says nothing.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from arrange.errors import BadInput
from arrange.report.engraving.fonts import Cut, Fonts
from arrange.report.engraving.geometry import Frame, Outline
from arrange.report.engraving.ink import Ink, Sheet
from arrange.report.engraving.needs import INSTALL

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

_CAPS = {"butt": 0, "round": 1, "square": 2}
_POINTS_A_MM = 72 / 25.4
_MANY = 2
"""An outline drawn so often is kept once and called by name."""


@dataclass(frozen=True, slots=True)
class Titles:
    """What a PDF says of itself."""

    title: str = ""
    author: str = ""
    subject: str = ""


def pdf_of(pages: Sequence[Sheet], fonts: Fonts, titles: Titles) -> bytes:
    """The pages as one PDF.

    Raises:
        BadInput: the library that writes PDF files is not installed.
    """
    return _Writing(fonts).written(pages, titles)


class _Writing:
    def __init__(self, fonts: Fonts) -> None:
        self._fonts = fonts
        self._forms: dict[Outline, str] = {}
        self._known: set[str] = set()

    def written(self, pages: Sequence[Sheet], titles: Titles) -> bytes:
        file = io.BytesIO()
        self._know(Cut())
        canvas = _canvas(file, Cut().name)
        canvas.setTitle(titles.title)
        canvas.setAuthor(titles.author)
        canvas.setSubject(titles.subject)
        canvas.setCreator("leverwright")
        self._keep_signs(canvas, pages)
        for page in pages:
            canvas.setPageSize((page.width_mm * _POINTS_A_MM, page.height_mm * _POINTS_A_MM))
            canvas.transform(_POINTS_A_MM, 0, 0, -_POINTS_A_MM, 0, page.height_mm * _POINTS_A_MM)
            for ink in page.ink:
                self._draw(canvas, ink)
            canvas.showPage()
        canvas.save()
        return file.getvalue()

    def _keep_signs(self, canvas: "Canvas", pages: Sequence[Sheet]) -> None:
        """Signs that come again and again are written once."""
        counts: dict[Outline, int] = {}
        for page in pages:
            for ink in page.ink:
                if ink.outline is not None and ink.is_filled and not ink.stroke:
                    counts[ink.outline] = counts.get(ink.outline, 0) + 1
        for outline, count in counts.items():
            box = outline.box
            if count < _MANY or box is None:
                continue
            name = f"sign{len(self._forms)}"
            canvas.beginForm(name, box.left, box.top, box.right, box.bottom)
            canvas.drawPath(_path(canvas, outline, Frame()), stroke=0, fill=1)
            canvas.endForm()
            self._forms[outline] = name

    def _draw(self, canvas: "Canvas", ink: Ink) -> None:
        if ink.outline is None:
            self._write(canvas, ink)
            return
        name = self._forms.get(ink.outline) if not ink.stroke else None
        if name is not None:
            frame = ink.frame
            canvas.saveState()
            canvas.transform(frame.a, frame.b, frame.c, frame.d, frame.e, frame.f)
            canvas.doForm(name)
            canvas.restoreState()
            return
        if ink.stroke:
            canvas.setLineWidth(ink.stroke)
            canvas.setLineCap(_CAPS[ink.cap])
            canvas.setDash(list(ink.dashes))
        path = _path(canvas, ink.outline, ink.frame)
        canvas.drawPath(path, stroke=int(ink.stroke > 0), fill=int(ink.is_filled))

    def _write(self, canvas: "Canvas", ink: Ink) -> None:
        for run in ink.runs:
            if not run.text.strip():
                continue
            self._know(run.cut)
            canvas.saveState()
            canvas.transform(1, 0, 0, -1, run.x, ink.line_y - run.rise)
            text: Any = canvas.beginText(0, 0)
            text.setFont(run.cut.name, run.size)
            text.textOut(run.text)
            canvas.drawText(text)
            canvas.restoreState()

    def _know(self, cut: Cut) -> None:
        """Put a font where the PDF library finds it by name."""
        if cut.name not in self._known:
            _register(cut.name, self._fonts.face(cut).file)
            self._known.add(cut.name)


def _canvas(file: io.BytesIO, first_font: str) -> "Canvas":
    try:
        from reportlab.pdfgen.canvas import Canvas  # noqa: PLC0415 - only who prints needs it
    except ImportError as missing:
        raise BadInput(INSTALL) from missing
    return Canvas(file, invariant=1, pageCompression=1, initialFontName=first_font)


def _register(name: str, file: bytes) -> None:
    try:
        from reportlab.pdfbase.pdfmetrics import registerFont  # noqa: PLC0415 - as above
        from reportlab.pdfbase.ttfonts import TTFont  # noqa: PLC0415
    except ImportError as missing:
        raise BadInput(INSTALL) from missing

    registerFont(TTFont(name, io.BytesIO(file)))


def _path(canvas: "Canvas", outline: Outline, frame: Frame) -> Any:
    path: Any = canvas.beginPath()
    for kind, points in outline.steps:
        numbers = [n for point in points for n in frame.at(point)]
        match kind:
            case "m":
                path.moveTo(*numbers)
            case "l":
                path.lineTo(*numbers)
            case "c":
                path.curveTo(*numbers)
            case _:
                path.close()
    return path
