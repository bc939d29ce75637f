"""Marks that stand between notes of a voice, when those notes change their lengths."""

from collections.abc import Collection

from arrange.apply.lowering.sheet import RefusedError, Sheet
from arrange.apply.lowering.trees import decimal
from arrange.score.document import Node, element, place_in_order
from arrange.units import Quarters

_MOVABLE = frozenset({"direction", "harmony"})


def marks_between(first: Node, last: Node, own: Collection[Node]) -> list[tuple[Node, Node]]:
    """The marks from *first* to *last*, each with the next of the *own* notes behind it.

    Raises:
        RefusedError: something stands there that cannot be moved, such as a change of clef.
    """
    if first.parent is None:
        raise RefusedError("the note is gone")
    children = first.parent.children
    row = children[children.index(first) : children.index(last) + 1]
    waiting: list[Node] = []
    found: list[tuple[Node, Node]] = []
    for child in row:
        if child in own:
            found += ((mark, child) for mark in waiting)
            waiting = []
        elif child.tag in _MOVABLE:
            waiting.append(child)
        else:
            raise RefusedError(f"a {child.tag} stands between the notes")
    return found


def keep_in_time(sheet: Sheet, mark: Node, anchor: Node, late: int | Quarters) -> None:
    """Put a mark before the *anchor*, to speak *late* divisions after it.

    Raises:
        RefusedError: that cannot be written.
    """
    document, around = sheet.document, anchor.parent
    if around is None:
        raise RefusedError("the note is gone")
    offset = mark.find("offset")
    shift = late + (Quarters(offset.text.strip()) if offset is not None else 0)
    try:
        text = decimal(Quarters(shift))
    except ValueError as error:
        raise RefusedError("a mark between the notes would lose its place") from error
    document.remove(mark)
    document.insert(around, mark, before=anchor)
    if offset is not None:
        document.set_text(offset, text)
    elif shift:
        place_in_order(document, mark, element("offset", text))
