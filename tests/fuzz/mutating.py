"""Scores spoiled on purpose: elements dropped, doubled, moved and renamed, numbers made nasty.

The text is cut by its brackets alone, so that what is broken already can be spoiled further.
"""

import io
import re
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from nasty import NASTY, SNIPPETS

ZIP_BEGINNING = b"PK\3\4"
_TAG = re.compile(r"<(/?)([A-Za-z][\w:.-]*)((?:[^<>\"']|\"[^\"<]*\"|'[^'<]*')*?)(/?)>")
_ATTRIBUTE = re.compile(r"""\s([\w:.-]+)=("[^"<]*"|'[^'<]*')""")
_WHOLE = re.compile(r"\d+")
_LONGEST_COPIED = 2_000
_MOST_REPEATED = 40
_Any = TypeVar("_Any")


class Dice:
    """Numbers that follow from a seed alone."""

    def __init__(self, seed: int) -> None:
        self._state = (seed * 2654435761 + 12345) % (1 << 64)

    def throw(self, sides: int) -> int:
        """A whole number from 0 to below *sides*, which is at least 1."""
        self._state = (self._state * 6364136223846793005 + 1442695040888963407) % (1 << 64)
        return (self._state >> 33) % sides

    def one_of(self, choices: Sequence[_Any]) -> _Any:
        """One of some things."""
        return choices[self.throw(len(choices))]


@dataclass(frozen=True, slots=True)
class Span:
    """An element in a text: from *begin* to *end*, its content between *inner* and *close*."""

    tag: str
    begin: int
    inner: int
    close: int
    end: int
    is_leaf: bool

    def of(self, text: str) -> str:
        """The element as the text has it."""
        return text[self.begin : self.end]


def spans(text: str) -> list[Span]:
    """The elements of a text that have both of their tags, or are empty."""
    found: list[Span] = []
    opened: list[tuple[str, int, int, int]] = []
    for tag in _TAG.finditer(text):
        name = tag[2]
        if tag[4]:
            found.append(Span(name, tag.start(), tag.end(), tag.end(), tag.end(), is_leaf=False))
        elif not tag[1]:
            opened.append((name, tag.start(), tag.end(), len(found)))
        elif opened and opened[-1][0] == name:
            _, begin, inner, before = opened.pop()
            is_leaf = len(found) == before
            found.append(Span(name, begin, inner, tag.start(), tag.end(), is_leaf))
    return found


_Spoil = Callable[[str, list[Span], Dice], str]


def _put(text: str, begin: int, end: int, new: str) -> str:
    return text[:begin] + new + text[end:]


def _alike(all_spans: list[Span], span: Span) -> list[Span]:
    return [other for other in all_spans if other.tag == span.tag]


def drop(text: str, found: list[Span], dice: Dice) -> str:
    """Take an element out."""
    span = dice.one_of(found)
    return _put(text, span.begin, span.end, "")


def unwrap(text: str, found: list[Span], dice: Dice) -> str:
    """Take an element out, but not what is in it."""
    span = dice.one_of(found)
    return _put(text, span.begin, span.end, text[span.inner : span.close])


def double(text: str, found: list[Span], dice: Dice) -> str:
    """Put an element there twice."""
    span = dice.one_of(found)
    return _put(text, span.end, span.end, span.of(text))


def repeat(text: str, found: list[Span], dice: Dice) -> str:
    """Put a short element there many times."""
    span = dice.one_of(found)
    if span.end - span.begin > _LONGEST_COPIED:
        return text
    return _put(text, span.end, span.end, span.of(text) * (1 + dice.throw(_MOST_REPEATED)))


def swap(text: str, found: list[Span], dice: Dice) -> str:
    """Exchange two elements of one kind."""
    span = dice.one_of(found)
    other = dice.one_of(_alike(found, span))
    first, second = sorted((span, other), key=lambda s: s.begin)
    if first.end > second.begin:
        return text
    between = text[first.end : second.begin]
    return _put(text, first.begin, second.end, second.of(text) + between + first.of(text))


def move(text: str, found: list[Span], dice: Dice) -> str:
    """Put an element before another one, whatever that is."""
    span, place = dice.one_of(found), dice.one_of(found)
    if span.begin <= place.begin < span.end:
        return text
    moved = span.of(text)
    if place.begin < span.begin:
        return _put(_put(text, span.begin, span.end, ""), place.begin, place.begin, moved)
    return _put(_put(text, place.begin, place.begin, moved), span.begin, span.end, "")


