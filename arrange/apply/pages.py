"""The measures of a document as they are printed, each read once until it changes."""

from arrange.apply.printed import (
    Inherited,
    PrintedMeasure,
    inheritance,
    part_measures,
    printed_measure,
)
from arrange.score.document import Document, Node


class Pages:
    """The printed measures of a document.

    A measure is read again when its element has changed. What it inherits (keys, clefs,
    divisions) is taken down once a part, so `forget` has to be called when that changes for
    good; divisions that an edit changes and restores in the next measure do not matter.
    """

    def __init__(self, document: Document) -> None:
        self._document = document
        self._parts: dict[str, tuple[list[Node], list[Inherited]]] = {}
        self._printed: dict[tuple[str, int], tuple[int, PrintedMeasure]] = {}

    def count(self, part: str) -> int:
        """How many measures a part has."""
        return len(self._part(part)[0])

    def node(self, part: str, index: int) -> Node:
        """The element that holds the notes of a measure."""
        return self._part(part)[0][index]

    def measure(self, part: str, index: int) -> PrintedMeasure:
        """What stands in a measure now."""
        measures, inherited = self._part(part)
        node = measures[index]
        known = self._printed.get((part, index))
        if known is None or known[0] != node.revision:
            before = None if known is None else known[1]
            known = node.revision, printed_measure(node, index, inherited[index].copy(), before)
            self._printed[part, index] = known
        return known[1]

    def forget(self) -> None:
        """Read everything anew when it is asked for."""
        self._parts.clear()
        self._printed.clear()

    def _part(self, part: str) -> tuple[list[Node], list[Inherited]]:
        if part not in self._parts:
            measures = part_measures(self._document, part)
            self._parts[part] = measures, inheritance(measures)
        return self._parts[part]
