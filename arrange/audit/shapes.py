"""What of an element must stay the same, and what follows of itself when notes change."""

import re
from collections.abc import Iterator

from arrange.score.nodes import FoldedNote, Node, inside_of, one_alike

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


_PLACE = re.compile(r"""\s++(?:default|relative)-[xy]\s*+=\s*+"[-+.\d]*+\"""")


def are_spelled_alike(one: Node, two: Node) -> bool:
    """Whether two notes have attributes that are spelled alike but for their place on the page."""
    was, now = inside_of(one), inside_of(two)
    if was is None or now is None:
        return False
    assert isinstance(one, FoldedNote)  # noqa: S101 - for the type checker
    assert isinstance(two, FoldedNote)  # noqa: S101
    old, new = was.tree.spelled_attributes(one), now.tree.spelled_attributes(two)
    return old == new or _PLACE.sub("", old) == _PLACE.sub("", new)


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
    inside = inside_of(note)
    if inside is None:
        return _note_rest(note, spared)
    rest: list[Shape] | None = inside.known.get((note_rest, spared))
    if rest is None:
        rest = inside.known[note_rest, spared] = _note_rest(one_alike(note), spared)
    return rest


def _note_rest(note: Node, spared: frozenset[str]) -> list[Shape]:
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
    inside = inside_of(note)
    if inside is not None and not inside.may_have_signs:
        return
    for notations in note.children:
        if notations.tag == "notations":
            for sign in notations.children:
                if sign.tag in _GROUPS:
                    yield from sign.children
                elif sign.tag != "tied" or sign.attrs.get("type") == "let-ring":
                    yield sign


def lyrics(note: Node) -> list[Node]:
    """The lyrics of a note."""
    inside = inside_of(note)
    if inside is not None and not inside.may_have_lyrics:
        return []
    return note.find_all("lyric")


def sign_shapes(note: Node, spared: frozenset[str], *, is_moving: bool) -> list[Shape]:
    """The shapes of the signs on a note but for those that are *spared*, in order."""
    inside = inside_of(note)
    if inside is None:
        return _sign_shapes(note, spared, is_moving=is_moving)
    if not inside.may_have_signs:
        return []
    found: list[Shape] | None = inside.known.get((sign_shapes, spared, is_moving))
    if found is None:
        found = _sign_shapes(one_alike(note), spared, is_moving=is_moving)
        inside.known[sign_shapes, spared, is_moving] = found
    return found


def _sign_shapes(note: Node, spared: frozenset[str], *, is_moving: bool) -> list[Shape]:
    return [sign_shape(s, is_moving=is_moving) for s in signs(note) if s.tag not in spared]


def sign_shape(sign: Node, *, is_moving: bool) -> Shape:
    """A sign without its place on the page; an accidental's kind follows a transposition."""
    if sign.tag == "accidental-mark" and is_moving:
        return (sign.tag,)
    return shape(sign)
