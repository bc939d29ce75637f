"""Octave lines: which notes they stand over, and which lines moved notes have made needless."""

from collections.abc import Collection
from dataclasses import dataclass, field

from arrange.apply.clefs import MOST_LEDGER_LINES, lines_at
from arrange.apply.inherited import as_length, staff_of
from arrange.apply.printed import Place, PrintedMeasure, PrintedNote, part_measures, printed_part
from arrange.score.document import Document, Node


@dataclass(slots=True)
class OctaveLine:
    """An octave line.

    Attributes:
        signs: its ``octave-shift`` elements, the beginning first.
        index, place: where it begins; *until_index*, *until*: where it ends, -1 if it does not.
        is_needed: its notes would need more ledger lines without it.
        notes: the elements of the notes under it.
    """

    part: str
    staff: int
    signs: list[Node]
    index: int
    place: Place
    until_index: int = -1
    until: Place = 0
    is_needed: bool = False
    notes: list[Node] = field(default_factory=list)


def octave_lines(document: Document, part: str) -> list[OctaveLine]:
    """The octave lines of a part, in order."""
    measures = list(printed_part(part_measures(document, part)))
    lines: list[OctaveLine] = []
    is_open: dict[tuple[int, str], OctaveLine] = {}
    for measure in measures:
        for place, direction in measure.beside:
            for sign in _signs(direction):
                _begin_or_end(part, measure.index, (place, direction, sign), lines, is_open)
    for line in lines:
        _cover(line, measures)
    return lines


def needless_octave_lines(
    document: Document, part: str, moved: Collection[Node]
) -> list[OctaveLine]:
    """The lines over notes that *moved* and are as easily read without them."""
    return [
        line
        for line in octave_lines(document, part)
        if not line.is_needed and any(note in moved for note in line.notes)
    ]


def remove_octave_line(document: Document, line: OctaveLine) -> None:
    """Take an octave line out; pitches sound as before, they are read where they sound."""
    for sign in line.signs:
        kind = sign.parent
        direction = None if kind is None else kind.parent
        document.remove(sign)
        if kind is not None and not kind.children:
            document.remove(kind)
        if direction is not None and direction.find("direction-type") is None:
            document.remove(direction)


def _signs(direction: Node) -> list[Node]:
    if direction.tag != "direction":
        return []
    kinds = direction.find_all("direction-type")
    return [sign for kind in kinds for sign in kind.find_all("octave-shift")]


def _begin_or_end(
    part: str,
    index: int,
    found: tuple[Place, Node, Node],
    lines: list[OctaveLine],
    is_open: dict[tuple[int, str], OctaveLine],
) -> None:
    place, direction, sign = found
    place += as_length(direction.child_text("offset", "0"))
    name = staff_of(direction), sign.attrs.get("number", "1")
    if sign.attrs.get("type") in ("up", "down"):
        is_open[name] = OctaveLine(part, name[0], [sign], index, place)
        lines.append(is_open[name])
    elif name in is_open:
        line = is_open[name]
        line.signs.append(sign)
        if sign.attrs.get("type") == "stop":
            line.until_index, line.until = index, place
            del is_open[name]


def _cover(line: OctaveLine, measures: list[PrintedMeasure]) -> None:
    """Find what stands under a line, and whether it is the easier to read for it."""
    last = line.until_index if line.until_index >= 0 else len(measures) - 1
    with_line = without = highest = 0
    for measure in measures[line.index : last + 1]:
        for note in measure.notes:
            if (
                note.staff != line.staff
                or note.pitch is None
                or not _is_under(line, measure, note)
            ):
                continue
            clef = measure.clef_at(note.staff, note.onset)
            plain = lines_at(note.line, clef)
            line.notes.append(note.node)
            with_line += lines_at(measure.display_line(note), clef)
            without += plain
            highest = max(highest, plain)
    line.is_needed = without > with_line or highest > MOST_LEDGER_LINES


def _is_under(line: OctaveLine, measure: PrintedMeasure, note: PrintedNote) -> bool:
    if note.pitch is None or (measure.index == line.index and note.onset < line.place):
        return False
    return measure.index != line.until_index or note.onset < line.until
