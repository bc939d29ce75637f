"""A note gets another pitch, or is left out."""

from dataclasses import replace

from arrange.apply.lowering.beams import leave_beam
from arrange.apply.lowering.lines import cut_ties, has_line, take_off_line, take_off_lines, ties_of
from arrange.apply.lowering.sheet import RefusedError, Sheet, Spot
from arrange.apply.lowering.trees import (
    chord_of,
    copied,
    drop,
    drop_children,
    is_grace,
    notations_of,
    put_text,
)
from arrange.apply.neighbours import MOST_SIGNS
from arrange.edits import RemoveNote, SetPitch
from arrange.pitch import Interval, Pitch, interval_between
from arrange.score.document import Node, element, place_in_order

_OF_A_PITCH = (
    "pitch", "unpitched", "tie", "accidental", "stem", "notehead", "notehead-text", "beam",
    "play", "listen", "cue",
)  # fmt: skip
"""What a note has and a rest has not."""
_KEPT_ON_A_REST = frozenset({"tuplet", "fermata", "dynamics"})
_PER_NOTE = frozenset({"technical", "tied", "accidental-mark"})
"""Notations that belong to one note of a chord; the others belong to all of it."""
_HIGHEST_OCTAVE = 9
"""MusicXML 4.0."""
_ON_THE_PAGE = ("print-object", "default-y", "relative-y")


def set_pitch(sheet: Sheet, edit: SetPitch) -> None:
    """Write another pitch."""
    node = sheet.note(edit.note)
    if replace(edit.before, pitch=edit.after.pitch) != edit.after:
        raise RefusedError("more than the pitch would change")
    _keep_ornaments(sheet, edit)
    is_tied = next(ties_of(node), None) is not None
    sheet.touch(edit.note.part, edit.note.index, keeps_time=not is_tied)
    written = written_pitch(node)
    if written is not None:
        target = interval_between(edit.before.pitch, edit.after.pitch).move(written)
    else:
        target = as_written(sheet, edit.note.part, edit.note.index, edit.after.pitch)
    write_pitch(sheet, node, target)


def _keep_ornaments(sheet: Sheet, edit: SetPitch) -> None:
    """Refuse a spelling beside which the notes of an ornament could not be written."""
    note = sheet.score.notes_by_id.get(edit.note)
    if note is None or not note.auxiliaries:
        return
    moved = interval_between(edit.before.pitch, edit.after.pitch)
    if any(abs(moved.move(neighbour).alter) > MOST_SIGNS for neighbour in note.auxiliaries):
        raise RefusedError("no accidental says what its ornament would sound")


def as_written(sheet: Sheet, part: str, index: int, sounding: Pitch) -> Pitch:
    """How a part that transposes writes a pitch."""
    up = sheet.measure(part, index).transposition
    return Interval(-up.steps, -up.semitones).move(sounding)


def written_pitch(note: Node) -> Pitch | None:
    """The pitch as written; None where it is altered by less than a semitone."""
    pitch = note.find("pitch")
    if pitch is None:
        raise RefusedError("the note has no pitch")
    alter = pitch.child_text("alter", "0")
    try:
        return Pitch(pitch.child_text("step"), int(alter), int(pitch.child_text("octave")))
    except ValueError:
        return None


def write_pitch(sheet: Sheet, note: Node, target: Pitch) -> None:
    """Write step, alteration and octave, each only where it differs."""
    pitch = note.find("pitch")
    if pitch is None:
        raise RefusedError("the note has no pitch")
    if not 0 <= target.octave <= _HIGHEST_OCTAVE:
        raise RefusedError(f"{target} lies beyond what a file can hold")
    put_text(sheet.document, pitch, "step", target.step)
    alter = pitch.find("alter")
    if alter is not None and target.alter == 0 and alter.text.strip() != "0":
        sheet.document.remove(alter)
    elif target.alter != 0:
        put_text(sheet.document, pitch, "alter", str(target.alter))
    put_text(sheet.document, pitch, "octave", str(target.octave))


def remove_note(sheet: Sheet, edit: RemoveNote) -> None:
    """Leave a note out of its chord; alone, it becomes a rest, or goes if it is a grace note."""
    node = sheet.note(edit.note)
    sheet.touch(edit.note.part, edit.note.index)
    spot = sheet.place(edit.note, node)
    cut_ties(sheet, spot)
    chord = chord_of(node)
    if len(chord) > 1:
        _leave_chord(sheet, spot, chord)
    elif is_grace(node):
        take_off_lines(sheet, spot)
        leave_beam(sheet.document, [node])
        sheet.document.remove(node)
    else:
        make_rest(sheet, spot)


