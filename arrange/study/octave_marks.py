"""Octave lines, and those of them that save the reader nothing."""

from collections.abc import Iterator
from dataclasses import dataclass

from arrange.apply.clefs import MOST_LEDGER_LINES, ledger_lines
from arrange.pitch import Pitch
from arrange.score.model import Clef, Mark, MarkKind, Measure, Note, Part

_OCTAVES = {"8": 1, "15": 2, "22": 3}


@dataclass(frozen=True, slots=True)
class OctaveLine:
    """An octave line that is closed.

    Attributes:
        marks: its beginning, what continues it, its end.
        saved: how many ledger lines its notes would need without it more than they do now.
        highest: the most ledger lines of one note without it.
    """

    marks: tuple[Mark, ...]
    saved: int
    highest: int

    @property
    def is_needless(self) -> bool:
        """Its notes are read as easily where they sound."""
        return self.saved <= 0 and self.highest <= MOST_LEDGER_LINES


def octave_lines(part: Part) -> Iterator[OctaveLine]:
    """Yield the octave lines of a part, in the order in which they end."""
    is_open: dict[int, list[Mark]] = {}
    for measure in part.measures:
        for mark in measure.marks:
            if mark.kind is not MarkKind.OCTAVE_SHIFT:
                continue
            kind, _, _ = mark.text.partition(" ")
            if kind in ("up", "down"):
                is_open[mark.staff] = [mark]
            elif mark.staff in is_open:
                is_open[mark.staff].append(mark)
                if kind == "stop":
                    yield _line(part, tuple(is_open.pop(mark.staff)))


def _line(part: Part, marks: tuple[Mark, ...]) -> OctaveLine:
    kind, _, size = marks[0].text.partition(" ")
    away = _OCTAVES.get(size, 1) * (-1 if kind == "down" else 1)
    saved = highest = 0
    for note, clef in _under(part, marks[0], marks[-1]):
        pitch = note.pitch
        plain = ledger_lines(pitch, clef)
        saved += plain - ledger_lines(Pitch(pitch.step, pitch.alter, pitch.octave + away), clef)
        highest = max(highest, plain)
    return OctaveLine(marks, saved, highest)


def _under(part: Part, begin: Mark, end: Mark) -> Iterator[tuple[Note, Clef]]:
    first, last = (begin.id.index, begin.offset), (end.id.index, end.offset)
    for measure in part.measures[begin.id.index : end.id.index + 1]:
        for note in measure.notes:
            if note.staff == begin.staff and first <= (measure.index, note.offset) < last:
                yield note, _clef(measure, note)


def _clef(measure: Measure, note: Note) -> Clef:
    clefs = [c for c in measure.clefs if c.staff == note.staff and c.offset <= note.offset]
    return clefs[-1] if clefs else Clef(note.offset, note.staff, "G", 2)
