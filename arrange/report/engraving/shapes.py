"""From an SVG picture's elements to outlines and frames."""

import re
from collections.abc import Iterator

from arrange.errors import Fault
from arrange.report.engraving.geometry import Frame, Outline, Point, Step, turned
from arrange.score.document import Node

NUMBER = re.compile(r"-?(?:\d+\.?\d*|\.\d+)(?:[eE]-?\d+)?")
_TURNS = re.compile(r"(\w+)\s*\(([^)]*)\)")
_PLAIN = re.compile(r"(?:[MLC][-\d., ]+)+")
_STEPS = re.compile(r"([MLC])([^MLC]+)")
_ROUND = 0.5522847
"""How far the handles of a quarter circle reach."""


def frame_of(text: str) -> Frame:
    """Read a ``transform`` attribute: moves, scalings, turns."""
    frame = Frame()
    for kind, numbers in _TURNS.findall(text):
        values = [float(n) for n in NUMBER.findall(numbers)]
        match kind:
            case "translate":
                step = Frame(e=values[0], f=values[1])
            case "scale":
                step = Frame(a=values[0], d=values[-1])
            case "rotate":
                step = turned(*values)
            case _:
                raise Fault(f"the engraver turns a sign by {kind!r}, which is not known here")
        frame = step.within(frame)
    return frame


def outline_of(node: Node) -> Outline:
    """The outline of a path, polygon, line, rectangle or ellipse."""
    attrs = node.attrs
    if node.tag == "path":
        return outline_of_path(attrs["d"])
    if node.tag in ("polygon", "polyline"):
        values = [float(n) for n in NUMBER.findall(attrs["points"])]
        return _straight(
            list(zip(values[::2], values[1::2], strict=True)), is_closed=node.tag == "polygon"
        )
    if node.tag == "rect":
        x, y, width, height = (float(attrs[n]) for n in ("x", "y", "width", "height"))
        corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
        return _straight(corners, is_closed=True)
    return _round(*(float(attrs[n]) for n in ("cx", "cy", "rx", "ry")))


def _straight(points: list[Point], *, is_closed: bool) -> Outline:
    steps: list[Step] = [("m", (points[0],)), *(("l", (p,)) for p in points[1:])]
    return Outline((*steps, ("z", ())) if is_closed else tuple(steps))


def _round(x: float, y: float, rx: float, ry: float) -> Outline:
    hx, hy = rx * _ROUND, ry * _ROUND
    return Outline(
        (
            ("m", ((x + rx, y),)),
            ("c", ((x + rx, y + hy), (x + hx, y + ry), (x, y + ry))),
            ("c", ((x - hx, y + ry), (x - rx, y + hy), (x - rx, y))),
            ("c", ((x - rx, y - hy), (x - hx, y - ry), (x, y - ry))),
            ("c", ((x + hx, y - ry), (x + rx, y - hy), (x + rx, y))),
            ("z", ()),
        )
    )


_KINDS = {"moveTo": "m", "lineTo": "l", "curveTo": "c", "closePath": "z", "endPath": ""}


def outline_of_path(text: str) -> Outline:
    """Read the ``d`` of a path; curves with one handle get two."""
    if _PLAIN.fullmatch(text):
        return Outline(tuple(_plain_steps(text)))
    return _outline_of_any_path(text)


def _plain_steps(text: str) -> Iterator[Step]:
    """Read a path of nothing but moves, lines and curves to absolute places; most are."""
    for kind, numbers in _STEPS.findall(text):
        values = [float(n) for n in NUMBER.findall(numbers)]
        points = list(zip(values[::2], values[1::2], strict=True))
        size = 3 if kind == "C" else 1
        for place in range(0, len(points), size):
            yield kind.lower(), tuple(points[place : place + size])


def _outline_of_any_path(text: str) -> Outline:
    from fontTools.pens.recordingPen import RecordingPen  # noqa: PLC0415 - as the fonts
    from fontTools.svgLib.path import parse_path  # noqa: PLC0415

    pen = RecordingPen()
    parse_path(text, pen)
    steps: list[Step] = []
    for name, points in pen.value:
        if name == "qCurveTo":
            steps.append(("c", _raised(steps[-1][1][-1], points)))
        elif _KINDS[name]:
            steps.append((_KINDS[name], points))
    return Outline(tuple(steps))


def _raised(start: Point, points: tuple[Point, Point]) -> tuple[Point, ...]:
    """A curve with one handle as one with two."""
    handle, end = points
    one = tuple(s + 2 / 3 * (h - s) for s, h in zip(start, handle, strict=True))
    two = tuple(e + 2 / 3 * (h - e) for e, h in zip(end, handle, strict=True))
    return (one[0], one[1]), (two[0], two[1]), end