def make_rest(sheet: Sheet, spot: Spot) -> None:
    """Make a note that stands alone a visible rest of its length."""
    document, note = sheet.document, spot.node
    take_off_lines(sheet, spot)
    leave_beam(document, [note])
    first = note.find("pitch") or note.find("unpitched")
    if first is None:
        raise RefusedError("the note has no pitch")
    is_whole = _fills_measure(sheet, spot)
    rest = element("rest", attributes={"measure": "yes"} if is_whole else None)
    document.insert(note, rest, before=first)
    drop_children(document, note, _OF_A_PITCH)
    if is_whole:
        drop_children(document, note, ("type", "dot"))
    for notations in note.find_all("notations"):
        for sign in [s for s in notations.children if s.tag not in _KEPT_ON_A_REST]:
            drop(document, sign)
    for name in _ON_THE_PAGE:
        if name in note.attrs:
            document.set_attribute(note, name, None)


def _fills_measure(sheet: Sheet, spot: Spot) -> bool:
    """Whether a full-measure rest says the same: it lasts as long as all parts of the score."""
    meter = sheet.measure(spot.part, spot.index).meter
    divisions = sheet.printed(spot.part, spot.index).divisions
    if meter.is_free or spot.node.find("time-modification") is not None:
        return False
    if spot.note.onset != 0 or spot.note.duration != meter.length * divisions:
        return False
    rows = (part.measures[spot.index : spot.index + 1] for part in sheet.score.parts)
    return all(measure.length == meter.length for row in rows for measure in row)


def _leave_chord(sheet: Sheet, spot: Spot, chord: list[Node]) -> None:
    """The chord keeps what belongs to it, whichever of its notes carried it."""
    document, note = sheet.document, spot.node
    others = [other for other in chord if other is not note]
    heir = others[0]
    if note is chord[0]:
        sign = heir.find("chord")
        if sign is not None:
            document.remove(sign)
        _inherit(sheet, note, heir)
    _keep_signs(sheet, spot, others)
    document.remove(note)


def _inherit(sheet: Sheet, note: Node, heir: Node) -> None:
    for tag in ("beam", "stem", "lyric"):
        if heir.find(tag) is None:
            for child in note.find_all(tag):
                place_in_order(sheet.document, heir, copied(child))


def _keep_signs(sheet: Sheet, spot: Spot, others: list[Node]) -> None:
    heir = others[0]
    for notations in spot.node.find_all("notations"):
        for sign in list(notations.children):
            if sign.tag in _PER_NOTE:
                continue
            if sign.tag == "non-arpeggiate":
                _keep_bracket(sheet, sign, others)
            elif sign.tag in {"glissando", "slide"} and has_line(heir, sign):
                take_off_line(sheet, spot, sign)
            elif sign.tag == "arpeggiate" and _stays_behind(sign, others):
                continue
            elif not _carries(heir, sign):
                target = notations_of(sheet.document, heir)
                sheet.document.insert(target, copied(sign))


def _stays_behind(roll: Node, others: list[Node]) -> bool:
    """Whether the other notes do not take a roll over.

    Others have it already, or it is none of the source's: then it was put on what one hand
    plays, and the rest of the chord may be the other hand's.
    """
    return roll.start < 0 or any(_carries(other, roll) for other in others)


def _carries(heir: Node, sign: Node) -> bool:
    """Whether the chord shows such a sign already."""
    for notations in heir.find_all("notations"):
        for own in notations.children:
            names = ("type", "number")
            if own.tag == sign.tag and all(own.attrs.get(n) == sign.attrs.get(n) for n in names):
                return True
    return False


def _keep_bracket(sheet: Sheet, sign: Node, others: list[Node]) -> None:
    """A bracket ends at the outermost notes of its chord."""
    if len(others) == 1:
        return
    pitches = [(pitch, other) for other in others if (pitch := written_pitch(other)) is not None]
    if not pitches:
        return
    is_top = sign.attrs.get("type") == "top"
    ordered = sorted(pitches, key=lambda entry: entry[0].midi, reverse=is_top)
    outermost = ordered[0][1]
    if not _carries(outermost, sign):
        sheet.document.insert(notations_of(sheet.document, outermost), copied(sign))
