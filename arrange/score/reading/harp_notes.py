"""The notes of one harp in order of time, over all its staves and parts."""

from collections.abc import Iterator
from typing import NamedTuple

from arrange.score.model import EventId, Mark, Measure, Note, Part, StaffHand
from arrange.units import Quarters

Moment = tuple[int, Quarters, bool, int]
"""Measure index, offset, whether it is the main note there, and which of the graces before it."""


class Placed(NamedTuple):
    """A note with its printed place, ordered by time, then as the source has it.

    Attributes:
        at: the measure's index; *offset* in it.
        is_main: False for a grace note, which comes before the main notes there.
        turn: tells one grace before the same main note from the next; 0 for main notes.
        order: place among the measure's notes.
    """

    at: int
    offset: Quarters
    is_main: bool
    turn: int
    order: int
    note: Note

    @property
    def moment(self) -> Moment:
        """When it begins."""
        return self[:4]

    @property
    def voice(self) -> tuple[str, str]:
        """Its part and voice."""
        return self.note.id.part, self.note.voice


class HarpNotes:
    """The notes on the staves of one harp; measures are put in order when first asked for."""

    def __init__(self, parts: tuple[Part, ...], harp: tuple[StaffHand, ...]) -> None:
        names = dict.fromkeys(staff.part for staff in harp)
        by_name = {part.id: part for part in parts}
        self.parts = tuple(by_name[name] for name in names)
        self.count = max((len(part.measures) for part in self.parts), default=0)
        self._staves = {(staff.part, staff.staff) for staff in harp}
        self._placed: dict[int, tuple[Placed, ...]] = {}

    def measures(self, index: int) -> Iterator[Measure]:
        """The measures of the harp's parts at one place."""
        for part in self.parts:
            if 0 <= index < len(part.measures):
                yield part.measures[index]

    def marks(self) -> Iterator[Mark]:
        """Every mark of the harp's parts."""
        for part in self.parts:
            for measure in part.measures:
                yield from measure.marks

    def placed(self, index: int) -> tuple[Placed, ...]:
        """The notes of the measures at one place, by time."""
        known = self._placed.get(index)
        if known is None:
            notes = [note for measure in self.measures(index) for note in measure.notes]
            turns = {note.id: order for order, note in enumerate(notes)}
            known = self._placed[index] = tuple(
                sorted(
                    Placed(index, n.offset, not n.is_grace, turns[n.chord] * n.is_grace, order, n)
                    for order, n in enumerate(notes)
                    if (n.id.part, n.staff) in self._staves
                )
            )
        return known

    def where(self, note: EventId) -> Placed:
        """The note with its place."""
        return next(p for p in self.placed(note.index) if p.note.id == note)

    def onward(self, start: Placed, measures: int) -> Iterator[Placed]:
        """The notes after *start*, in order, to the end of so many measures after its own."""
        for index in range(start.at, min(start.at + measures + 1, self.count)):
            yield from (p for p in self.placed(index) if p[:5] > start[:5])

    def backward(self, start: Placed, measures: int) -> Iterator[Placed]:
        """The notes before *start*, last first, from so many measures before its own."""
        for index in range(start.at, max(start.at - measures, 0) - 1, -1):
            yield from (p for p in reversed(self.placed(index)) if p[:5] < start[:5])

    def next_chord(self, start: Placed) -> tuple[Placed, ...]:
        """What is played next, low to high: by the voice of *start*, else on its staff.

        Two measures on it is given up. Cue notes, and notes that only go on sounding by a tie,
        are passed over.
        """
        staff = start.note.id.part, start.note.staff
        first: dict[str, list[Placed]] = {}
        for placed in self.onward(start, 2):
            note = placed.note
            if placed.moment == start.moment or note.is_cue or note.tied_from:
                continue
            if placed.voice == start.voice:
                _gather(first.setdefault("voice", []), placed)
            elif (note.id.part, note.staff) == staff:
                _gather(first.setdefault("staff", []), placed)
        found = first.get("voice") or first.get("staff") or []
        return tuple(sorted(found, key=lambda p: p.note.pitch.midi))

    def after(self, placed: Placed) -> tuple[int, Quarters]:
        """Where the written length of a note ends."""
        index, offset = placed.at, placed.offset + placed.note.duration
        measures = next(p for p in self.parts if p.id == placed.note.id.part).measures
        while offset > measures[index].length and index + 1 < len(measures):
            offset -= measures[index].length
            index += 1
        return index, offset


def _gather(chord: list[Placed], placed: Placed) -> None:
    """Add a note to a chord that it begins or is struck with."""
    if not chord or placed.moment == chord[0].moment:
        chord.append(placed)
