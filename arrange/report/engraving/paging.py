"""Where pages begin: lines of music shared out so that turns fall where a hand is free."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from arrange.report.engraving.geometry import Box
from arrange.report.engraving.ink import Sheet

ENOUGH_S = 2.0
"""So much time is as good as any for turning a page (house judgement)."""
_TURN, _EMPTY = 100.0, 40.0
"""What a turn without any time costs, and a page without music (house judgement)."""
LEAST_GAP_MM = 5.0
"""Between two lines of music (house judgement)."""
_Way = tuple[float, tuple[int, ...]]
"""What some pages cost, and the lines before which they end."""


@dataclass(frozen=True, slots=True)
class System:
    """A line of music.

    Attributes:
        page: counted from 1; *first*, *last*: its measures, counted from 0.
    """

    page: int
    first: int
    last: int
    box: Box


def systems(pages: Sequence[Sheet]) -> tuple[System, ...]:
    """The lines of music of engraved pages, in order."""
    found: list[System] = []
    for page in pages:
        boxes: dict[str, Box] = {}
        measures: dict[str, list[int]] = {}
        for ink in page.ink:
            name = ink.group.within("system")
            if name is None:
                continue
            boxes[name] = boxes[name].joined(ink.box) if name in boxes else ink.box
            index = measure_of(ink.group.within("measure"))
            if index is not None:
                measures.setdefault(name, []).append(index)
        found.extend(
            System(page.number, min(measures[name]), max(measures[name]), box)
            for name, box in boxes.items()
            if name in measures
        )
    return tuple(found)


def measure_of(id_: str | None) -> int | None:
    """The measure that an id of the copy names."""
    if id_ is None or not id_.startswith("m-"):
        return None
    return int(id_.removeprefix("m-"))


def better_starts(
    lines: Sequence[System], floor_mm: float, free_s: Mapping[int, float]
) -> dict[int, bool] | None:
    """Where lines begin, and whether a page does, on no more pages than before.

    Args:
        lines: the lines of music as pages that are filled in order have them.
        floor_mm: how far down music may reach.
        free_s: by the measure that begins a page, the time that a hand has to turn to it.

    Returns:
        Measure to whether a page begins there; None where the pages are good as they are.
    """
    if len({line.page for line in lines}) < 2:
        return None
    before = [n for n, line in enumerate(lines) if n and line.page != lines[n - 1].page]
    best = _best(lines, floor_mm, free_s)
    if best is None or best == before:
        return None
    return {line.first: n in best for n, line in enumerate(lines) if n}


def reaches_no_lower(lines: Sequence[System], floor_mm: float) -> bool:
    """Whether all music stays above the foot of the page."""
    return all(line.box.bottom <= floor_mm for line in lines)


def _best(
    lines: Sequence[System], floor_mm: float, free_s: Mapping[int, float]
) -> list[int] | None:
    """The lines that begin pages after the first: on the fewest pages, then at the least cost."""
    tops = {line.page: line.box.top for line in reversed(lines)}
    rooms = (floor_mm - lines[0].box.top, floor_mm - min(tops.values()))
    gap = max(_gap(lines), LEAST_GAP_MM)
    heights = [line.box.bottom - line.box.top + gap for line in lines]
    ends: dict[int, _Way] = {0: (0.0, ())}
    for page in range(len(tops)):
        room = rooms[min(page, 1)] + gap
        following: dict[int, _Way] = {}
        for begin, (cost, starts) in ends.items():
            filled = 0.0
            for end in range(begin + 1, len(lines) + 1):
                filled += heights[end - 1]
                if filled > room and end > begin + 1:
                    break
                price = cost + _price(lines, end, 1 - filled / room, free_s)
                if end not in following or price < following[end][0]:
                    following[end] = (price, (*starts, end))
        ends = following
        if len(lines) in ends:
            return list(ends[len(lines)][1][:-1])
    return None


def _price(lines: Sequence[System], end: int, empty: float, free_s: Mapping[int, float]) -> float:
    if end == len(lines):
        return 0.0
    lacking = max(ENOUGH_S - free_s.get(lines[end].first, ENOUGH_S), 0.0)
    return _TURN * lacking / ENOUGH_S + _EMPTY * max(empty, 0.0) ** 2


def _gap(lines: Sequence[System]) -> float:
    """The usual room between two lines."""
    gaps = sorted(
        two.box.top - one.box.bottom for one, two in pairwise(lines) if one.page == two.page
    )
    return max(gaps[len(gaps) // 2], 0.0) if gaps else 0.0
