"""A printed page as ink: every line, sign and text with what it belongs to and where it lies."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from arrange.errors import Fault
from arrange.report.engraving.engraver import Engraving
from arrange.report.engraving.fonts import Fonts, Run
from arrange.report.engraving.geometry import AS_IT_IS, Box, Frame, Outline, crosses
from arrange.report.engraving.shapes import NUMBER, frame_of, outline_of, outline_of_path
from arrange.report.engraving.texts import Pen, lines_of_text
from arrange.score.document import Node
from arrange.score.parsing import parsed

_STYLE = re.compile(r"(?P<names>[^{}]+)\{(?P<rules>[^{}]*)\}")


@dataclass(frozen=True, slots=True)
class Group:
    """What ink belongs to.

    Attributes:
        names: the engraver's names from the outermost group to the innermost: ``measure``,
            ``staff``, ``layer``, ``note``, ``stem``.
        ids: their ids, empty where a group has none.
    """

    names: tuple[str, ...] = ()
    ids: tuple[str, ...] = ()

    def within(self, name: str) -> str | None:
        """The id of the group of that name; None where the ink stands in none."""
        for place, found in enumerate(self.names):
            if found == name:
                return self.ids[place]
        return None

    @property
    def name(self) -> str:
        """The innermost name."""
        return self.names[-1] if self.names else ""


@dataclass(frozen=True)
class Ink:
    """One thing drawn.

    Attributes:
        box: around it, in mm from the upper left corner of the page.
        outline, frame: a shape and where it lies; None for texts.
        is_filled: the shape is filled; *stroke*: how thick its line is, in mm, 0 for none.
        dashes: lengths of dash and gap, in mm; *cap*: ``butt``, ``round`` or ``square``.
        runs, line_y: a text's runs and the height of its line.
    """

    group: Group
    box: Box
    outline: Outline | None = None
    frame: Frame = AS_IT_IS
    is_filled: bool = False
    stroke: float = 0.0
    dashes: tuple[float, ...] = ()
    cap: str = "butt"
    runs: tuple[Run, ...] = ()
    line_y: float = 0.0

    @property
    def text(self) -> str:
        """What it says; empty for shapes."""
        return "".join(run.text for run in self.runs)

    def meets(self, box: Box) -> bool:
        """Whether any of the ink lies in a box."""
        if not self.box.meets(box):
            return False
        if self.outline is None or self.group.name in _COMPACT:
            return True
        half = self.stroke / 2
        return any(
            crosses(box.grown(half), [self.frame.at(p) for p in line], is_filled=self.is_filled)
            for line in self.outline.lines
        )


_COMPACT = frozenset({"notehead", "accid", "dots", "dynam", "flag", "rest", "clef", "artic"})
"""Signs that fill their boxes."""


@dataclass(frozen=True)
class Sheet:
    """A page as ink; *number* from 1."""

    number: int
    width_mm: float
    height_mm: float
    ink: tuple[Ink, ...]


def sheets(engraving: Engraving, fonts: Fonts) -> tuple[Sheet, ...]:
    """The pages of an engraving as ink."""
    signs: dict[str, Outline] = {}
    return tuple(
        _Picture(svg, number, fonts, signs).sheet()
        for number, svg in enumerate(engraving.pages, 1)
    )


@dataclass(frozen=True, slots=True)
class _Where:
    group: Group
    frame: Frame
    pen: Pen


class _Picture:
    """One SVG picture of the engraver: groups, paths, signs by reference, polygons, texts."""

    def __init__(self, svg: str, number: int, fonts: Fonts, signs: dict[str, Outline]) -> None:
        self._root = parsed(svg, f"page {number}")
        self._number = number
        self._fonts = fonts
        self._signs = signs
        self._shapes = {
            f"#{node.attrs.get('id', '')}": node
            for defs in self._root.find_all("defs")
            for node in defs.children
        }
        self._styles = dict(_styles(self._root))
        self._found: list[Ink] = []

    def sheet(self) -> Sheet:
        inner = self._root.find("svg")
        if inner is None:
            raise Fault("the engraver's picture has no page in it")
        outer = [float(n) for n in self._root.attrs["viewBox"].split()]
        size = [float(n) for n in inner.attrs["viewBox"].split()]
        mm = 1 / 10
        frame = Frame(a=outer[2] / size[2] * mm, d=outer[3] / size[3] * mm)
        self._walk(inner, _Where(Group(), frame, Pen()))
        return Sheet(self._number, outer[2] * mm, outer[3] * mm, tuple(self._found))

    def _walk(self, node: Node, where: _Where) -> None:
        for child in node.children:
            inner = self._entered(child, where)
            match child.tag:
                case "g":
                    if "placeholder" not in inner.group.name:
                        self._walk(child, inner)
                case "text":
                    self._text(child, inner)
                case "use":
                    self._sign(child, inner)
                case "path" | "polygon" | "polyline" | "rect" | "ellipse":
                    self._shape(child, inner)
                case "title" | "desc" | "style":
                    pass
                case _:
                    raise Fault(f"the engraver draws a {child.tag!r}, which is not known here")

    def _entered(self, node: Node, where: _Where) -> _Where:
        frame = where.frame
        if "transform" in node.attrs:
            frame = frame_of(node.attrs["transform"]).within(frame)
        if node.tag != "g":
            return replace(where, frame=frame)
        name = node.attrs.get("class", "")
        pen = where.pen
        for word in name.split():
            pen = pen.styled(self._styles.get(word, {}))
        group = where.group
        if name:
            group = Group((*group.names, name), (*group.ids, node.attrs.get("id", "")))
        return _Where(group, frame, pen)

    def _shape(self, node: Node, where: _Where) -> None:
        attrs = node.attrs
        outline = outline_of(node)
        is_line = node.tag == "polyline" or attrs.get("fill") == "none"
        self._add(
            where,
            outline,
            is_filled=not is_line and attrs.get("fill-opacity") != "0",
            stroke=float(attrs.get("stroke-width", "1")) * where.frame.scale,
            dashes=tuple(
                float(n) * where.frame.scale
                for n in NUMBER.findall(attrs.get("stroke-dasharray", ""))
            ),
            cap=attrs.get("stroke-linecap", "butt"),
        )

    def _sign(self, node: Node, where: _Where) -> None:
        shape = self._shapes[node.attrs.get("xlink:href") or node.attrs.get("href", "")]
        for path in shape.iter("path"):
            frame = where.frame
            for part in (shape, path):
                if "transform" in part.attrs:
                    frame = frame_of(part.attrs["transform"]).within(frame)
            self._add(replace(where, frame=frame), self._outline(path.attrs["d"]), is_filled=True)

    def _outline(self, path: str) -> Outline:
        """The outline of a sign, one for all places where it stands."""
        if path not in self._signs:
            self._signs[path] = outline_of_path(path)
        return self._signs[path]

    def _add(self, where: _Where, outline: Outline, **look: Any) -> None:
        box = outline.box
        if box is None:
            return
        corners = [(x, y) for x in (box.left, box.right) for y in (box.top, box.bottom)]
        around = Box.around([where.frame.at(p) for p in corners])
        around = around.grown(look.get("stroke", 0.0) / 2)
        self._found.append(Ink(where.group, around, outline, where.frame, **look))

    def _text(self, node: Node, where: _Where) -> None:
        for line in lines_of_text(node, where.pen, self._fonts):
            scale = where.frame.scale
            x, y = where.frame.at((line.x, line.y))
            runs = tuple(
                replace(
                    run,
                    x=x + (run.x - line.x) * scale,
                    size=run.size * scale,
                    rise=run.rise * scale,
                )
                for run in line.runs
            )
            if any(run.text.strip() for run in runs):
                box = text_box(runs, y, self._fonts)
                self._found.append(Ink(where.group, box, runs=runs, line_y=y))


def text_box(runs: tuple[Run, ...], y: float, fonts: Fonts) -> Box:
    """The box around a text on the line *y*."""
    heights = [fonts.face(run.cut).height(run.text) for run in runs]
    above = max(h[0] * run.size + run.rise for h, run in zip(heights, runs, strict=True))
    below = max(h[1] * run.size - run.rise for h, run in zip(heights, runs, strict=True))
    return Box(runs[0].x, y - above, fonts.end(runs[-1]), y + below)


def _styles(root: Node) -> Iterator[tuple[str, Mapping[str, str]]]:
    """What the picture's style sheet says of groups, by name."""
    for node in root.find_all("style"):
        for found in _STYLE.finditer(node.text):
            pairs = [rule.partition(":") for rule in found["rules"].split(";") if ":" in rule]
            rules = {name.strip(): value.strip() for name, _, value in pairs}
            for name in re.findall(r"g\.([\w-]+)\s*(?:,|$)", found["names"].strip()):
                yield name, rules
