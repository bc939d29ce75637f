"""A note becomes a run of notes that fills its time."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from arrange.apply.lowering.beams import leave_beam
from arrange.apply.lowering.divisions import length_text, make_expressible
from arrange.apply.lowering.lines import add_tie, cut_ties, lines_of, take_off_line
from arrange.apply.lowering.notes import as_written, write_pitch
from arrange.apply.lowering.rhythm import RunNote, beam_run, bracket_run, rhythm_of
from arrange.apply.lowering.sheet import RefusedError, Sheet, Spot
from arrange.apply.lowering.trees import (
    chord_of,
    copied,
    copy_fields,
    drop,
    drop_children,
    fresh_key,
    is_grace,
    notations_of,
    put_text,
)
from arrange.apply.lowering.values import write_value
from arrange.edits import NoteValue, WriteRun
from arrange.score.document import Node, element
from arrange.score.model import EventId, Note
from arrange.units import Quarters

_COPIED = ("instrument", "voice", "staff")
_ONLY_FIRST = frozenset({"arpeggiate", "non-arpeggiate"})
_TO_THE_LAST = frozenset({"fermata"})
_OLD_SHAPE = ("cue", "accidental", "beam", "stem", "time-modification", "chord")


@dataclass(slots=True)
class _Stretch:
    """The part of a run that falls into one measure.

    Attributes:
        old: the notes that it replaces, in time order, grace notes at their place.
        run: what takes their place.
    """

    part: str
    index: int
    old: list[Note]
    run: list[RunNote]


def write_run(sheet: Sheet, edit: WriteRun) -> None:
    """Replace notes by a run, measure by measure."""
    stretches = _stretches(sheet, edit)
    written: list[list[Node]] = [_write_stretch(sheet, stretch) for stretch in stretches]
    nodes = [node for row in written for node in row]
    run = [note for stretch in stretches for note in stretch.run]
    for (node, note), (following, _) in pairwise(zip(nodes, run, strict=True)):
        if note.is_tied_on:
            add_tie(sheet, node, "start")
            add_tie(sheet, following, "stop")


def _stretches(sheet: Sheet, edit: WriteRun) -> list[_Stretch]:
    part = edit.note.part
    old: dict[int, list[Note]] = {}
    taken: set[EventId] = set()
    for value in edit.before:
        note = _matching(sheet, part, value, taken)
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
        _Stretch(
            part,
            index,
            sorted(old[index], key=lambda note: note.offset),
            rhythm_of(new[index], ties.get(index, set()), edit.tuplet),
        )
        for index in sorted(old)
    ]


def _matching(sheet: Sheet, part: str, value: NoteValue, taken: set[EventId]) -> Note:
    for note in sheet.measure(part, value.index).notes:
        if note.id not in taken and is_of(note, value):
            return note
    raise RefusedError(f"the note {value.pitch} that the run replaces is not there")


def is_of(note: Note, value: NoteValue) -> bool:
    """Whether the log's note is this one."""
    place = (note.id.index, note.offset, note.staff, note.voice)
    length = (note.duration, note.is_grace, note.pitch)
    return place == (value.index, value.offset, value.staff, value.voice) and length == (
        value.duration,
        value.is_grace,
        value.pitch,
    )


def _divide(
    sheet: Sheet,
    part: str,
    value: NoteValue,
    new: dict[int, list[NoteValue]],
    ties: dict[int, set[Quarters]],
) -> None:
    """Divide a note that a barline cuts; what is before the barline is tied on."""
    index, offset, left = value.index, value.offset, value.duration
    while index < sheet.count(part):
        length = sheet.measure(part, index).length
        here = min(left, length - offset)
        if here > 0:
            piece = NoteValue(
                index, offset, value.staff, value.voice, here, is_grace=False, pitch=value.pitch
            )
            new.setdefault(index, []).append(piece)
        left -= max(here, Quarters(0))
        if left <= 0:
            return
        if here > 0:
            ties.setdefault(index, set()).add(offset)
        index, offset = index + 1, Quarters(0)
    raise RefusedError("the run goes on behind the last measure")


def _write_stretch(sheet: Sheet, stretch: _Stretch) -> list[Node]:
    part, index = stretch.part, stretch.index
    sheet.touch(part, index)
    nodes = [sheet.note(note.id) for note in stretch.old]
    heads = _require_room(stretch, nodes)
    for note, node in zip(stretch.old, nodes, strict=True):
        _cut_outer_ties(sheet, stretch, sheet.place(note.id, node))
    places = [place for note in stretch.run for place in (note.offset, note.duration)]
    divisions = make_expressible(sheet, part, index, places)
    leave_beam(sheet.document, nodes)
    first, around = heads[0], heads[0].parent
    if around is None:
        raise RefusedError("the note is gone")
    row = [first]
    behind = around.children[around.children.index(heads[-1]) + 1 :]
    before = next((n for n in behind if n not in nodes), None)
    for _ in stretch.run[1:]:
        new = element("note", "", element("pitch", "", element("step", "C"), element("octave", "4")))
        new.key = fresh_key(around, first.key)
        sheet.document.insert(around, new, before=before)
        copy_fields(sheet.document, first, new, _COPIED)
        row.append(new)
    _hand_over_signs(sheet, stretch, nodes, row)
    for node in nodes:
        if node is not first:
            sheet.document.remove(node)
    drop_children(sheet.document, first, _OLD_SHAPE)
    if "print-object" in first.attrs:
        sheet.document.set_attribute(first, "print-object", None)
    for node, note in zip(row, stretch.run, strict=True):
        write_pitch(sheet, node, as_written(sheet, part, index, note.pitch))
        put_text(sheet.document, node, "duration", length_text(note.duration, divisions))
        write_value(sheet.document, node, note.value)
    bracket_run(sheet.document, row, stretch.run)
    beam_run(sheet.document, row, stretch.run, sheet.measure(part, index).meter)
    return row
