"""What stands printed in a measure: its notes with place, staff line and sign, keys and clefs."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from arrange.apply.inherited import (
    ALL_STAVES,
    Inherited,
    Place,
    as_length,
    key_on,
    length_of,
    octave_shifts,
    staff_number,
    staff_of,
    with_key,
)
from arrange.apply.signatures import (
    LETTER_PLACE,
    TREBLE,
    Alter,
    Alters,
    StaffClef,
    alter_of,
    key_alters,
    staff_clef,
)
from arrange.score.document import Document, Node
from arrange.score.reading.part_list import part_nodes

__all__ = [
    "ALL_STAVES",
    "Inherited",
    "Place",
    "PrintedMeasure",
    "PrintedNote",
    "key_on",
    "length_of",
    "measure_number",
    "part_measures",
    "printed_measure",
    "printed_part",
]


@dataclass(slots=True)
class PrintedNote:
    """One note element.

    Attributes:
        line: diatonic place of its written pitch (C0 is 0); 0 without a pitch.
        pitch: its pitch element; None for rests, unpitched notes and unreadable pitches.
        shown: its accidental element.
        is_tied: a tie arrives; *leaves_tie*: one leaves.
        value: what its type says, ``eighth``.
        has_signs: it has notations.
        has_marks: its ornaments show accidentals; *has_frets*: it names a string or a fret.
        revision: that of its element when it was read.
    """

    node: Node
    onset: Place
    staff: int = 1
    voice: str = "1"
    line: int = 0
    alter: Alter = 0
    pitch: Node | None = None
    shown: Node | None = None
    is_grace: bool = False
    is_chord: bool = False
    is_rest: bool = False
    is_tied: bool = False
    is_hidden: bool = False
    leaves_tie: bool = False
    duration: Place = 0
    has_marks: bool = False
    has_frets: bool = False
    value: str = ""
    stem: Node | None = None
    beams: tuple[Node, ...] = ()
    has_signs: bool = False
    revision: int = 0


@dataclass(slots=True)
class PrintedMeasure:
    """One measure of one part.

    Attributes:
        keys, clefs: in force when it begins, by staff (0: staves that have none of their own).
        shifts: diatonic steps that octave lines take from where the notes are read, by staff.
        key_changes, clef_changes, shift_changes: in the order of the document; the place,
            staff, and what.
        beat: the felt beat, in quarters.
        notes: in the order of the document.
        key_nodes: its key signatures and their places.
        beside: its other elements that may name pitches, and their places.
        order: what `reading_order` found; *tied*: what `ties` found.
        unreadable: pitch elements that are no pitch, or whose alteration is no number.
        divisions: how many to a quarter its places count.
        voices: how much each voice fills; *end*: where its elements leave off.
        overdrawn: how far its elements go back before its start.
    """

    index: int
    node: Node
    keys: dict[int, Alters]
    clefs: dict[int, StaffClef]
    shifts: dict[int, int]
    divisions: int
    beat: Fraction
    notes: list[PrintedNote] = field(default_factory=list)
    key_changes: list[tuple[Place, int, Alters]] = field(default_factory=list)
    clef_changes: list[tuple[Place, int, StaffClef]] = field(default_factory=list)
    shift_changes: list[tuple[Place, int, int]] = field(default_factory=list)
    key_nodes: list[tuple[Place, Node]] = field(default_factory=list)
    beside: list[tuple[Place, Node]] = field(default_factory=list)
    unreadable: list[Node] = field(default_factory=list)
    order: list[PrintedNote] = field(default_factory=list)
    tied: tuple[list[PrintedNote], Place] | None = None
    voices: dict[str, Place] = field(default_factory=dict)
    end: Place = 0
    overdrawn: Place = 0

    def reading_order(self) -> list[PrintedNote]:
        """Its notes as they are read: by time, grace notes before what they lean on."""
        if len(self.order) != len(self.notes):
            self.order = sorted(self.notes, key=_reading_place)
        return self.order

    def ties(self) -> tuple[list[PrintedNote], Place]:
        """Its notes with ties, and, where there are some, where the last of all notes ends."""
        if self.tied is None:
            tied = [note for note in self.notes if note.is_tied or note.leaves_tie]
            ends = (note.onset + note.duration for note in self.notes) if tied else ()
            self.tied = tied, max(ends, default=0)
        return self.tied

    def readable(self) -> dict[Node, PrintedNote]:
        """Its notes by their elements; none where a pitch could not be read."""
        return {} if self.unreadable else {note.node: note for note in self.notes}

    def reread_keys(self, keys: dict[int, Alters]) -> dict[int, Alters]:
        """Take in that its signatures changed, and those before it to *keys*.

        Returns:
            The signatures in force behind it.
        """
        self.keys = keys
        self.key_changes = []
        for place, node in self.key_nodes:
            alters = key_alters(node)
            if alters is not None:
                self.key_changes.append((place, staff_number(node), alters))
                keys = with_key(keys, staff_number(node), alters)
        return keys

    def display_line(self, note: PrintedNote) -> int:
        """The diatonic place at which a note is read, octave lines taken into account."""
        if not self.shifts and not self.shift_changes:
            return note.line
        steps = self.shifts.get(note.staff, 0)
        for place, staff, changed in self.shift_changes:
            if staff == note.staff and place <= note.onset:
                steps = changed
        return note.line + steps

    def clef_at(self, staff: int, onset: Place) -> StaffClef:
        """The clef in which a staff is read at a place."""
        clef = self.clefs.get(staff, TREBLE)
        for place, on_staff, changed in self.clef_changes:
            if on_staff == staff and place <= onset:
                clef = changed
        return clef


def _reading_place(note: PrintedNote) -> tuple[Place, bool]:
    return note.onset, not note.is_grace


def part_measures(document: Document, part: str) -> list[Node]:
    """The elements that hold the measures of a part, in order."""
    parts, _ = part_nodes(document.root, file="")
    return [measure for found in parts if found.listed.id == part for measure in found.measures]


def measure_number(node: Node) -> str:
    """The printed number of a measure."""
    holder = node if node.tag == "measure" or node.parent is None else node.parent
    return holder.attrs.get("number", "")


def printed_part(measures: list[Node]) -> Iterator[PrintedMeasure]:
    """The measures of a part, one after the other."""
    running = Inherited()
    for index, measure in enumerate(measures):
        yield printed_measure(measure, index, running)


def printed_measure(
    node: Node, index: int, running: Inherited, before: PrintedMeasure | None = None
) -> PrintedMeasure:
    """Read one measure; *running* goes on behind it.

    Notes that nobody touched since it was read *before* are taken over.
    """
    measure = PrintedMeasure(
        index,
        node,
        running.keys,
        running.clefs,
        running.shifts,
        running.divisions,
        running.beat,
    )
    place = _Place(measure.voices)
    known = {} if before is None else before.readable()
    notes = measure.notes
    for child in node.children:
        tag = child.tag
        if tag == "note":
            note = _as_before(known.get(child), place) or _note(child, place, measure)
            notes.append(note)
            place.pass_by(note)
        elif tag == "backup":
            place.move(-length_of(child))
        elif tag == "forward":
            place.move(length_of(child))
        elif tag == "attributes":
            _attributes(child, place, measure, running)
        elif tag in _BESIDE:
            measure.beside.append((place.now, child))
            if tag == "direction":
                _direction(child, place, measure, running)
    measure.end, measure.overdrawn = place.now - place.overdrawn, place.overdrawn
    return measure


_BESIDE = frozenset({"harmony", "figured-bass", "direction"})
_FRETS = frozenset({"fret", "string"})


@dataclass(slots=True)
class _Place:
    """Where the document stands in the measure.

    Attributes:
        voices, overdrawn: as the measure will have them.
        onset: where the last note that is no further one of a chord began.
        scale: where the divisions changed inside.
    """

    voices: dict[str, Place]
    now: Place = 0
    onset: Place = 0
    scale: Fraction | None = None
    overdrawn: Place = 0

    def move(self, length: Place) -> None:
        now = self.now + (length * self.scale if self.scale else length)
        if now < 0:
            self.overdrawn -= now
            now = 0
        self.now = now

    def pass_by(self, note: PrintedNote) -> None:
        if note.is_chord:
            return
        self.onset = self.now
        length = note.duration
        if length:
            self.move(length)
            filled = length * self.scale if self.scale else length
            self.voices[note.voice] = self.voices.get(note.voice, 0) + filled


def _direction(node: Node, place: _Place, measure: PrintedMeasure, running: Inherited) -> None:
    for steps in octave_shifts(node):
        staff = staff_of(node)
        running.take_shift(staff, steps)
        measure.shift_changes.append(
            (place.now + as_length(node.child_text("offset", "0")), staff, steps)
        )


def _attributes(node: Node, place: _Place, measure: PrintedMeasure, running: Inherited) -> None:
    running.take(node)
    if place.now == 0 and not measure.notes:
        measure.divisions = running.divisions
        measure.beat = running.beat
    elif running.divisions != measure.divisions or place.scale:
        place.scale = Fraction(measure.divisions, running.divisions)
    for child in node.children:
        if child.tag == "key":
            measure.key_nodes.append((place.now, child))
            alters = key_alters(child)
            if alters is not None:
                measure.key_changes.append((place.now, staff_number(child), alters))
        elif child.tag == "clef":
            change = (place.now, staff_number(child) or 1, staff_clef(child))
            measure.clef_changes.append(change)


def _as_before(note: PrintedNote | None, place: _Place) -> PrintedNote | None:
    """The note, if its element was not touched since and still stands where it stood."""
    if note is None or note.revision != note.node.revision:
        return None
    return note if note.onset == (place.onset if note.is_chord else place.now) else None


def _note(node: Node, place: _Place, measure: PrintedMeasure) -> PrintedNote:  # noqa: C901, PLR0912, PLR0915 - a branch a tag
    note = PrintedNote(node, place.now)
    note.revision = node.revision
    for child in node.children:
        tag = child.tag
        if tag == "pitch":
            _pitch(note, child, measure)
        elif tag == "chord":
            note.is_chord = True
            note.onset = place.onset
        elif tag == "duration":
            note.duration = as_length(child.text)
        elif tag == "voice":
            note.voice = child.text
        elif tag == "staff":
            note.staff = int(child.text) if child.text.isdecimal() else 1
        elif tag == "type":
            note.value = child.text
        elif tag == "stem":
            note.stem = child
        elif tag == "beam":
            note.beams = (*note.beams, child)
        elif tag == "accidental":
            note.shown = child
        elif tag == "tie":
            _tie(note, child)
        elif tag == "notations":
            _notations(note, child)
        elif tag == "rest":
            note.is_rest = True
        elif tag == "grace":
            note.is_grace = True
    if node.attrs.get("print-object") == "no":
        note.is_hidden = True
    return note


def _notations(note: PrintedNote, notations: Node) -> None:
    note.has_signs = True
    for sign in notations.children:
        if sign.tag == "tied":
            _tie(note, sign)
        elif sign.tag == "accidental-mark" or sign.find("accidental-mark") is not None:
            note.has_marks = True
        elif sign.tag == "technical" and any(c.tag in _FRETS for c in sign.children):
            note.has_frets = True


def _tie(note: PrintedNote, tie: Node) -> None:
    kind = tie.attrs.get("type")
    if kind == "stop":
        note.is_tied = True
    elif kind == "start":
        note.leaves_tie = True


def _pitch(note: PrintedNote, pitch: Node, measure: PrintedMeasure) -> None:
    alter: Alter | None = 0
    line = None
    try:
        for child in pitch.children:
            if child.tag == "step":
                line = LETTER_PLACE[child.text.strip().upper()]
            elif child.tag == "octave":
                note.line = 7 * int(child.text)
            elif child.tag == "alter":
                alter = alter_of(child.text)
    except (KeyError, ValueError):
        line = None
    if line is None or alter is None:
        measure.unreadable.append(pitch)
    if line is None:
        return
    note.line += line
    note.alter = alter or 0
    note.pitch = pitch
