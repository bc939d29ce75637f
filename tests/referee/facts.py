"""The summary's plain facts: hashes, harp, first setting, hands, places, open points."""

import hashlib
from collections.abc import Iterator, Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

from referee import pitches
from referee.changes import APPLIED, transposed_notes
from referee.faults import Fault, listed, said
from referee.sheet import Note, Sheet, Sign
from referee.summary import Move, Summary

FORMAT = ("leverwright-summary", 1)
POSITIONS = frozenset({"up", "down"})


def file_faults(source: Path, result: Path, raw: Mapping[str, Any]) -> Iterator[Fault]:
    """Format, and the hashes of both files."""
    if (raw["format"], raw["version"]) != FORMAT:
        yield Fault("summary", "format", f"{raw['format']} {raw['version']} is not known")
    for name, path in (("source", source), ("result", result)):
        if raw[name]["sha256"] != hashlib.sha256(path.read_bytes()).hexdigest():
            yield Fault("hash", name, f"the summary speaks of another {name}")
    if raw["check"]["playable"] is not True or raw["check"]["violations"]:
        yield Fault("verdict", "check", "the summary itself calls the result unplayable")
    if raw["audit"]["accounted"] is not True or raw["audit"]["unlogged"]:
        yield Fault("verdict", "audit", "the summary itself misses changes")


def harp_faults(summary: Summary) -> Iterator[Fault]:
    """Strings named by letter and octave, levers a semitone, one position for each lever."""
    for string, (low, high) in summary.strings.items():
        if pitches.string_name(low) != string:
            yield Fault("harp", string, f"string {string} cannot be tuned to {low}")
        if high is None:
            continue
        rise = pitches.semitone(high) - pitches.semitone(low)
        if pitches.string_name(high) != string or rise != 1:
            yield Fault("harp", string, f"its lever cannot give {high} from {low}")


def initial_faults(summary: Summary) -> Iterator[Fault]:
    """Every string that has a lever has one first position."""
    levers = {string for string, (_, high) in summary.strings.items() if high is not None}
    for harp in summary.harps():
        listed_here = [s for part, s, _ in summary.initial if not part or part in harp]
        for string in sorted(levers - set(listed_here)):
            yield Fault("initial", string, "it has a lever but no first position")
        for string in sorted(set(listed_here) - levers):
            yield Fault("initial", string, "it has a first position but no lever")
        if len(set(listed_here)) != len(listed_here):
            yield Fault("initial", "levers", "a string is listed twice")
    for _, string, position in summary.initial:
        if position not in POSITIONS:
            yield Fault("initial", string, f"{position} is no position")


def hand_faults(result: Sheet, summary: Summary) -> Iterator[Fault]:
    """Every staff has a hand; what the other hand takes is there to be taken."""
    for part in summary.parts:
        if part not in result.parts:
            yield Fault("hand", part, "there is no such part")
            continue
        for staff in sorted({note.staff for note in result.notes(part)}):
            if (part, staff) not in summary.hands:
                yield Fault("hand", part, f"staff {staff} has no hand")
    there = noted(result, summary)
    for place, hand in summary.reassigned.items():
        part, index, staff, offset, pitch = place
        if (part, index, staff, offset, pitch) not in there:
            where = said(part, index, offset)
            yield Fault("hand", where, f"the {hand} hand takes {pitch}, which is not there")


def noted(sheet: Sheet, summary: Summary) -> set[tuple[str, int, int, Fraction, str]]:
    """(part, index, staff, offset, pitch) of every note of the harps."""
    return {
        (n.part, n.index, n.staff, n.offset, n.pitch)
        for part in summary.parts
        if part in sheet.parts
        for n in sheet.notes(part)
    }


def added_notes(summary: Summary) -> set[tuple[str, int, Fraction, str]]:
    """(part, index, offset, pitch) of notes that changes put where none of theirs stood."""
    return {
        (key[0], key[1], key[2], key[7])
        for change in summary.changes
        if change.outcome == APPLIED
        for key in change.notes[1]
        if key[:3] not in {other[:3] for other in change.notes[0]}
    }


