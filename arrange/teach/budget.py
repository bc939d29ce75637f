"""What of a lesson the two printed pages have room for; the rest is on the screen.

The first page sets up the harp, the second practises. Lines are estimated from letters, on the
safe side; tests print the pages and count them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from arrange.teach.sections import COLUMN, Section

FIRST = ("open", "setting", "form", "techniques")
SECOND = ("key", "hard", "glissandi", "ideas", "cautions")
MOVING = "moves"
"""Stands at the end of the first page, or on the second, wherever there is more room for it."""
FIRST_LINES, SECOND_LINES = 126, 136
"""Lines of a page's two columns, title and harp aside (measured on printed pages)."""
TITLE_LINES = 3
FIFTHS_MM = 9
"""The melody spans both columns: a line for so many fifths of a millimetre."""
ROOMY = 145
"""Hundredths of the lines that larger letters take."""


@dataclass(frozen=True, slots=True)
class Printed:
    """How the page is printed.

    Attributes:
        items: how many items of each section.
        first, second: the sections of the pages, in order.
        is_roomy: there is room for larger letters.
    """

    items: Mapping[str, int]
    first: tuple[str, ...]
    second: tuple[str, ...]
    is_roomy: bool


def printed(parts: Sequence[Section], melody_mm: int) -> Printed:
    """Return what is printed.

    Every section first gets its share; lines that are left on its page go by rank.

    Args:
        parts: the sections.
        melody_mm: how much height the melody takes, over both columns.
    """
    music = melody_mm * 5 // FIFTHS_MM
    tried = [
        _pages(parts, (*FIRST, MOVING), SECOND, music),
        _pages(parts, FIRST, (SECOND[0], MOVING, *SECOND[1:]), music),
    ]
    return max(tried, key=lambda one: one.items.get(MOVING, 0) + one.items.get("hard", 0))


def _pages(
    parts: Sequence[Section], first: tuple[str, ...], second: tuple[str, ...], music: int
) -> Printed:
    taken: dict[str, int] = {}
    is_roomy = True
    for names, room in ((first, FIRST_LINES), (second, SECOND_LINES - music)):
        here = [part for part in parts if part.name in names]
        items, left = _page(here, room)
        taken |= items
        is_roomy = is_roomy and (room - left) * ROOMY <= room * 100
    is_whole = all(taken[part.name] == len(part.items) for part in parts)
    return Printed(taken, first, second, is_roomy and is_whole)


def _page(parts: Sequence[Section], left: int) -> tuple[dict[str, int], int]:
    """Items of each section of a page, and the lines that are left."""
    left -= sum(_fixed(part) + _cost(part, 0) for part in parts)
    taken = dict.fromkeys((part.name for part in parts), 0)
    for share_only in (True, False):
        for part in sorted(parts, key=lambda p: p.rank):
            before = _cost(part, taken[part.name])
            room = left + before
            if share_only:
                room = min(room, part.share - _fixed(part))
            taken[part.name] = _fitting(part, taken[part.name], room)
            left -= _cost(part, taken[part.name]) - before
    return taken, left


def _fixed(part: Section) -> int:
    """Lines that a section takes whatever it lists: title, first and last lines."""
    texts = (*part.lines, *part.after)
    return TITLE_LINES + sum(-(-len(text) // COLUMN) for text in texts)


def _cost(part: Section, count: int) -> int:
    """Lines of its first items, and of what is said in short of the others."""
    rest = part.items[count:]
    short = sum(len(item.short) + 2 for item in rest)
    if rest and not short:
        short = 1
    return sum(item.lines for item in part.items[:count]) - (-short // COLUMN)


def _fitting(part: Section, least: int, room: int) -> int:
    """The most items, and no fewer than *least*, that there is room for."""
    count = least
    while count < len(part.items) and _cost(part, count + 1) <= room:
        count += 1
    return count
