"""A note becomes a run of notes that fills its time."""

from collections.abc import Sequence
from itertools import pairwise

from arrange.apply.lowering.beams import leave_beam
from arrange.apply.lowering.between import keep_in_time, marks_between
from arrange.apply.lowering.divisions import length_text, make_expressible
from arrange.apply.lowering.lines import (
    add_tie,
    cut_ties,
    has_line,
    lines_of,
    remove_tie,
    take_off_line,
    tie_partner,
    ties_of,
)
from arrange.apply.lowering.notes import as_written, write_pitch
from arrange.apply.lowering.rhythm import RunNote, beam_run, bracket_run
from arrange.apply.lowering.sheet import RefusedError, Sheet, Spot
from arrange.apply.lowering.stretches import Stretch, require_room, stretches_of
from arrange.apply.lowering.trees import (
    copied,
    copy_fields,
    drop,
    drop_children,
    fresh_key,
    notations_of,
    put_text,
)
from arrange.apply.lowering.values import write_value
from arrange.edits import WriteRun
from arrange.score.document import Node, element
from arrange.units import Quarters

_COPIED = ("instrument", "voice", "staff")
_DROPPED = frozenset({"arpeggiate", "non-arpeggiate", "tuplet"})
_OLD_SHAPE = ("cue", "beam", "stem", "time-modification", "chord")


def write_run(sheet: Sheet, edit: WriteRun) -> None:
    """Replace notes by a run, measure by measure."""
    stretches = stretches_of(sheet, edit)
    _cut_inner_ties(sheet, stretches)
    written = [_write_stretch(sheet, stretch) for stretch in stretches]
    nodes = [node for row in written for node in row]
    run = [note for stretch in stretches for note in stretch.run]
    for (node, note), (following, _) in pairwise(zip(nodes, run, strict=True)):
        if note.is_tied_on:
            add_tie(sheet, node, "start")
            add_tie(sheet, following, "stop")


def _write_stretch(sheet: Sheet, stretch: Stretch) -> list[Node]:
    part, index = stretch.part, stretch.index
    sheet.touch(part, index)
    nodes = [sheet.note(note.id) for note in stretch.old]
    heads = require_room(stretch, nodes)
    for note, node in zip(stretch.old, nodes, strict=True):
        _cut_outer_ties(sheet, stretch, sheet.place(note.id, node))
    places = [place for note in stretch.run for place in (note.offset, note.duration)]
    divisions = make_expressible(sheet, part, index, places)
    leave_beam(sheet.document, nodes)
    marks = marks_between(heads[0], nodes[-1], nodes)
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
    for mark, follower in marks:
        _keep_mark(sheet, stretch, (mark, stretch.old[nodes.index(follower)].offset), row)
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


def _keep_mark(
    sheet: Sheet, stretch: Stretch, mark: tuple[Node, Quarters], row: Sequence[Node]
) -> None:
    """A mark that stood between old notes stays in its place between the new ones."""
    node, offset = mark
    anchor = _sounding_at(stretch.run, row, offset)
    begin = stretch.run[row.index(anchor)].offset
    divisions = sheet.printed(stretch.part, stretch.index).divisions
    keep_in_time(sheet, node, anchor, (offset - begin) * divisions)


def _clear_shape(sheet: Sheet, note: Node) -> None:
    """Make the note that stays an ordinary one: full size, seen, by itself."""
    drop_children(sheet.document, note, _OLD_SHAPE)
    if "print-object" in note.attrs:
        sheet.document.set_attribute(note, "print-object", None)
    kind = note.find("type")
    if kind is not None and "size" in kind.attrs:
        sheet.document.set_attribute(kind, "size", None)


def _cut_inner_ties(sheet: Sheet, stretches: Sequence[Stretch]) -> None:
    """Cut the ties between notes that are all to be replaced."""
    old = {note.id: sheet.note(note.id) for stretch in stretches for note in stretch.old}
    nodes = set(old.values())
    for event, node in old.items():
        sheet.touch(event.part, event.index)
        spot = sheet.place(event, node)
        partner = tie_partner(sheet, spot, 1) if spot.note.leaves_tie else None
        if partner is not None and partner.node in nodes:
            cut_ties(sheet, spot, (1,))


def _cut_outer_ties(sheet: Sheet, stretch: Stretch, spot: Spot) -> None:
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
    sheet: Sheet, stretch: Stretch, nodes: Sequence[Node], row: Sequence[Node]
) -> None:
    """What hung on the old notes and goes on: slurs, a tie out, a fermata, lyrics."""
    first, last = row[0], row[-1]
    begun: dict[str, Node] = {}
    for note, node in zip(stretch.old, nodes, strict=True):
        heir = _sounding_at(stretch.run, row, note.offset)
        end = _sounding_until(stretch.run, row, note.offset + note.duration)
        if node is not last and any(tie.attrs.get("type") == "start" for tie in ties_of(node)):
            remove_tie(sheet, node, "start")
            add_tie(sheet, last, "start")
        for sign in _signs_of(node):
            target = _heir_of(sign, first=first, last=last, heir=heir, end=end)
            if sign.tag == "slur" and target is not None and _closes(sheet, sign, target, begun):
                drop(sheet.document, sign)
            elif target is not None:
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


def _closes(sheet: Sheet, slur: Node, target: Node, begun: dict[str, Node]) -> bool:
    """Whether a slur would begin and end on one note of the run; its beginning then goes too."""
    number = slur.attrs.get("number", "1")
    if slur.attrs.get("type") == "start":
        begun[number] = target
        return False
    if slur.attrs.get("type") != "stop" or begun.pop(number, None) is not target:
        return False
    for line in lines_of(target):
        is_start = line.tag == "slur" and line.attrs.get("type") == "start"
        if is_start and line.attrs.get("number", "1") == number:
            drop(sheet.document, line)
            return True
    return False


def _heir_of(sign: Node, *, first: Node, last: Node, heir: Node, end: Node) -> Node | None:
    """The note of the run that a sign goes to; None where it falls away or stays."""
    if sign.tag == "fermata":
        return last
    if sign.tag == "slur":
        return end if sign.attrs.get("type") == "stop" else heir
    is_line = sign.tag in {"glissando", "slide"}
    return heir if is_line and heir is first and sign.attrs.get("type") == "start" else None


def _sounding_until(run: Sequence[RunNote], row: Sequence[Node], end: Quarters) -> Node:
    """The last note of the run that begins before *end*."""
    heir = row[0]
    for sign, node in zip(run, row, strict=True):
        if sign.offset < end:
            heir = node
    return heir


def _sounding_at(run: Sequence[RunNote], row: Sequence[Node], offset: Quarters) -> Node:
    heir = row[0]
    for sign, node in zip(run, row, strict=True):
        if sign.offset <= offset:
            heir = node
    return heir
