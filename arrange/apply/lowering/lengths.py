"""A note and its chord written shorter, with rests behind it, or longer, into rests."""

from collections.abc import Sequence
from dataclasses import replace

from arrange.apply.lowering.beams import beam_group, leave_beam, levels_of, write_beams
from arrange.apply.lowering.between import keep_in_time, marks_between
from arrange.apply.lowering.divisions import length_text, make_expressible
from arrange.apply.lowering.sheet import RefusedError, Sheet, Spot, quarters
from arrange.apply.lowering.trees import (
    chord_of,
    copied,
    copy_fields,
    drop,
    fresh_key,
    is_grace,
    notations_of,
    put_text,
)
from arrange.apply.lowering.values import pieces, ratio_of, write_value, written
from arrange.apply.printed import PrintedNote
from arrange.edits import SetDuration
from arrange.score.document import Node, element
from arrange.units import Quarters

_COPIED_TO_A_REST = ("instrument", "voice", "time-modification", "staff")


def set_duration(sheet: Sheet, edit: SetDuration) -> None:
    """Write a note and its chord in another length, within the time that it has."""
    node = sheet.note(edit.note)
    part, index = edit.note.part, edit.note.index
    sheet.touch(part, index)
    length, ratio = edit.after.duration, ratio_of(node)
    if replace(edit.before, duration=length) != edit.after:
        raise RefusedError("more than the length would change")
    if is_grace(node) or length <= 0:
        raise RefusedError("a grace note has no length that could be changed")
    value = written(length * ratio, most_dots=2)
    if value is None:
        raise RefusedError(f"no single note lasts {length} quarters")
    chord = chord_of(node)
    consumed, spare = _room(sheet, sheet.place(edit.note, chord[0]), length)
    parts = [p / ratio for p in _rest_values(edit, spare, ratio)]
    divisions = make_expressible(sheet, part, index, (length, edit.after.offset, *parts))
    _keep_marks(sheet, sheet.place(edit.note, chord[0]), consumed)
    for member in chord:
        put_text(sheet.document, member, "duration", length_text(length, divisions))
        write_value(sheet.document, member, value)
    rests = _put_rests(sheet, chord, parts, divisions)
    _move_tuplet_end(sheet, [chord[0], *consumed], [chord[0], *rests])
    for rest in consumed:
        sheet.document.remove(rest)
    _beam_again(sheet, chord[0])


def _room(sheet: Sheet, spot: Spot, length: Quarters) -> tuple[list[Node], Quarters]:
    """The rests that a note grows into, and the time that is then left for rests."""
    divisions = sheet.printed(spot.part, spot.index).divisions
    spare = quarters(spot.note.duration, divisions) - length
    rests = _following_rests(sheet, spot, -spare)
    spare += sum((quarters(rest.duration, divisions) for rest in rests), Quarters(0))
    return [rest.node for rest in rests], spare


def _keep_marks(sheet: Sheet, spot: Spot, consumed: Sequence[Node]) -> None:
    """Marks before the rests that a note grows into go before the note, and say how late."""
    if not consumed:
        return
    onset = {note.node: note.onset for note in sheet.printed(spot.part, spot.index).notes}
    own = {*chord_of(spot.node), *consumed}
    for mark, behind in marks_between(spot.node, consumed[-1], own):
        keep_in_time(sheet, mark, spot.node, onset[behind] - spot.note.onset)


def _following_rests(sheet: Sheet, spot: Spot, wanted: Quarters) -> list[PrintedNote]:
    """The rests of its voice right behind a note, as many as it needs."""
    measure = sheet.printed(spot.part, spot.index)
    end = spot.note.onset + spot.note.duration
    found: list[PrintedNote] = []
    for note in measure.notes:
        if wanted <= 0:
            break
        if note.voice != spot.note.voice or note.is_grace or note.onset < end:
            continue
        if note.onset != end or not note.is_rest or _carries_something(note.node):
            break
        found.append(note)
        end = note.onset + note.duration
        wanted -= quarters(note.duration, measure.divisions)
    if wanted > 0:
        raise RefusedError("no bare rest behind the note is long enough")
    return found


def _carries_something(rest: Node) -> bool:
    """Whether words or signs would go with the rest."""
    signs = [sign for notations in rest.find_all("notations") for sign in notations.children]
    return rest.find("lyric") is not None or any(sign.tag != "tuplet" for sign in signs)


def _rest_values(edit: SetDuration, spare: Quarters, ratio: Quarters) -> list[Quarters]:
    if spare == 0:
        return []
    onset = edit.after.offset + edit.after.duration
    found = pieces(spare * ratio, onset if ratio == 1 else Quarters(0))
    if not found:
        raise RefusedError(f"no rests last {spare} quarters here")
    return found


def _put_rests(
    sheet: Sheet, chord: Sequence[Node], parts: Sequence[Quarters], divisions: int
) -> list[Node]:
    """Put rests behind a chord."""
    head, around = chord[0], chord[0].parent
    if around is None:
        raise RefusedError("the note is gone")
    at = around.children.index(chord[-1]) + 1
    before = around.children[at] if at < len(around.children) else None
    rests = []
    for part in parts:
        rest = element("note", "", element("rest"))
        rest.key = fresh_key(around, head.key)
        sheet.document.insert(around, rest, before=before)
        put_text(sheet.document, rest, "duration", length_text(part, divisions))
        copy_fields(sheet.document, head, rest, _COPIED_TO_A_REST)
        value = written(part * ratio_of(head))
        if value is not None:
            write_value(sheet.document, rest, value)
        rests.append(rest)
    return rests


def _move_tuplet_end(sheet: Sheet, old: Sequence[Node], new: Sequence[Node]) -> None:
    """A tuplet ends at the last of its notes and rests."""
    for node in old:
        for notations in node.find_all("notations"):
            for sign in notations.find_all("tuplet"):
                if sign.attrs.get("type") == "stop" and node is not new[-1]:
                    sheet.document.insert(notations_of(sheet.document, new[-1]), copied(sign))
                    drop(sheet.document, sign)


def _beam_again(sheet: Sheet, head: Node) -> None:
    group = beam_group(head)
    if not group:
        return
    if levels_of(head):
        write_beams(sheet.document, group)
    else:
        leave_beam(sheet.document, [head])