def copy(text: str, found: list[Span], dice: Dice) -> str:
    """Put a copy of an element in the place of another of its kind."""
    span = dice.one_of(found)
    place = dice.one_of(_alike(found, span))
    return _put(text, place.begin, place.end, span.of(text))


def rename(text: str, found: list[Span], dice: Dice) -> str:
    """Give an element the name of another."""
    span, tag = dice.one_of(found), dice.one_of(found).tag
    after = span.begin + 1 + len(span.tag)
    renamed = f"<{tag}" + text[after : span.close]
    if span.end > span.close:
        renamed += f"</{tag}>"
    return _put(text, span.begin, span.end, renamed)


def put_in(text: str, found: list[Span], dice: Dice) -> str:
    """Put something new into an element, before it or behind it."""
    span = dice.one_of(found)
    at = dice.one_of((span.begin, span.inner, span.close, span.end))
    return _put(text, at, at, dice.one_of(SNIPPETS))


def say(text: str, found: list[Span], dice: Dice) -> str:
    """Let an element say something else."""
    leaves = [span for span in found if span.is_leaf]
    if not leaves:
        return text
    span = dice.one_of(leaves)
    return _put(text, span.inner, span.close, dice.one_of(NASTY))


def count(text: str, found: list[Span], dice: Dice) -> str:
    """Let an element say a number near its own, or its double, or less than nothing."""
    numbers = [
        s
        for s in found
        if s.is_leaf and _WHOLE.fullmatch(text, s.inner, min(s.close, s.inner + 9))
    ]
    if not numbers:
        return text
    span = dice.one_of(numbers)
    value = int(text[span.inner : span.close][:9])
    new = dice.one_of((value + 1, value - 1, value * 2, value // 2, -value, value * 3, value + 7))
    return _put(text, span.inner, span.close, str(new))


def attribute(text: str, _found: list[Span], dice: Dice) -> str:
    """Give an attribute another value, or take it away."""
    all_attributes = list(_ATTRIBUTE.finditer(text))
    if not all_attributes:
        return text
    old = dice.one_of(all_attributes)
    kind = dice.throw(4)
    if kind == 0:
        return _put(text, old.start(), old.end(), "")
    if kind == 1:
        alike = [other[2] for other in all_attributes if other[1] == old[1]]
        return _put(text, old.start(2), old.end(2), dice.one_of(alike))
    return _put(text, old.start(2), old.end(2), f'"{dice.one_of(NASTY)}"')


ALL: tuple[_Spoil, ...] = (
    *(drop, unwrap, double, repeat, swap, move, copy, rename),
    *(put_in, put_in, put_in, say, say, count, count, attribute, attribute),
)  # fmt: skip


def spoiled(text: str, dice: Dice, times: int) -> str:
    """The text, spoiled so many times."""
    for _ in range(times):
        found = spans(text)
        if found:
            text = dice.one_of(ALL)(text, found, dice)
    return text


def crossed(text: str, other: str, dice: Dice) -> str:
    """The text with one of its elements taken from another text, if both have its kind."""
    here, there = spans(text), spans(other)
    if not here or not there:
        return text
    taken = dice.one_of(there)
    alike = _alike(here, taken)
    if not alike:
        return text
    place = dice.one_of(alike)
    return _put(text, place.begin, place.end, taken.of(other))


def unpacked(raw: bytes) -> tuple[str, bytes] | None:
    """The longest member of an archive; nothing where it cannot be unpacked."""
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as packed:
            name = max(packed.namelist(), key=lambda n: packed.getinfo(n).file_size, default="")
            if not name or packed.getinfo(name).file_size > 1_000_000:
                return None
            return name, packed.read(name)
    except Exception:  # noqa: BLE001 - whatever a spoiled archive does to the library
        return None


def repacked(name: str, content: bytes, dice: Dice) -> bytes:
    """An archive with one member, and a container that names it or does not."""
    written = io.BytesIO()
    method = dice.one_of((zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED))
    with zipfile.ZipFile(written, "w", method) as archive:
        if dice.throw(8):
            listed = (
                f'<container><rootfiles><rootfile full-path="{name}"/></rootfiles></container>'
            )
            archive.writestr("META-INF/container.xml", listed)
        archive.writestr(name, content)
        if not dice.throw(4):
            archive.writestr("other.xml", content[:100])
    return written.getvalue()