def open_faults(source: Sheet, result: Sheet, summary: Summary) -> Iterator[Fault]:
    """An open note is there, keeps its transposed pitch, and is marked in the score."""
    there = noted(result, summary)
    was = {(k[0], k[1], k[2], k[7]) for k in transposed_notes(source, summary)}
    was |= added_notes(summary)
    for point in summary.open:
        where = said(point.part, point.index, point.offset)
        for pitch in point.pitches:
            if (point.part, point.index, point.staff, point.offset, pitch) not in there:
                yield Fault("open", where, f"the open note {pitch} is not in the score")
            elif (point.part, point.index, point.offset, pitch) not in was:
                yield Fault("open", where, f"the open note {pitch} is not the source's")
        signs = signs_at(result, point.part, point.index)
        if not any(sign.kind == "words" and sign.text for sign in signs):
            yield Fault("open", where, "the score says nothing about this open point")


def place_faults(result: Sheet, summary: Summary) -> Iterator[Fault]:
    """Printed measure numbers, and cues that stand where they are said to stand."""
    rows = [
        *summary.raw["levers"]["moves"],
        *summary.raw["glissandi"],
        *summary.raw["changes"],
        *summary.raw["open"],
    ]
    for row in rows:
        part, index = row["part"], int(row["index"])
        measures = result.parts.get(part, [])
        if not part and not measures:
            continue
        if index >= len(measures) or measures[index].number != row["measure"]:
            sentence = f"measure {row['measure']} is not at index {index}"
            yield Fault("place", said(part, index), sentence)
    for move in summary.moves:
        yield from cue_faults(result, move)


def cue_faults(result: Sheet, move: Move) -> Iterator[Fault]:
    """A move has a cue, not after it, that names the letter of its string."""
    where = said(move.part, move.index, move.offset)
    if move.cue is None:
        yield Fault("cue", where, f"nothing tells the player to move the lever of {move.string}")
        return
    if move.cue > (move.index, move.offset):
        yield Fault("cue", where, "the cue comes after the move")
    index, offset = move.cue
    signs = signs_at(result, move.part, index)
    here = [sign for sign in signs if sign.offset == offset and sign.kind == "words"]
    if not any(move.string[0] in sign.text.upper() for sign in here):
        sentence = f"no cue names the {move.string[0]} of string {move.string}"
        yield Fault("cue", said(move.part, index, offset), sentence)


def signs_at(sheet: Sheet, part: str, index: int) -> list[Sign]:
    """The signs of a measure; none where there is no such measure."""
    measures = sheet.parts.get(part, [])
    return measures[index].signs if 0 <= index < len(measures) else []


def shape_faults(source: Sheet, result: Sheet) -> Iterator[Fault]:
    """The same parts, measures, lengths; no voice with a hole where a note went."""
    if list(source.parts) != list(result.parts):
        yield Fault("shape", "parts", f"{listed(source.parts)} became {listed(result.parts)}")
        return
    for part, measures in source.parts.items():
        others = result.parts[part]
        if len(measures) != len(others):
            yield Fault("shape", part, f"{len(measures)} measures became {len(others)}")
        for one, two in zip(measures, others, strict=False):
            if one.number != two.number or one.length != two.length:
                sentence = f"measure {one.number} of {one.length} became {two.number} of "
                yield Fault("shape", said(part, one.index), f"{sentence}{two.length}")
            held = covered(two.notes, two.rests)
            for note in one.notes:
                spot = (note.voice, note.offset)
                if not note.grace and not any(is_in(spot, span) for span in held):
                    where = said(part, one.index, note.offset)
                    sentence = f"voice {note.voice} has a hole where {note.pitch} was"
                    yield Fault("shape", where, sentence)


Span = tuple[str, Fraction, Fraction]


def covered(notes: list[Note], rests: list[Any]) -> list[Span]:
    """(voice, from, to) of everything that fills time."""
    spans = {(n.voice, n.offset, n.offset + n.duration) for n in notes if not n.grace}
    spans |= {(r.voice, r.offset, r.offset + r.duration) for r in rests}
    return sorted(spans)


def is_in(spot: tuple[str, Fraction], span: Span) -> bool:
    """Whether a moment of a voice lies in a span."""
    voice, offset = spot
    return span[0] == voice and (span[1] <= offset < span[2] or offset == span[1])


def player_faults(summary: Summary) -> Iterator[Fault]:
    """Moves by a string, a hand and a position that exist."""
    for move in summary.moves:
        place = said(move.part, move.index, move.offset)
        if move.hand not in summary.players or move.position not in POSITIONS:
            sentence = f"{move.hand} hand, {move.position}: no such move"
            yield Fault("summary", place, sentence)
        if move.part not in summary.parts:
            yield Fault("summary", place, f"{move.part} is no harp part")
        if move.index not in summary.performed:
            yield Fault("summary", place, "a move in a measure that is never played")
