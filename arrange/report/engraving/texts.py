"""The texts of an engraved picture: nested spans to runs of one font on lines."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from arrange.report.engraving.fonts import MUSIC, Cut, Fonts, Run
from arrange.score.document import Node


@dataclass(frozen=True, slots=True)
class Pen:
    """How texts are set at some place of a picture."""

    size: float = 0.0
    is_bold: bool = False
    is_italic: bool = False
    is_music: bool = False
    anchor: str = "start"

    def styled(self, look: Mapping[str, str]) -> "Pen":
        """The pen as changed by a style or an element's attributes."""
        pen = self
        if "font-size" in look:
            pen = replace(pen, size=float(look["font-size"].removesuffix("px")))
        if "font-weight" in look:
            pen = replace(pen, is_bold=look["font-weight"] == "bold")
        if "font-style" in look:
            pen = replace(pen, is_italic=look["font-style"] == "italic")
        if "font-family" in look:
            pen = replace(pen, is_music=MUSIC in look["font-family"])
        if "text-anchor" in look:
            pen = replace(pen, anchor=look["text-anchor"])
        return pen

    @property
    def cut(self) -> Cut:
        """Which font it writes with."""
        if self.is_music:
            return Cut(is_music=True)
        return Cut(is_bold=self.is_bold, is_italic=self.is_italic)


@dataclass
class Line:
    """A line of text from *x* on the line *y*; its anchor moves it when it is complete."""

    x: float
    y: float
    anchor: str
    runs: list[Run] = field(default_factory=list)


def lines_of_text(node: Node, pen: Pen, fonts: Fonts) -> list[Line]:
    """The lines of a text element, in its own coordinates."""
    setting = _Setting(fonts)
    setting.enter(node, pen)
    return [_anchored(line, fonts) for line in setting.lines if line.runs]


class _Setting:
    def __init__(self, fonts: Fonts) -> None:
        self._fonts = fonts
        self.lines: list[Line] = [Line(0.0, 0.0, "start")]

    def enter(self, node: Node, pen: Pen) -> None:
        attrs = node.attrs
        pen = pen.styled(attrs)
        if "x" in attrs or "y" in attrs:
            last = self.lines[-1]
            x, y = float(attrs.get("x", last.x)), float(attrs.get("y", last.y))
            self.lines.append(Line(x, y, pen.anchor))
        for child in node.children:
            self.enter(child, pen)
        if node.text and not node.children:
            line = self.lines[-1]
            if not line.runs:
                line.anchor = pen.anchor
            start = self._fonts.end(line.runs[-1]) if line.runs else line.x
            line.runs.extend(self._fonts.runs(node.text, pen.size, pen.cut, start))


def _anchored(line: Line, fonts: Fonts) -> Line:
    width = fonts.end(line.runs[-1]) - line.x
    back = {"middle": width / 2, "end": width}.get(line.anchor, 0.0)
    if back:
        line.runs = [replace(run, x=run.x - back) for run in line.runs]
    return line
