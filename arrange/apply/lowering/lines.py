"""What joins two notes: ties, slurs and glissando lines, when one of the two is taken away."""

from collections.abc import Iterator

from arrange.apply.lowering.sheet import Sheet, Spot, neighbour
from arrange.apply.lowering.trees import copied, drop, notations_of
from arrange.apply.printed import PrintedNote
from arrange.score.document import Node, element, place_in_order

_LINES = frozenset({"slur", "glissando", "slide"})
_OPPOSITE = {"start": "stop", "stop": "start"}


def lines_of(note: Node) -> list[Node]:
    """The ends of slurs and lines that hang on a note."""
    found = []
    for notations in note.find_all("notations"):
        for child in notations.children:
            if child.tag in _LINES:
                found.append(child)
            elif child.tag == "ornaments":
                found += child.find_all("wavy-line")
    return found


def has_line(note: Node, like: Node) -> bool:
    """Whether the note has an end of the same kind, number and direction."""
    return any(_is_same(line, like, like.attrs.get("type", "")) for line in lines_of(note))


def _is_same(line: Node, like: Node, kind: str) -> bool:
    number = line.attrs.get("number", "1") == like.attrs.get("number", "1")
    return number and line.tag == like.tag and line.attrs.get("type") == kind


def other_end(sheet: Sheet, spot: Spot, line: Node) -> tuple[Spot, Node] | None:
    """The note at the other end of a line, and the sign there; in its own voice if possible."""
    kind = line.attrs.get("type", "")
    wanted = _OPPOSITE.get(kind)
    if wanted is None:
        return None
    elsewhere = None
    for other in sheet.around(spot, 1 if kind == "start" else -1):
        for end in lines_of(other.node):
            if _is_same(end, line, wanted):
                if other.note.voice == spot.note.voice:
                    return other, end
                elsewhere = elsewhere or (other, end)
    return elsewhere


def take_off_lines(sheet: Sheet, spot: Spot) -> None:
    """Take slurs and lines off a note that goes.

    A slur ends at the next note of its voice that it still covers; what covers nothing more
    goes, both ends of it. Lines between two pitches always go, both ends.
    """
    for line in lines_of(spot.node):
        other = other_end(sheet, spot, line)
        if line.tag == "slur" and other is not None:
            heir = neighbour(sheet, spot, 1 if line.attrs.get("type") == "start" else -1)
            if heir is not None and _is_between(heir, spot, other[0]):
                _hand_over(sheet, line, heir)
                drop(sheet.document, line)
                continue
        _drop_ends(sheet, line, other)


def take_off_line(sheet: Sheet, spot: Spot, line: Node) -> None:
    """Take one line off a note, and its other end off the other."""
    _drop_ends(sheet, line, other_end(sheet, spot, line))


def _drop_ends(sheet: Sheet, line: Node, other: tuple[Spot, Node] | None) -> None:
    drop(sheet.document, line)
    if other is not None:
        sheet.touch(other[0].part, other[0].index)
        drop(sheet.document, other[1])


def _is_between(heir: Spot, spot: Spot, other: Spot) -> bool:
    """Whether a slur from the heir to the other end still covers two notes."""
    if heir.node is other.node or heir.time == other.time:
        return False
    return spot.time <= heir.time <= other.time or other.time <= heir.time <= spot.time


def _hand_over(sheet: Sheet, line: Node, heir: Spot) -> None:
    if has_line(heir.node, line):
        return
    sheet.touch(heir.part, heir.index)
    notations = notations_of(sheet.document, heir.node)
    sheet.document.insert(notations, copied(line))


def tie_partner(sheet: Sheet, spot: Spot, step: int) -> Spot | None:
    """The note that a tie leads to (*step* 1) or comes from (-1)."""
    for other in sheet.around(spot, step):
        note = other.note
        if abs(other.index - spot.index) > 1:
            return None
        is_end = note.is_tied if step > 0 else note.leaves_tie
        if is_end and _same_pitch(note, spot.note) and _meets(sheet, spot, other, step):
            return other
    return None


def _same_pitch(one: PrintedNote, two: PrintedNote) -> bool:
    return (one.line, one.alter, one.pitch is None) == (two.line, two.alter, two.pitch is None)


def _meets(sheet: Sheet, spot: Spot, other: Spot, step: int) -> bool:
    """Whether the earlier note ends where the later one begins."""
    early, late = (spot, other) if step > 0 else (other, spot)
    if early.index == late.index:
        return early.note.onset + early.note.duration == late.note.onset
    return late.note.onset == 0 and early.note.onset + early.note.duration >= max(
        note.onset + note.duration for note in sheet.printed(early.part, early.index).notes
    )


def cut_ties(sheet: Sheet, spot: Spot, steps: tuple[int, ...] = (-1, 1)) -> None:
    """Cut the ties into (-1) and out of (1) a note, at both of their ends."""
    for step in steps:
        leaves = step > 0
        if not (spot.note.leaves_tie if leaves else spot.note.is_tied):
            continue
        partner = tie_partner(sheet, spot, step)
        remove_tie(sheet, spot.node, "start" if leaves else "stop")
        if partner is not None:
            sheet.touch(partner.part, partner.index)
            remove_tie(sheet, partner.node, "stop" if leaves else "start")


def remove_tie(sheet: Sheet, note: Node, kind: str) -> None:
    """Remove one end of a tie from a note: the sound and the sign."""
    for tie in list(ties_of(note)):
        if tie.attrs.get("type") == kind:
            drop(sheet.document, tie)


def add_tie(sheet: Sheet, note: Node, kind: str) -> None:
    """Put one end of a tie on a note."""
    if any(tie.attrs.get("type") == kind for tie in ties_of(note)):
        return
    place_in_order(sheet.document, note, element("tie", type=kind))
    notations = notations_of(sheet.document, note)
    sheet.document.insert(notations, element("tied", type=kind))


def ties_of(note: Node) -> Iterator[Node]:
    """The ends of ties on a note: what sounds, then what is drawn."""
    yield from note.find_all("tie")
    for notations in note.find_all("notations"):
        yield from notations.find_all("tied")
