"""A file as the comparison sees it: its parts, their measures, and what stands in each."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property

from arrange.pitch import Interval, Pitch
from arrange.report.comparing.signatures import Event, Running
from arrange.score.container import read_source_bytes
from arrange.score.document import Document
from arrange.score.encodings import decoded
from arrange.score.model import EventId, Measure, Note, Part, Rest
from arrange.score.nodes import Node
from arrange.score.reading import Reading
from arrange.score.reading.inherited import Divisions, quarters
from arrange.units import Quarters

SILENT = (-1000, -1000)
"""Stands for the place of a rest."""
UNPITCHED = -2000
"""Far below any key number: minus its line, it stands for that of an unpitched note."""
Print = tuple[tuple[int, ...], ...]
"""The notes of a measure as numbers, sorted: place, length, grace, line, key number."""
_ZERO = Quarters(0)


@dataclass(frozen=True, slots=True)
class Tone:
    """A note, rest or unpitched note, with its element.

    Attributes:
        pitch: sounding; None for rests and unpitched notes.
        place: diatonic line and key number; for an unpitched note the line on which it is drawn.
    """

    id: EventId
    node: Node
    offset: Quarters
    duration: Quarters
    staff: int
    voice: str
    pitch: Pitch | None
    place: tuple[int, int]
    is_rest: bool = False
    is_grace: bool = False

    def moved_place(self, interval: Interval) -> tuple[int, int]:
        """Its place after a transposition; only pitches move."""
        if self.pitch is None:
            return self.place
        return self.place[0] + interval.steps, self.place[1] + interval.semitones


@dataclass(eq=False)
class Cell:
    """One measure of one part.

    Attributes:
        node: its element; *text*: how the file spells it.
        divisions: how many make a quarter at its start.
        events: signatures and clefs that begin here.
    """

    part: str
    measure: Measure
    node: Node
    text: str
    divisions: Divisions
    events: tuple[Event, ...] = ()

    @cached_property
    def fingerprint(self) -> Print:
        """Its notes as numbers, sorted."""
        notes = self.measure.notes
        count = sum(child.tag == "note" for child in self.node.children)
        if count == len(notes) + len(self.measure.rests):
            return tuple(
                sorted([_numbers(note, note.pitch.line, note.pitch.midi) for note in notes])
            )
        return tuple(
            sorted(_numbers(tone, *tone.place) for tone in self.tones if not tone.is_rest)
        )

    @cached_property
    def placed(self) -> list[tuple[Quarters, Node]]:
        """Its elements, each with the place that the file's own count gives it."""
        return list(_placed(self.node, self.divisions))

    @cached_property
    def tones(self) -> list[Tone]:
        """All its notes and rests, in the order of the file."""
        measure = self.measure
        read: dict[str, Note | Rest] = {note.id.key: note for note in measure.notes}
        read.update((rest.id.key, rest) for rest in measure.rests)
        nodes = self.node.find_all("note")
        if all(node.key in read for node in nodes):
            return [_tone(node, read[node.key]) for node in nodes]
        return [
            _tone(node, read[node.key]) if node.key in read else self._unpitched(node, offset)
            for offset, node in self.placed
            if node.tag == "note"
        ]

    def _unpitched(self, node: Node, offset: Quarters) -> Tone:
        drawn = node.find("unpitched")
        step = drawn.child_text("display-step") if drawn is not None else ""
        octave = drawn.child_text("display-octave", "0") if drawn is not None else "0"
        letter = "CDEFGAB".find(step) if step else -1
        line = letter + 7 * int(octave) if octave.lstrip("-").isdecimal() else letter
        staff = node.child_text("staff", "1")
        return Tone(
            EventId(self.part, self.measure.index, node.key),
            node,
            offset,
            as_quarters(node.child_text("duration", "0"), self.divisions),
            int(staff) if staff.isdecimal() else 1,
            node.child_text("voice", "1"),
            None,
            (line, UNPITCHED - line),
            is_grace=node.find("grace") is not None,
        )


@dataclass(eq=False)
class SheetPart:
    """One part of a file."""

    part: Part
    cells: list[Cell] = field(default_factory=list)

    @property
    def notes(self) -> int:
        """How many notes it has."""
        return sum(len(measure.notes) for measure in self.part.measures)


