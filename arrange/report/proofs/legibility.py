"""Whether the page can be read: ledger lines, measure numbers, the size of staves, letters."""

from collections import defaultdict
from collections.abc import Iterator

from arrange.report.engraving.engraver import LEAST_STAFF_MM
from arrange.report.engraving.fonts import Fonts
from arrange.report.engraving.ink import Ink
from arrange.report.engraving.paging import measure_of
from arrange.report.proofs.layout import Layout
from arrange.report.proofs.records import ProofFinding, Subject

LEDGER_LINES = 4
"""So many ledger lines are hard to count in passing (house judgement)."""
RUNNING = 4
"""So many notes in a row on them are a passage (house judgement)."""
SMALL_STAFF_MM, LARGE_STAFF_MM = 6.0, 8.5
"""Staves outside this are hard to read, or waste pages (from memory: 7 mm is usual)."""


def ledger_lines(layout: Layout) -> Iterator[ProofFinding]:
    """Yield passages of notes that all stand on many ledger lines."""
    for page in layout.pages:
        staves: dict[tuple[str, int], list[tuple[float, int, int]]] = defaultdict(list)
        by_staff: dict[str, list[Ink]] = defaultdict(list)
        order: dict[str, int] = {}
        seen: dict[str, int] = {}
        for ink in page.ink:
            staff, measure = ink.group.within("staff"), ink.group.within("measure")
            if staff is None or measure is None:
                continue
            if staff not in order:
                order[staff] = seen[measure] = seen.get(measure, 0) + 1
            by_staff[staff].append(ink)
        for staff, found in by_staff.items():
            index = measure_of(found[0].group.within("measure"))
            system = found[0].group.within("system") or ""
            if index is not None:
                heads = _heads(found)
                staves[system, order[staff]] += [(x, n, index) for x, n in heads]
        for row in staves.values():
            yield from _passages(layout, row)


def _heads(staff: list[Ink]) -> Iterator[tuple[float, int]]:
    """Each note of a staff from left to right: where it stands, on how many ledger lines."""
    lines = [i for i in staff if any(n.startswith("ledgerLines") for n in i.group.names)]
    edges = [i.box for i in staff if i.group.name == "staff"]
    if not edges:
        return
    top, bottom = min(b.top for b in edges), max(b.bottom for b in edges)
    columns: dict[float, int] = {}
    for head in staff:
        if head.group.name != "notehead":
            continue
        x, y = (head.box.left + head.box.right) / 2, (head.box.top + head.box.bottom) / 2
        half = (head.box.bottom - head.box.top) / 2
        count = sum(
            1
            for line in lines
            if line.box.left < x < line.box.right
            and (y - half <= line.box.bottom <= top or bottom <= line.box.top <= y + half)
        )
        columns[round(x, 1)] = max(columns.get(round(x, 1), 0), count)
    yield from sorted(columns.items())


def _passages(layout: Layout, row: list[tuple[float, int, int]]) -> Iterator[ProofFinding]:
    run: list[int] = []
    for _, count, index in [*row, (0.0, 0, -1)]:
        if count >= LEDGER_LINES:
            run.append(index)
            continue
        if len(run) >= RUNNING:
            numbers = layout.copy.numbers
            until = f" to measure {numbers[run[-1]]}" if run[-1] != run[0] else ""
            text = (
                f"{len(run)} notes in a row{until} stand on {LEDGER_LINES} or more ledger lines; "
                "an octave line or another clef reads more easily."
            )
            yield layout.finding(Subject.LEDGER_LINES, run[0], text)
        run = []


def measure_numbers(layout: Layout) -> Iterator[ProofFinding]:
    """Yield lines of music, the first aside, that begin without a measure number."""
    numbered = {
        measure_of(ink.group.within("measure"))
        for page in layout.pages
        for ink in page.ink
        if any(name.startswith("mNum") for name in ink.group.names)
    }
    for system in layout.systems[1:]:
        if system.first not in numbered and system.first not in layout.copy.unnumbered:
            text = "The line begins without a measure number."
            yield layout.finding(Subject.MEASURE_NUMBERS, system.first, text)


def staves(layout: Layout) -> Iterator[ProofFinding]:
    """Yield a word on staves that are hard to read, or larger than they need be."""
    height = layout.copy.staff_mm
    if height < SMALL_STAFF_MM:
        drawn = "" if height >= LEAST_STAFF_MM else f"; they are drawn {LEAST_STAFF_MM:g} mm high"
        text = (
            f"Staves {height:.1f} mm high are hard to read at the harp; "
            f"{SMALL_STAFF_MM:g} to {LARGE_STAFF_MM:g} mm are usual{drawn}."
        )
        yield layout.finding(Subject.STAVES, -1, text)
    elif height > LARGE_STAFF_MM:
        text = f"Staves {height:.1f} mm high cost page turns; 7 mm are usual."
        yield layout.finding(Subject.STAVES, -1, text)


def letters(layout: Layout, fonts: Fonts) -> Iterator[ProofFinding]:
    """Yield signs in texts that the print font lacks, so that the page does not show them."""
    texts = {ink.text for page in layout.pages for ink in page.ink if ink.runs}
    lacking = fonts.lacking("".join(sorted(texts)))
    lacking = "".join(sign for sign in lacking if not sign.isspace())
    if lacking:
        shown = " ".join(f"{sign} (U+{ord(sign):04X})" for sign in sorted(lacking))
        yield layout.finding(Subject.LETTERS, -1, f"The print font has no sign for {shown}.")
