"""Shapes on a page: outlines, how they are moved and scaled, what they meet. Lengths in mm."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import cos, radians, sin

Point = tuple[float, float]
Step = tuple[str, tuple[Point, ...]]
"""``m`` move, ``l`` line, ``c`` curve (two handles and the end), ``z`` close."""
_PIECES = 8
"""A curve is taken as so many straight pieces (house judgement: 0.1 mm at most beside it)."""


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle; *top* is less than *bottom*."""

    left: float
    top: float
    right: float
    bottom: float

    @classmethod
    def around(cls, points: list[Point]) -> "Box":
        """The least box around some points."""
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        return cls(min(xs), min(ys), max(xs), max(ys))

    def meets(self, other: "Box") -> bool:
        """Whether they share more than an edge."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def grown(self, by: float) -> "Box":
        """Larger on every side; smaller where *by* is below zero."""
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)

    def joined(self, other: "Box") -> "Box":
        """The least box around both."""
        return Box(
            min(self.left, other.left),
            min(self.top, other.top),
            max(self.right, other.right),
            max(self.bottom, other.bottom),
        )


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a shape's own coordinates lie on the page: x' = a x + c y + e, y' = b x + d y + f."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    def within(self, outer: "Frame") -> "Frame":
        """This frame as the outer one's coordinates have it."""
        return Frame(
            outer.a * self.a + outer.c * self.b,
            outer.b * self.a + outer.d * self.b,
            outer.a * self.c + outer.c * self.d,
            outer.b * self.c + outer.d * self.d,
            outer.a * self.e + outer.c * self.f + outer.e,
            outer.b * self.e + outer.d * self.f + outer.f,
        )

    def at(self, point: Point) -> Point:
        """Where a point of the shape lies."""
        x, y = point
        if not self.b and not self.c:
            return self.a * x + self.e, self.d * y + self.f
        return self.a * x + self.c * y + self.e, self.b * x + self.d * y + self.f

    @property
    def scale(self) -> float:
        """How much longer lengths become."""
        return float(abs(self.a * self.d - self.b * self.c) ** 0.5)


AS_IT_IS = Frame()
"""A shape in the page's own coordinates."""


def turned(degrees: float, x: float = 0.0, y: float = 0.0) -> Frame:
    """A turn about a point."""
    c, s = cos(radians(degrees)), sin(radians(degrees))
    return Frame(c, s, -s, c, x - c * x + s * y, y - s * x - c * y)


@dataclass(frozen=True, eq=False)
class Outline:
    """A shape in its own coordinates; one is the same as another only if it is that one."""

    steps: tuple[Step, ...]

    @cached_property
    def lines(self) -> tuple[tuple[Point, ...], ...]:
        """The shape as lines of straight pieces."""
        return tuple(_flattened(self.steps))

    @cached_property
    def box(self) -> Box | None:
        """The box around it and the handles of its curves; None where nothing is drawn."""
        points = [point for _, step in self.steps for point in step]
        return Box.around(points) if len(points) > 1 else None


def _flattened(steps: tuple[Step, ...]) -> Iterator[tuple[Point, ...]]:
    line: list[Point] = []
    for kind, points in steps:
        match kind:
            case "m":
                if len(line) > 1:
                    yield tuple(line)
                line = [points[0]]
            case "l":
                line.append(points[0])
            case "c":
                line.extend(_curve(line[-1], *points))
            case _:
                line.append(line[0])
    if len(line) > 1:
        yield tuple(line)


def _curve(start: Point, one: Point, two: Point, end: Point) -> Iterator[Point]:
    for piece in range(1, _PIECES + 1):
        t = piece / _PIECES
        u = 1 - t
        weights = (u * u * u, 3 * u * u * t, 3 * u * t * t, t * t * t)
        corners = (start, one, two, end)
        yield (
            sum(w * p[0] for w, p in zip(weights, corners, strict=True)),
            sum(w * p[1] for w, p in zip(weights, corners, strict=True)),
        )


def crosses(box: Box, line: list[Point], *, is_filled: bool) -> bool:
    """Whether a line of straight pieces runs through a box, or a filled shape covers it."""
    if any(_piece_crosses(box, a, b) for a, b in pairwise(line)):
        return True
    centre = ((box.left + box.right) / 2, (box.top + box.bottom) / 2)
    return is_filled and _is_inside(centre, line)


def _piece_crosses(box: Box, start: Point, end: Point) -> bool:
    """The piece clipped by the box: something of it remains."""
    (x, y), (dx, dy) = start, (end[0] - start[0], end[1] - start[1])
    enter, leave = 0.0, 1.0
    for delta, to_low, to_high in (
        (dx, box.left - x, box.right - x),
        (dy, box.top - y, box.bottom - y),
    ):
        if delta == 0:
            if to_low > 0 or to_high < 0:
                return False
            continue
        near, far = sorted((to_low / delta, to_high / delta))
        enter, leave = max(enter, near), min(leave, far)
    return enter < leave


def _is_inside(point: Point, line: list[Point]) -> bool:
    x, y = point
    inside = False
    for (ax, ay), (bx, by) in zip(line, [*line[1:], line[0]], strict=True):
        if (ay > y) != (by > y) and x < (bx - ax) * (y - ay) / (by - ay) + ax:
            inside = not inside
    return inside
