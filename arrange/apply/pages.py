"""The measures of a document as they are printed, each read once until it changes."""

from arrange.apply.inherited import Inherited, behind
from arrange.apply.printed import PrintedMeasure, part_measures, printed_measure
from arrange.score.document import Document, Node
from arrange.score.nodes import NO_ATTRIBUTES


class Pages:
    """The printed measures of a document.

    A measure is read again when its element has changed, or what it inherits (keys, clefs,
    divisions). The latter is taken down once a part, so `renew` has to be called when that
    changes for good; divisions that an edit changes and restores in the next measure do not
    matter.
    """

    def __init__(self, document: Document) -> None:
        self._document = document
        self._parts: dict[str, tuple[list[Node], list[Inherited]]] = {}
        self._courses: dict[str, list[tuple[int, Inherited, Inherited]]] = {}
        self._printed: dict[tuple[str, int], tuple[int, Inherited, PrintedMeasure]] = {}
        self._ids: dict[Node, tuple[int, frozenset[str]]] = {}

    def count(self, part: str) -> int:
        """How many measures a part has."""
        return len(self._part(part)[0])

    def node(self, part: str, index: int) -> Node:
        """The element that holds the notes of a measure."""
        return self._part(part)[0][index]

    def measure(self, part: str, index: int) -> PrintedMeasure:
        """What stands in a measure now."""
        measures, inherited = self._part(part)
        node, running = measures[index], inherited[index]
        known = self._printed.get((part, index))
        if known is None or known[0] != node.revision or known[1] is not running:
            before = None if known is None or known[1] is not running else known[2]
            known = node.revision, running, printed_measure(node, index, running.copy(), before)
            self._printed[part, index] = known
        return known[2]

    def ids(self, part: str, index: int) -> frozenset[str]:
        """The ids that the notes and directions of a measure carry."""
        node = self.node(part, index)
        known = self._ids.get(node)
        if known is None or known[0] != node.revision:
            rows = [child.attrs for child in node.children if child.attrs is not NO_ATTRIBUTES]
            ids = frozenset([attrs["id"] for attrs in rows if "id" in attrs])
            known = self._ids[node] = node.revision, ids
        return known[1]

    def renew(self) -> None:
        """Take down anew what measures inherit."""
        self._parts.clear()

    def _part(self, part: str) -> tuple[list[Node], list[Inherited]]:
        known = self._parts.get(part)
        if known is None:
            measures = part_measures(self._document, part)
            known = self._parts[part] = measures, self._inherited(part, measures)
        return known

    def _inherited(self, part: str, measures: list[Node]) -> list[Inherited]:
        """What each measure takes over; what is equal to what it was is the same object."""
        course = self._courses.setdefault(part, [])
        running = Inherited()
        for index, measure in enumerate(measures):
            was = course[index] if index < len(course) else None
            if was is not None and was[1] == running:
                running = was[1]
            if was is None or was[1] is not running or was[0] != measure.revision:
                was = measure.revision, running, behind(measure, running)
                course[index : index + 1] = [was]
            running = was[2]
        return [before for _, before, _ in course]
