"""The document as the edits need it: measures by part and place, and what was touched."""

from collections.abc import Iterator, Sequence
from typing import Protocol

from arrange.apply.pages import Pages
from arrange.apply.printed import Place, PrintedMeasure, PrintedNote
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


class Examiner(Protocol):
    """Something that compares a measure with what it was before a change."""

    def examine(self, part: str, index: int) -> None:
        """Take down how a measure stands, and look at it again after the change."""


class Sheet:
    """The document while edits are carried out on it.

    Attributes:
        document: what is edited; *pages*: its measures as printed now.
        score: the score as it stood when the first edit began.
        touched: the measures of which notes were edited, in order.
        notices: sentences about what an edit brought with it, by part and index.
    """

    def __init__(
        self,
        document: Document,
        pages: Pages,
        score: Score,
        recorders: Sequence[Recorder] = (),
        examiner: Examiner | None = None,
    ) -> None:
        self.document = document
        self.pages = pages
        self.score = score
        self.touched: dict[tuple[str, int], None] = {}
        self.notices: list[tuple[str, int, str]] = []
        self._recorders = recorders
        self._examiner = examiner
        self._marks: dict[EventId, Node] = {}
        self._signs: dict[EventId, dict[str, Node]] = {}

    def touch(self, part: str, index: int, *, keeps_time: bool = False) -> None:
        """Say that notes of a measure are about to be edited.

        Args:
            part: the part.
            index: the measure.
            keeps_time: the edit cannot break anything: no lengths, chords or ties.
        """
        if not keeps_time and self._examiner is not None:
            self._examiner.examine(part, index)
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
                if child.key == key and child.tag == tag:
                    return child
        raise GoneError(f"{event} is not there, or no longer")

    def count(self, part: str) -> int:
        """How many measures the part has."""
        return self.pages.count(part)

    def measure_node(self, part: str, index: int) -> Node:
        """The element that holds the notes of a measure."""
        return self.pages.node(part, index)

    def printed(self, part: str, index: int) -> PrintedMeasure:
        """What stands in the measure now."""
        return self.pages.measure(part, index)

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


def neighbour(sheet: Sheet, spot: Spot, step: int) -> Spot | None:
    """The next (or previous) note or chord of the same voice; rests are passed over."""
    for other in sheet.around(spot, step):
        note = other.note
        is_own_chord = other.index == spot.index and note.onset == spot.note.onset
        if note.voice != spot.note.voice or note.is_chord or note.is_rest:
            continue
        if not is_own_chord or note.is_grace != spot.note.is_grace or note.is_grace:
            return other
    return None


def ids_on(sheet: Sheet) -> set[str]:
    """The ids that notes and directions carry."""
    counts = [(part, sheet.count(part)) for part in sheet.score.by_part]
    rows = (sheet.pages.ids(part, index) for part, count in counts for index in range(count))
    return set().union(*rows)
