"""What of an element must stay the same, and what follows of itself when notes change."""

from collections.abc import Iterator

from arrange.score.nodes import Node

_ON_THE_PAGE = frozenset({
    "default-x", "default-y", "relative-x", "relative-y", "bezier-x", "bezier-y", "bezier-x2",
    "bezier-y2", "bezier-offset", "bezier-offset2",
})  # fmt: skip
FOLLOWING = frozenset({"pitch", "chord", "tie", "accidental", "stem", "beam"})
"""What a note has that follows from its pitch and its neighbours; its pitch is judged apart."""
LENGTH = frozenset({"duration"})
VALUE = frozenset({"duration", "type", "dot", "time-modification"})
"""What follows from how long a note is, which is judged apart."""
LINES = frozenset({"slur", "glissando", "slide", "wavy-line"})
_GROUPS = frozenset({"ornaments", "technical", "articulations"})

Shape = tuple[object, ...]
"""An element as something to compare: tag, text, attributes, children."""


def is_same(one: Node, two: Node) -> bool:
    """Whether two elements say the same, to the last attribute."""
    if one.tag != two.tag or one.text != two.text or one.attrs != two.attrs:
        return False
    if len(one.children) != len(two.children):
        return False
    return all(map(is_same, one.children, two.children))


def shape(node: Node) -> Shape:
    """An element without its place on the page."""
    attrs = node.attrs
    if attrs:
        kept = tuple(sorted((k, v) for k, v in attrs.items() if k not in _ON_THE_PAGE))
    else:
        kept = ()
    return (node.tag, node.text.strip(), kept, tuple(map(shape, node.children)))


def note_rest(note: Node, spared: frozenset[str]) -> list[Shape]:
    """A note's children but for signs, and for those that are *spared*."""
    found: list[Shape] = []
    for child in note.children:
        if child.tag == "dot":
            if "dot" not in spared:
                found.append((child.tag,))
        elif child.tag not in spared and child.tag != "notations":
            found.append(shape(child))
    return found


def signs(note: Node) -> Iterator[Node]:
    """The signs on a note; ties follow of themselves, but for one that only lets ring."""
    for notations in note.children:
        if notations.tag == "notations":
            for sign in notations.children:
                if sign.tag in _GROUPS:
                    yield from sign.children
                elif sign.tag != "tied" or sign.attrs.get("type") == "let-ring":
                    yield sign


def sign_shape(sign: Node, *, is_moving: bool) -> Shape:
    """A sign without its place on the page; an accidental's kind follows a transposition."""
    if sign.tag == "accidental-mark" and is_moving:
        return (sign.tag,)
    return shape(sign)
