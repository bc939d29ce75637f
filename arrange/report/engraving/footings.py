"""What stands at the foot of printed pages: rights on the first, then title and page number."""

from dataclasses import replace

from arrange.report.engraving.fonts import Cut, Fonts
from arrange.report.engraving.headings import RIGHTS_PT, Heading
from arrange.report.engraving.ink import Group, Ink, Sheet, text_box
from arrange.report.engraving.papers import Paper

MM_A_POINT = 25.4 / 72
_LINE = 1.25
"""From line to line, in sizes of the font."""
FOOTING = Group(("footing",), ("",))


def footed(
    pages: tuple[Sheet, ...], headings: tuple[Heading, ...], paper: Paper, fonts: Fonts
) -> tuple[Sheet, ...]:
    """The pages with their footings, in the room that is kept for them."""
    title = next((h.lines[0] for h in headings if h.kind == "title"), "")
    found = []
    for page in pages:
        lines, size = [f"{title} · {page.number}" if title else str(page.number)], RIGHTS_PT
        if page.number == 1:
            rights = [h for h in headings if h.is_footing]
            lines = [line for heading in rights for line in heading.lines]
            size = min((h.size_pt for h in rights), default=RIGHTS_PT)
        found.append(replace(page, ink=(*page.ink, *_footing(page, lines, size, paper, fonts))))
    return tuple(found)


def _footing(
    page: Sheet, lines: list[str], size_pt: float, paper: Paper, fonts: Fonts
) -> list[Ink]:
    size = size_pt * MM_A_POINT
    found = []
    for place, text in enumerate(lines):
        runs = fonts.runs(text, size, Cut())
        shift = (page.width_mm - fonts.end(runs[-1])) / 2
        moved = tuple(replace(run, x=run.x + shift) for run in runs)
        y = page.height_mm - paper.margin_mm - (len(lines) - 1 - place) * size * _LINE
        found.append(Ink(FOOTING, text_box(moved, y, fonts), runs=moved, line_y=y))
    return found
