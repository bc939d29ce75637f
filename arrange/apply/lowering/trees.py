"""Small acts on elements that all edits share."""

from collections.abc import Sequence

from arrange.score.document import Document, Node, element, place_in_order
from arrange.units import Quarters

_HOLLOW = frozenset({"notations", "technical", "articulations", "ornaments", "direction-type"})
"""Elements that mean nothing once they are empty."""


def drop(document: Document, node: Node) -> None:
    """Remove an element, what is left empty around it, and an ornament's accidentals with it."""
    around = node.parent
    if around is not None and around.tag == "ornaments":
        for child in list(around.children[around.children.index(node) + 1 :]):
            if child.tag != "accidental-mark":
                break
            document.remove(child)
    document.remove(node)
    if around is not None and around.tag in _HOLLOW and not around.children:
        drop(document, around)


def drop_children(document: Document, node: Node, tags: Sequence[str]) -> None:
    """Remove all children that have one of the tags."""
    for child in [child for child in node.children if child.tag in tags]:
        document.remove(child)


def copied(node: Node) -> Node:
    """The same element anew, to be put elsewhere."""
    children = [copied(child) for child in node.children]
    return element(node.tag, node.text if not children else "", *children, attributes=node.attrs)


def put_text(document: Document, parent: Node, tag: str, text: str) -> None:
    """Give the child with this tag a text; the child comes into being where there is none."""
    child = parent.find(tag)
    if child is None:
        place_in_order(document, parent, element(tag, text))
    elif child.text.strip() != text:
        document.set_text(child, text)


def notations_of(document: Document, note: Node) -> Node:
    """The note's notations; made where there are none."""
    notations = note.find("notations")
    if notations is None:
        notations = element("notations")
        place_in_order(document, note, notations)
    return notations


def chord_of(note: Node) -> list[Node]:
    """The elements of the chord that a note belongs to, its head first."""
    if note.parent is None:
        return [note]
    siblings = note.parent.children
    at = siblings.index(note)
    first = at
    while first > 0 and siblings[first].find("chord") is not None:
        first -= 1
        while first > 0 and siblings[first].tag != "note":
            first -= 1
    chord = [siblings[first]]
    for sibling in siblings[first + 1 :]:
        if sibling.tag != "note":
            if sibling.tag in _TIMED:
                break
        elif sibling.find("chord") is not None:
            chord.append(sibling)
        else:
            break
    return chord


def fresh_key(around: Node, base: str) -> str:
    """A key for a new note that belongs to the note with the key *base*: ``n5.1``."""
    used = {child.key for child in around.children}
    number = 1
    while f"{base}.{number}" in used:
        number += 1
    return f"{base}.{number}"


def copy_fields(document: Document, source: Node, target: Node, tags: Sequence[str]) -> None:
    """Copy some of a note's children to a new note."""
    for tag in tags:
        for child in source.find_all(tag):
            place_in_order(document, target, copied(child))


def is_grace(note: Node) -> bool:
    """Whether it takes no time of its own."""
    return note.find("grace") is not None


def decimal(value: Quarters) -> str:
    """A number as MusicXML spells it: whole where it is whole.

    Raises:
        ValueError: the number has no end as a decimal.
    """
    if value.denominator == 1:
        return str(value.numerator)
    digits = 0
    scaled = value
    while scaled.denominator != 1:
        digits += 1
        scaled = value * 10**digits
        if digits > _LONGEST:
            raise ValueError(f"{value} has no end as a decimal")
    sign, text = "-" if scaled < 0 else "", str(abs(scaled.numerator)).rjust(digits + 1, "0")
    return f"{sign}{text[:-digits]}.{text[-digits:]}"


_TIMED = frozenset({"backup", "forward"})
_LONGEST = 24
"""Decimals: as many as a number that is read may have."""
