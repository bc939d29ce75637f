"""A note becomes a run of notes that fills its time."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from arrange.apply.lowering.beams import leave_beam
from arrange.apply.lowering.divisions import length_text, make_expressible
from arrange.apply.lowering.lines import (
    add_tie,
    cut_ties,
    has_line,
    lines_of,
    remove_tie,
    take_off_line,
    ties_of,
)
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
_DROPPED = frozenset({"arpeggiate", "non-arpeggiate", "tuplet"})
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
        new = element(
            "note", "", element("pitch", "", element("step", "C"), element("octave", "4"))
        )
        new.key = fresh_key(around, first.key)
        sheet.document.insert(around, new, before=before)
        copy_fields(sheet.document, first, new, _COPIED)
        row.append(new)
    _hand_over_signs(sheet, stretch, nodes, row)
    for node in nodes:
        if node is not first:
            sheet.document.remove(node)
    _clear_shape(sheet, first)
    for node, sign in zip(row, stretch.run, strict=True):
        write_pitch(sheet, node, as_written(sheet, part, index, sign.pitch))
        put_text(sheet.document, node, "duration", length_text(sign.duration, divisions))
        write_value(sheet.document, node, sign.value)
    bracket_run(sheet.document, row, stretch.run)
    beam_run(sheet.document, row, stretch.run, sheet.measure(part, index).meter)
    return row


def _clear_shape(sheet: Sheet, note: Node) -> None:
    """Make the note that stays an ordinary one: full size, seen, by itself."""
    drop_children(sheet.document, note, _OLD_SHAPE)
    if "print-object" in note.attrs:
        sheet.document.set_attribute(note, "print-object", None)
    kind = note.find("type")
    if kind is not None and "size" in kind.attrs:
        sheet.document.set_attribute(kind, "size", None)


def _require_room(stretch: _Stretch, nodes: Sequence[Node]) -> list[Node]:
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


def _cut_outer_ties(sheet: Sheet, stretch: _Stretch, spot: Spot) -> None:
    """Cut the ties of a note to be replaced, but for one that a note of the run can carry on."""
    time = sheet.printed(spot.part, spot.index)
    begin = Quarters(spot.note.onset) / time.divisions
    end = begin + Quarters(spot.note.duration) / time.divisions
    first, last = stretch.run[0], stretch.run[-1]
    pitch = next(note.pitch for note in stretch.old if note.id.key == spot.node.key)
    if not (begin == first.offset and pitch == first.pitch):
        cut_ties(sheet, spot, (-1,))
    if not (end == last.offset + last.duration and pitch == last.pitch):
        cut_ties(sheet, spot, (1,))


def _hand_over_signs(
    sheet: Sheet, stretch: _Stretch, nodes: Sequence[Node], row: Sequence[Node]
) -> None:
    """What hung on the old notes and goes on: slurs, a tie out, a fermata, lyrics."""
    first, last = row[0], row[-1]
    for note, node in zip(stretch.old, nodes, strict=True):
        heir = _sounding_at(stretch.run, row, note.offset)
        if node is not last and any(tie.attrs.get("type") == "start" for tie in ties_of(node)):
            remove_tie(sheet, node, "start")
            add_tie(sheet, last, "start")
        for sign in _signs_of(node):
            target = _heir_of(sign, first=first, last=last, heir=heir)
            if target is not None:
                _give(sheet, sign, node, target)
            elif sign.parent is not None and sign in lines_of(node):
                take_off_line(sheet, sheet.place(note.id, node), sign)
            elif sign.parent is not None and (node is not first or sign.tag in _DROPPED):
                drop(sheet.document, sign)
        _give_words(sheet, node, heir, is_first=node is first)


def _give_words(sheet: Sheet, node: Node, heir: Node, *, is_first: bool) -> None:
    if not is_first and heir.find("lyric") is None:
        copy_fields(sheet.document, node, heir, ("lyric",))


def _signs_of(node: Node) -> list[Node]:
    return [sign for notations in node.find_all("notations") for sign in notations.children]


def _give(sheet: Sheet, sign: Node, node: Node, target: Node) -> None:
    if target is node:
        return
    if sign.tag != "slur" or not has_line(target, sign):
        sheet.document.insert(notations_of(sheet.document, target), copied(sign))
    drop(sheet.document, sign)


def _heir_of(sign: Node, *, first: Node, last: Node, heir: Node) -> Node | None:
    """The note of the run that a sign goes to; None where it falls away or stays."""
    if sign.tag == "fermata":
        return last
    if sign.tag == "slur":
        return last if sign.attrs.get("type") == "stop" else heir
    is_line = sign.tag in {"glissando", "slide"}
    return heir if is_line and heir is first and sign.attrs.get("type") == "start" else None


def _sounding_at(run: Sequence[RunNote], row: Sequence[Node], offset: Quarters) -> Node:
    heir = row[0]
    for sign, node in zip(run, row, strict=True):
        if sign.offset <= offset:
            heir = node
    return heir
