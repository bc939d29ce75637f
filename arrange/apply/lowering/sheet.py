"""The document as the edits need it: measures by part and place, and what was touched."""

from collections.abc import Iterator, Sequence
from typing import Protocol

from arrange.apply.printed import (
    Inherited,
    Place,
    PrintedMeasure,
    PrintedNote,
    inheritance,
    part_measures,
    printed_measure,
)
from arrange.errors import LeverwrightError
from arrange.score.document import Document, Node
from arrange.score.model import EventId, Measure, Score
from arrange.score.reading.notations import sign_nodes
from arrange.units import Quarters

FAR = 32
"""How many measures away the other end of a slur is looked for (house judgement)."""


class RefusedError(LeverwrightError):
    """An edit that the document cannot take; the text says why, for the log."""


class GoneError(RefusedError):
    """An edit of something that an earlier edit has taken away."""


class Recorder(Protocol):
    """Something that follows from the notes and is set anew when they have changed."""

    def remember(self, part: str, index: int) -> None:
        """Take down how a measure stands before it is edited."""

    def refresh(self) -> None:
        """Set anew what followed from the notes of the remembered measures."""


class Sheet:
    """The document while edits are carried out on it.

    Attributes:
        document: what is edited.
        score: the score as it stood when the first edit began.
        touched: the measures that edits have changed, in order; *lately*: those of the change
            at hand.
        notices: sentences about what an edit brought with it, by part and index.
    """

    def __init__(
        self, document: Document, score: Score, recorders: Sequence[Recorder] = ()
    ) -> None:
        self.document = document
        self.score = score
        self.touched: dict[tuple[str, int], None] = {}
        self.lately: dict[tuple[str, int], None] = {}
        self.notices: list[tuple[str, int, str]] = []
        self._recorders = recorders
        self._marks: dict[EventId, Node] = {}
        self._signs: dict[EventId, dict[str, Node]] = {}
        self._parts: dict[str, tuple[list[Node], list[Inherited]]] = {}
        self._printed: dict[tuple[str, int], tuple[int, PrintedMeasure]] = {}

    def touch(self, part: str, index: int) -> None:
        """Say that a measure is about to be edited."""
        self.lately[part, index] = None
        if (part, index) not in self.touched:
            self.touched[part, index] = None
            for recorder in self._recorders:
                recorder.remember(part, index)

    def note(self, event: EventId) -> Node:
        """The element of a note.

        Raises:
            RefusedError: it is gone, or never was there.
        """
        return self._child(event, event.key, "note")

    def mark(self, event: EventId) -> Node:
        """The element of a direction, or of one direction-type of it.

        Raises:
            RefusedError: it is gone, or never was there.
        """
        if event not in self._marks:
            try:
                self._marks[event] = self._child(event, event.key, "direction")
            except GoneError:
                base, _, _ = event.key.rpartition(".")
                direction = self._child(event, base, "direction")
                for number, kind in enumerate(direction.find_all("direction-type")):
                    one = EventId(event.part, event.index, f"{base}.{number}")
                    self._marks.setdefault(one, kind)
        if event not in self._marks:
            raise RefusedError(f"there is no mark {event}")
        return self._marks[event]

    def signs(self, event: EventId) -> dict[str, Node]:
        """The signs on a note by their keys, as they were when they were first asked for.

        Raises:
            RefusedError: the note is gone, or never was there.
        """
        if event not in self._signs:
            signs = sign_nodes(self.note(event))
            self._signs[event] = {notation.key: node for notation, node in signs}
        return self._signs[event]

    def _child(self, event: EventId, key: str, tag: str) -> Node:
        if event.part in self.score.by_part and 0 <= event.index < self.count(event.part):
            for child in self.measure_node(event.part, event.index).children:
                if child.tag == tag and child.key == key:
                    return child
        raise GoneError(f"{event} is not there, or no longer")

    def count(self, part: str) -> int:
        """How many measures the part has."""
        return len(self._part(part)[0])

    def measure_node(self, part: str, index: int) -> Node:
        """The element that holds the notes of a measure."""
        return self._part(part)[0][index]

    def printed(self, part: str, index: int) -> PrintedMeasure:
        """What stands in the measure now."""
        measures, inherited = self._part(part)
        node = measures[index]
        known = self._printed.get((part, index))
        if known is None or known[0] != node.revision:
            known = node.revision, printed_measure(node, index, inherited[index].copy())
            self._printed[part, index] = known
        return known[1]

    def measure(self, part: str, index: int) -> Measure:
        """The measure as the score had it when the first edit began."""
        return self.score.measure(part, index)

    def place(self, event: EventId, node: Node) -> "Spot":
        """Where a note stands."""
        for note in self.printed(event.part, event.index).notes:
            if note.node is node:
                return Spot(event.part, event.index, note)
        raise RefusedError(f"the note {event} is gone")

    def around(self, spot: "Spot", step: int) -> Iterator["Spot"]:
        """The notes behind (*step* 1) or before (-1) a note, nearest first, in playing order."""
        order = self.printed(spot.part, spot.index).reading_order()
        own = next(i for i, note in enumerate(order) if note.node is spot.note.node)
        index, row = spot.index, order[own + 1 :] if step > 0 else order[:own]
        while True:
            for note in row[::step]:
                yield Spot(spot.part, index, note)
            index += step
            if not 0 <= index < self.count(spot.part) or abs(index - spot.index) > FAR:
                return
            row = self.printed(spot.part, index).reading_order()

    def neighbour(self, spot: "Spot", step: int) -> "Spot | None":
        """The next (or previous) note or chord of the same voice; rests are passed over."""
        for other in self.around(spot, step):
            note = other.note
            is_own_chord = other.index == spot.index and note.onset == spot.note.onset
            if note.voice != spot.note.voice or note.is_chord or note.is_rest:
                continue
            if not is_own_chord or note.is_grace != spot.note.is_grace or note.is_grace:
                return other
        return None

    def ids(self) -> set[str]:
        """The ids that notes and directions carry."""
        parts = (self._part(part)[0] for part in self.score.by_part)
        children = (
            child for measures in parts for measure in measures for child in measure.children
        )
        return {child.attrs["id"] for child in children if "id" in child.attrs}

    def forget_divisions(self, part: str) -> None:
        """The divisions of a measure were changed: read them again when they are needed."""
        self._parts.pop(part, None)
        for key in [key for key in self._printed if key[0] == part]:
            del self._printed[key]

    def _part(self, part: str) -> tuple[list[Node], list[Inherited]]:
        known = self._parts.get(part)
        if known is None:
            measures = part_measures(self.document, part)
            known = self._parts[part] = measures, inheritance(measures)
        return known


class Spot:
    """A note and where it stands.

    Attributes:
        part, index: the measure; *note*: as printed there.
    """

    __slots__ = ("index", "note", "part")

    def __init__(self, part: str, index: int, note: PrintedNote) -> None:
        self.part = part
        self.index = index
        self.note = note

    @property
    def node(self) -> Node:
        """The note's element."""
        return self.note.node

    @property
    def time(self) -> tuple[int, Place]:
        """For comparing with other notes of the part."""
        return self.index, self.note.onset


def quarters(place: Place, divisions: int) -> Quarters:
    """A place or length in quarters."""
    return Quarters(place) / divisions
