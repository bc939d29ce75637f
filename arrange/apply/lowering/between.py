"""Marks that stand between notes of a voice, when those notes change their lengths."""

from collections.abc import Collection

from arrange.apply.lowering.sheet import RefusedError, Sheet
from arrange.apply.lowering.trees import decimal
from arrange.score.document import Document, Node, element, place_in_order
from arrange.units import Quarters

_MOVABLE = frozenset({"direction", "harmony"})
_NAMED = {"attributes": "a change of clef or key", "note": "another note"}


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
            what = _NAMED.get(child.tag, f"a {child.tag}")
            raise RefusedError(f"{what} stands between the notes")
    return found


def keep_in_time(sheet: Sheet, mark: Node, anchor: Node, late: int | Quarters) -> None:
    """Put a mark before the *anchor*, to speak *late* divisions after it.

    What it says for playback keeps its time as well.

    Raises:
        RefusedError: that cannot be written.
    """
    document, around = sheet.document, anchor.parent
    if around is None:
        raise RefusedError("the note is gone")
    document.remove(mark)
    document.insert(around, mark, before=anchor)
    known = mark.find("offset")
    _speak_later(document, mark, late)
    offset = mark.find("offset")
    if known is None and offset is not None and mark.tag == "direction":
        document.set_attribute(offset, "sound", "yes")
    is_heard = offset is not None and offset.attrs.get("sound") == "yes"
    for sound in mark.find_all("sound"):
        if not is_heard or sound.find("offset") is not None:
            _speak_later(document, sound, late)


def _speak_later(document: Document, node: Node, late: int | Quarters) -> None:
    offset = node.find("offset")
    shift = late + (Quarters(offset.text.strip()) if offset is not None else 0)
    try:
        text = decimal(Quarters(shift))
    except ValueError as error:
        raise RefusedError("a mark between the notes would lose its place") from error
    if offset is not None:
        document.set_text(offset, text)
    elif shift:
        place_in_order(document, node, element("offset", text))
