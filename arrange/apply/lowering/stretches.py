"""Which notes a run replaces, measure by measure, and whether it fits into their time."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from arrange.apply.lowering.rhythm import RunNote, rhythm_of
from arrange.apply.lowering.sheet import RefusedError, Sheet
from arrange.apply.lowering.trees import chord_of, is_grace
from arrange.edits import NoteValue, WriteRun
from arrange.score.document import Node
from arrange.score.model import EventId, Note
from arrange.units import Quarters


@dataclass(slots=True)
class Stretch:
    """The part of a run that falls into one measure.

    Attributes:
        old: the notes that it replaces, in time order, grace notes at their place.
        run: what takes their place.
    """

    part: str
    index: int
    old: list[Note]
    run: list[RunNote]


def stretches_of(sheet: Sheet, edit: WriteRun) -> list[Stretch]:
    """The parts of a run, measure by measure.

    Raises:
        RefusedError: what it replaces is not there, or the run lies elsewhere.
    """
    part = edit.note.part
    old: dict[int, list[Note]] = {}
    taken: set[EventId] = set()
    for value in edit.before:
        note = _matching(sheet, edit, value, taken)
        taken.add(note.id)
        old.setdefault(value.index, []).append(note)
    if edit.note not in taken:
        raise RefusedError("the run does not begin with its own note")
    new: dict[int, list[NoteValue]] = {}
    ties: dict[int, set[Quarters]] = {}
    for value in edit.after:
        _divide(sheet, part, value, new, ties)
    if sorted(old) != sorted(new):
        raise RefusedError("the run lies in other measures than the notes that it replaces")
    return [
        Stretch(
            part,
            index,
            sorted(old[index], key=lambda note: note.offset),
            rhythm_of(new[index], ties.get(index, set()), edit.tuplet),
        )
        for index in sorted(old)
    ]


def _matching(sheet: Sheet, edit: WriteRun, value: NoteValue, taken: set[EventId]) -> Note:
    """The note that the log means; of two that are alike the run's own note first."""
    notes = sheet.measure(edit.note.part, value.index).notes
    alike = [note for note in notes if note.id not in taken and is_of(note, value)]
    if alike:
        return next((note for note in alike if note.id == edit.note), alike[0])
    raise RefusedError(f"the note {value.pitch} that the run replaces is not there")


def is_of(note: Note, value: NoteValue) -> bool:
    """Whether the log's note is this one."""
    return NoteValue.of(note) == value


def _divide(
    sheet: Sheet,
    part: str,
    value: NoteValue,
    new: dict[int, list[NoteValue]],
    ties: dict[int, set[Quarters]],
) -> None:
    """Divide a note that a barline cuts; what is before the barline is tied on."""
    index, offset, left = value.index, value.offset, value.duration
    is_measure = 0 <= index < sheet.count(part)
    if not is_measure or not 0 <= offset < sheet.measure(part, index).length:
        raise RefusedError(f"{value.pitch} of the run begins outside its measure")
    while index < sheet.count(part):
        length = sheet.measure(part, index).length
        here = min(left, length - offset)
        new.setdefault(index, []).append(
            replace(value, index=index, offset=offset, duration=here, is_grace=False)
        )
        left -= here
        if left <= 0:
            return
        ties.setdefault(index, set()).add(offset)
        index, offset = index + 1, Quarters(0)
    raise RefusedError("the run goes on behind the last measure")


def require_room(stretch: Stretch, nodes: Sequence[Node]) -> list[Node]:
    """The chord heads among the notes to be replaced; nothing else may share their time.

    Raises:
        RefusedError: chords only partly replaced, gaps, a tuplet cut, or another length.
    """
    heads: list[Node] = []
    old_places: list[tuple[Quarters, Quarters]] = []
    for note, node in zip(stretch.old, nodes, strict=True):
        chord = chord_of(node)
        if any(member not in nodes for member in chord):
            raise RefusedError("the run would take the place of a chord of which notes stay")
        if node is chord[0] and not is_grace(node):
            heads.append(node)
            old_places.append((note.offset, note.duration))
    if not heads:
        raise RefusedError("grace notes alone leave a run no time")
    new_places = [(sign.offset, sign.duration) for sign in stretch.run]
    if _span(old_places) != _span(new_places):
        raise RefusedError("the run is longer or shorter than the notes that it replaces")
    _require_whole_tuplets(heads)
    return heads


def _span(places: Sequence[tuple[Quarters, Quarters]]) -> tuple[Quarters, Quarters]:
    """From where to where notes go that follow each other without a gap."""
    end = places[0][0]
    for offset, duration in places:
        if offset != end:
            raise RefusedError("the notes of a run, or those that it replaces, leave a gap")
        end = offset + duration
    return places[0][0], end


def _require_whole_tuplets(heads: Sequence[Node]) -> None:
    if all(head.find("time-modification") is None for head in heads):
        return
    kinds = [
        sign.attrs.get("type")
        for head in heads
        for notations in head.find_all("notations")
        for sign in notations.find_all("tuplet")
    ]
    outer = (heads[0].find("time-modification"), heads[-1].find("time-modification"))
    if kinds.count("start") != kinds.count("stop") or not kinds or None in outer:
        raise RefusedError("the run would begin or end inside a tuplet")
