"""A tree that was edited, written over its source.

What is written depends only on the source, on what each node was at first and on what it is now,
never on the way between: edits that were undone leave no trace. Whatever did not change is copied
from the source; what parts two elements stays where it is, comments included; a removed element
takes the white space before it along; a new one is set off like its neighbours.
"""

from bisect import bisect_left
from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import islice
from operator import attrgetter, is_
from typing import NamedTuple, Self

from arrange.score.markup import (
    START_TAG,
    WHITE,
    line_ends,
    new_start_tag,
    remark_on_the_line,
    remarks,
    respelled_start_tag,
    separator_before,
    spelled_text,
)
from arrange.score.nodes import Node

# How many elements to look at for the file's indentation; house judgement.
_INDENTATION_SAMPLE = 100
# How many pieces are handed on together: so a long text does not stand in memory twice.
_MANY_PIECES = 10_000


class AtFirst(NamedTuple):
    """What a node of the source was before anybody edited it."""

    attrs: Mapping[str, str]
    text: str
    children: Sequence[Node]

    @classmethod
    def of(cls, node: Node) -> Self:
        """The node as it is now."""
        return cls(node.attrs, node.text, tuple(node.children))


class Emission:
    """One writing of a tree; use it once.

    Args:
        source: The text that the tree was read from.
        indentation: By how much the source sets an element in from the one around it.
        at_first: What each node of the source was that an edit touched itself.
    """

    def __init__(self, source: str, indentation: str, at_first: Mapping[Node, AtFirst]) -> None:
        self._source = source
        self._indentation = indentation
        self._at_first = at_first
        self._edits = sorted(at_first, key=attrgetter("start"))
        self._places = [node.start for node in self._edits]
        self._pieces: list[str] = []
        self._newline = line_ends(source)

    def written(self) -> Iterator[str]:
        """The whole text, the source with its edited elements written anew, piece by piece."""
        at = 0
        for node in self._edits:
            if node.start >= at:  # else it stands in one that is written, or was taken out
                self._pieces.append(self._source[at : node.start])
                self._edited(node, self._at_first[node])
                at = node.end
            if len(self._pieces) > _MANY_PIECES:
                yield "".join(self._pieces)
                self._pieces.clear()
        yield "".join(self._pieces) + self._source[at:]

    def _stretch(self, at: int, end: int) -> None:
        """Write a stretch of the source that no edit parts, with the edits inside elements.

        An element stands before those in it, so what lies before *at* is written already, or
        was taken out with an element around it.
        """
        edits, places, add = self._edits, self._places, self._pieces.append
        turn = bisect_left(places, at)
        last = bisect_left(places, end, turn)
        while turn < last:
            node = edits[turn]
            if node.start >= at:
                add(self._source[at : node.start])
                self._edited(node, self._at_first[node])
                at = node.end
            turn += 1
        add(self._source[at:end])

    def _element(self, node: Node, separator: str) -> None:
        if node.start < 0:
            self._new(node, separator)
        else:
            self._stretch(node.start, node.end)

    def _new(self, node: Node, separator: str) -> None:
        add = self._pieces.append
        add(new_start_tag(node.tag, node.attrs))
        if not node.children and not node.text:
            add("/>")
            return
        add(">" + spelled_text(node.text, self._newline))
        if node.children:
            inner = self._deeper(separator)
            for child in node.children:
                add(inner)
                self._element(child, inner)
            add(separator if inner else "")
        add(f"</{node.tag}>")

    def _edited(self, node: Node, first: AtFirst) -> None:
        source, add = self._source, self._pieces.append
        inner, start = self._start_tag(node, first)
        add(start)
        if node.children and _are_same(first.children, node.children):
            self._stretch(inner, node.end)
        elif source[inner - 2] != "/":
            close = source.rindex("<", inner, node.end)
            self._content(node, first, inner, close)
            add(source[close : node.end])
        elif node.children or node.text:
            self._pieces[-1] = start[:-2].rstrip(WHITE) + ">"
            self._content(node, first, node.end, node.end)
            add(f"</{node.tag}>")

    def _start_tag(self, node: Node, first: AtFirst) -> tuple[int, str]:
        """Where the start tag ends in the source, and how it is written now."""
        source = self._source
        if not first.attrs and not node.attrs:
            inner = source.index(">", node.start) + 1
            return inner, source[node.start : inner]
        tag = START_TAG.match(source, node.start)
        if tag is None:
            raise ValueError(f"the source has no start tag for {node!r}")
        start = tag[0]
        if node.attrs is not first.attrs and node.attrs != first.attrs:
            start = respelled_start_tag(start, first.attrs, node.attrs)
        return tag.end(), start

    def _content(self, node: Node, first: AtFirst, begin: int, end: int) -> None:
        if node.children or (first.children and not node.text):
            self._elements(node, first.children, begin, end)
        elif node.text == first.text and not first.children:
            self._pieces.append(self._source[begin:end])
        else:
            self._pieces.append(spelled_text(node.text, self._newline))
            if not first.children:
                self._pieces.append(remarks(self._source[begin:end]))

    def _elements(self, node: Node, first: Sequence[Node], begin: int, end: int) -> None:
        """Write the children; *at*: to where the source is settled, *done*: is written."""
        kept = kept_in_place(first, node.children)
        index, at, done = 0, begin, begin
        for child in node.children:
            if child in kept:
                while first[index] is not child:
                    self._without(first[index], done)
                    at = done = first[index].end
                    index += 1
                index, at = index + 1, child.end
            else:
                if done < at:
                    self._stretch(done, at)
                gap_end = first[index].start if index < len(first) else end
                remark = remark_on_the_line(self._source[at:gap_end])
                separator = self._separator(node, first, index)
                self._pieces += (remark, separator)
                at = done = at + len(remark)
                self._element(child, separator)
        for gone in first[index:]:
            self._without(gone, done)
            done = gone.end
        self._stretch(done, end)
        if begin == end and self._separator(node, first, 0):
            self._pieces.append(separator_before(self._source, node.start))

    def _without(self, gone: Node, done: int) -> None:
        """Write from *done* to an element that is gone, without the white space before it."""
        before = self._source[done : gone.start]
        self._stretch(done, done + len(before.rstrip(WHITE)))

    def _separator(self, around: Node, first: Sequence[Node], index: int) -> str:
        """What sets off a new child that stands behind `index` children of the source."""
        if not first:
            return self._deeper(separator_before(self._source, around.start))
        neighbour = first[max(index - 1, min(1, len(first) - 1))]
        return separator_before(self._source, neighbour.start)

    def _deeper(self, separator: str) -> str:
        """The separator of the children of an element that has this one itself."""
        if "\n" not in separator and "\r" not in separator:
            return ""
        return separator + self._indentation


