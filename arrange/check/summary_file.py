"""What a summary file tells the player."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from arrange.check.instructions import (
    HarpInstructions,
    Instruction,
    Instructions,
    SweepInstruction,
)
from arrange.errors import BadInput
from arrange.harp.harp import Position
from arrange.pitch import Pitch
from arrange.score.model import EventId, HandName, Note, Score, StaffHand
from arrange.units import Quarters

FORMAT = "leverwright-summary"
VERSION = 1


def from_summary(summary: Mapping[str, Any], score: Score, file: str = "") -> Instructions:
    """Read from a summary what the player of *score* is told.

    Raises:
        BadInput: not a summary, of another version, or of another score; *file* is named.
    """
    if summary.get("format") != FORMAT:
        raise BadInput(f"not a summary file; it begins with the format {FORMAT!r}", file=file)
    if summary.get("version") != VERSION:
        version = summary.get("version")
        raise BadInput(f"a summary of version {version}; this is for {VERSION}", file=file)
    try:
        return _instructions(summary, score)
    except (KeyError, ValueError, TypeError, AttributeError) as error:
        raise BadInput(f"the summary cannot be read: {error!r}", file=file) from error
    except BadInput as error:
        raise BadInput(error.message, file=file) from error


def _instructions(summary: Mapping[str, Any], score: Score) -> Instructions:
    levers = summary["levers"]
    moves = [_move(coded, score) for coded in levers["moves"]]
    return Instructions(
        harps=tuple(
            HarpInstructions(_initial(levers["initial"], staves), _moves_of(moves, staves))
            for staves in score.harps
        ),
        left_open=frozenset(note.id for coded in summary["open"] for note in _notes(coded, score)),
        reassigned=tuple(
            (note.id, HandName(coded["hand"]))
            for coded in summary["reassigned"]
            for note in _notes({**coded, "pitches": [coded["pitch"]]}, score)
        ),
        sweeps=_sweeps(summary["glissandi"], score),
    )


def _initial(
    rows: Sequence[Mapping[str, Any]], staves: tuple[StaffHand, ...]
) -> dict[str, Position]:
    parts = {staff.part for staff in staves}
    return {
        str(row["string"]): Position(row["position"])
        for row in rows
        if row.get("part") is None or row["part"] in parts
    }


def _moves_of(moves: list[Instruction], staves: tuple[StaffHand, ...]) -> tuple[Instruction, ...]:
    parts = {staff.part for staff in staves}
    return tuple(move for move in moves if move.part in parts)


def _move(coded: Mapping[str, Any], score: Score) -> Instruction:
    part, index = _place(coded, score)
    if part not in score.harp_parts:
        raise BadInput(f"the summary moves levers in part {part!r}, which is no harp here")
    return Instruction(
        part,
        str(coded["string"]),
        Position(coded["position"]),
        index,
        Quarters(coded["offset"]),
        HandName(coded["hand"]),
        tuple(int(p) for p in coded.get("passes") or ()),
    )


def _place(coded: Mapping[str, Any], score: Score) -> tuple[str, int]:
    part, index = str(coded["part"]), int(coded["index"])
    known = score.by_part.get(part)
    if known is None or not 0 <= index < len(known.measures):
        raise BadInput(
            f"the summary speaks of part {part!r}, measure index {index}, which is not there; "
            "give the summary that was written with this score"
        )
    return part, index


def _notes(coded: Mapping[str, Any], score: Score) -> Iterator[Note]:
    part, index = _place(coded, score)
    offset = Quarters(coded["offset"])
    for note in score.measure(part, index).notes:
        is_there = note.staff == coded["staff"] and note.offset == offset
        if is_there and str(note.pitch) in coded["pitches"]:
            yield note


def _sweeps(rows: Sequence[Mapping[str, Any]], score: Score) -> dict[EventId, SweepInstruction]:
    told = {
        (*_place(row, score), Quarters(row["offset"]), _letter(row["from"])): SweepInstruction(
            foreign=frozenset(map(str, row["foreign"])), held=frozenset(map(str, row["held"]))
        )
        for row in rows
    }
    found = {}
    for sweep in score.sweeps:
        start = score.notes_by_id[sweep.start]
        place = (start.id.part, start.id.index, start.offset, _letter(str(start.pitch)))
        if place in told:
            found[sweep.start] = told[place]
    return found


def _letter(text: str) -> tuple[str, int]:
    """The string that a pitch or a string's name is about."""
    pitch = Pitch.parse(text)
    return pitch.step, pitch.octave
