"""A tree that was edited, written over its source.

What is written depends only on the source, on what each node was at first and on what it is now,
never on the way between: edits that were undone leave no trace. Whatever did not change is copied
from the source; what parts two elements stays where it is, comments included; a removed element
takes the white space before it along; a new one is set off like its neighbours.
"""

from bisect import bisect_left
from collections.abc import Collection, Mapping, Sequence
from itertools import islice
from operator import is_
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
        touched: Those nodes, and all nodes that stand around an edit.
    """

    def __init__(
        self,
        source: str,
        indentation: str,
        at_first: Mapping[Node, AtFirst],
        touched: Collection[Node],
    ) -> None:
        self._source = source
        self._indentation = indentation
        self._at_first = at_first
        self._touched = touched
        self._pieces: list[str] = []
        self._newline = line_ends(source)

    def written(self, root: Node) -> str:
        """The whole text: what stands before the root, the root, what follows it."""
        self._pieces.append(self._source[: root.start])
        self._element(root, "")
        self._pieces.append(self._source[root.end :])
        return "".join(self._pieces)

    def _element(self, node: Node, separator: str) -> None:
        if node.start < 0:
            self._new(node, separator)
        elif node in self._touched:
            first = self._at_first.get(node)
            if first is None:
                self._pieces.append(self._source[self._kept(node, node.start) : node.end])
            else:
                self._edited(node, first)
        else:
            self._pieces.append(self._source[node.start : node.end])

    def _kept(self, node: Node, at: int) -> int:
        """Write an element around edits, itself as it was, from *at* to behind the last edit."""
        at_first, touched = self._at_first, self._touched
        for child in node.children:
            if child in touched:
                first = at_first.get(child)
                if first is None:
                    at = self._kept(child, at)
                else:
                    self._pieces.append(self._source[at : child.start])
                    self._edited(child, first)
                    at = child.end
        return at

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
        tag = START_TAG.match(source, node.start)
        if tag is None:
            raise ValueError(f"the source has no start tag for {node!r}")
        start = tag.group()
        if node.attrs is not first.attrs and node.attrs != first.attrs:
            start = respelled_start_tag(start, node.attrs)
        if not tag.group(3):
            close = source.rindex("<", tag.end(), node.end)
            add(start)
            self._content(node, first, tag.end(), close)
            add(source[close : node.end])
        elif node.children or node.text:
            add(start[:-2].rstrip(WHITE) + ">")
            self._content(node, first, node.end, node.end)
            add(f"</{node.tag}>")
        else:
            add(start)

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
        kept = kept_in_place(first, node.children)
        index, at = 0, begin
        for child in node.children:
            if child in kept:
                while first[index] is not child:
                    at = self._without(first[index], at)
                    index += 1
                self._pieces.append(self._source[at : child.start])
                self._element(child, "")
                index, at = index + 1, child.end
            else:
                gap_end = first[index].start if index < len(first) else end
                remark = remark_on_the_line(self._source[at:gap_end])
                separator = self._separator(node, first, index)
                self._pieces += (remark, separator)
                at += len(remark)
                self._element(child, separator)
        for gone in first[index:]:
            at = self._without(gone, at)
        self._pieces.append(self._source[at:end])
        if begin == end and self._separator(node, first, 0):
            self._pieces.append(separator_before(self._source, node.start))

    def _without(self, gone: Node, at: int) -> int:
        self._pieces.append(self._source[at : gone.start].rstrip(WHITE))
        return gone.end

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


def kept_in_place(first: Sequence[Node], now: Sequence[Node]) -> Collection[Node]:
    """The children that are still there in their old order, as many as possible.

    All others were moved or are new. (The longest increasing run of old places, O(n log n).)
    """
    if len(first) == len(now) and all(map(is_, first, now)):
        return set(now)
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