@dataclass(eq=False)
class Sheet:
    """One file."""

    root: Node
    title: str
    parts: list[SheetPart]

    @classmethod
    def read(cls, raw: bytes, name: str) -> "Sheet":
        """Read a plain or compressed score.

        Raises:
            BadInput: it cannot be read.
        """
        source = read_source_bytes(raw, name)
        document = Document.read(source.score_bytes, name)
        reading = Reading(document, parts=None)
        score = reading.score()
        text = decoded(source.score_bytes, name).text
        parts = [
            _sheet_part(
                part, [reading.measure_node(part.id, m.index) for m in part.measures], text
            )
            for part in score.parts
        ]
        return cls(document.root, score.title, parts)


def _sheet_part(part: Part, nodes: Sequence[Node], text: str) -> SheetPart:
    found = SheetPart(part)
    running = Running()
    for measure, node in zip(part.measures, nodes, strict=True):
        divisions = running.divisions
        cell = Cell(part.id, measure, node, text[node.start : node.end], divisions)
        signed: list[tuple[Quarters, Node]] = []
        if any(child.tag == "attributes" for child in node.children):
            signed = [entry for entry in cell.placed if entry[1].tag == "attributes"]
            for _, attributes in signed:
                running.divisions = _divisions(attributes, running.divisions)
        if signed or not measure.index:
            cell.events = running.read(signed, is_first=not measure.index)
        found.cells.append(cell)
    return found


def as_quarters(text: str, divisions: Divisions) -> Quarters:
    """A count of divisions in quarters; 0 where it is no number."""
    try:
        return quarters(int(text), divisions)
    except ValueError:
        pass
    try:
        return Quarters(text.strip()) / divisions
    except (ValueError, ZeroDivisionError):
        return _ZERO


def _divisions(attributes: Node, before: Divisions) -> Divisions:
    text = attributes.child_text("divisions")
    if not text:
        return before
    given = as_quarters(text, 1)
    if given <= 0:
        return before
    return _plain(given)


def _placed(measure: Node, divisions: Divisions) -> Iterator[tuple[Quarters, Node]]:
    position: Divisions = 0
    onset: Divisions = 0
    for child in measure.children:
        tag = child.tag
        if tag == "note":
            onset = onset if child.find("chord") is not None else position
            yield quarters(onset, divisions), child
            position += _length(child)
        elif tag in ("backup", "forward"):
            step = _count(child, "duration")
            position = max(position - step, 0) if tag == "backup" else position + step
        elif tag == "attributes":
            before, divisions = divisions, _divisions(child, divisions)
            if divisions != before and position:
                position = _plain(Fraction(position) * divisions / before)
            yield quarters(position, divisions), child
        else:
            yield quarters(position + _count(child, "offset"), divisions), child


def _length(note: Node) -> Divisions:
    """How far a note moves the reading on; one in a chord, or a grace note, not at all."""
    if note.find("chord") is not None or note.find("grace") is not None:
        return 0
    return _count(note, "duration")


def _count(node: Node, tag: str) -> Divisions:
    """A count of divisions; 0 where there is none, or no number."""
    text = node.child_text(tag, "0")
    return int(text) if text.isdecimal() else _plain(as_quarters(text, 1))


def _plain(number: Fraction) -> Divisions:
    return int(number) if number.denominator == 1 else number


def _numbers(note: Note | Tone, line: int, midi: int) -> tuple[int, ...]:
    return (
        *note.offset.as_integer_ratio(),
        *note.duration.as_integer_ratio(),
        note.is_grace,
        line,
        midi,
    )


def _tone(node: Node, read: Note | Rest) -> Tone:
    if isinstance(read, Rest):
        return Tone(
            read.id,
            node,
            read.offset,
            read.duration,
            read.staff,
            read.voice,
            None,
            SILENT,
            is_rest=True,
        )
    pitch = read.pitch
    place = (pitch.line, pitch.midi)
    return Tone(
        read.id,
        node,
        read.offset,
        read.duration,
        read.staff,
        read.voice,
        pitch,
        place,
        is_grace=read.is_grace,
    )