def _are_same(first: Sequence[Node], now: Sequence[Node]) -> bool:
    return len(first) == len(now) and all(map(is_, first, now))


def _in_old_order(first: Sequence[Node], now: Sequence[Node]) -> set[Node] | None:
    """The children of the source, where all that are still there kept their order; else None."""
    index, last = 0, len(first)
    kept = set()
    for node in now:
        if node.start >= 0:
            while index < last and first[index] is not node:
                index += 1
            if index == last:
                return None
            kept.add(node)
    return kept


def kept_in_place(first: Sequence[Node], now: Sequence[Node]) -> Collection[Node]:
    """The children that are still there in their old order, as many as possible.

    All others were moved or are new. (The longest increasing run of old places, O(n log n).)
    """
    kept = _in_old_order(first, now)
    if kept is not None:
        return kept
    place = {node: index for index, node in enumerate(first)}
    survivors = [node for node in now if node in place]
    places = [place[node] for node in survivors]
    if places == sorted(places):
        return set(survivors)
    ends: list[int] = []  # the smallest last place of a run of each length
    last: list[Node] = []  # the node with that place
    before: dict[Node, Node | None] = {}
    for node in survivors:
        length = bisect_left(ends, place[node])
        before[node] = last[length - 1] if length else None
        ends[length : length + 1] = [place[node]]
        last[length : length + 1] = [node]
    kept = set()
    node_or_none = last[-1] if last else None
    while node_or_none is not None:
        kept.add(node_or_none)
        node_or_none = before[node_or_none]
    return kept


def indentation(source: str, root: Node) -> str:
    """By how much the source sets an element in from the one around it; often nothing."""
    for node in islice(root.iter(), 1, _INDENTATION_SAMPLE):
        if node.parent is not None:
            inner = separator_before(source, node.start)
            outer = separator_before(source, node.parent.start)
            if outer and outer != inner and inner.startswith(outer):
                return inner[len(outer) :]
    return ""
