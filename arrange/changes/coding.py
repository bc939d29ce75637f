"""Edits, places and values as JSON knows them, and back again; exact fractions as text."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, assert_never

from arrange.changes.records import Where
from arrange.edits import (
    AddBracket,
    AddFingering,
    AddRoll,
    AddWords,
    Edit,
    MarkValue,
    NoteEdit,
    NoteValue,
    RemoveMark,
    RemoveNotation,
    RemoveNote,
    SetCredit,
    SetDuration,
    SetPitch,
    Value,
    WriteRun,
    values,
)
from arrange.pitch import Pitch
from arrange.score.model import EventId
from arrange.units import Quarters, quarters_text

Coded = dict[str, Any]
"""A JSON object."""


def coded_value(value: Value) -> Coded:
    """A note or a mark the way that the summary shows it: a mark has text for a pitch."""
    if isinstance(value, NoteValue):
        length, what = (value.voice, value.duration, value.is_grace), ("pitch", str(value.pitch))
    else:
        length, what = ("", Quarters(0), False), ("text", value.text)
    return {
        "index": value.index,
        "offset": quarters_text(value.offset),
        "staff": value.staff,
        "voice": length[0],
        "duration": quarters_text(length[1]),
        "grace": length[2],
        what[0]: what[1],
    }


def note_value(coded: Mapping[str, Any]) -> NoteValue:
    """Read a note."""
    return NoteValue(
        int(coded["index"]),
        Quarters(coded["offset"]),
        int(coded["staff"]),
        str(coded["voice"]),
        Quarters(coded["duration"]),
        bool(coded["grace"]),
        Pitch.parse(coded["pitch"]),
    )


def mark_value(coded: Mapping[str, Any]) -> MarkValue:
    """Read a mark."""
    return MarkValue(
        int(coded["index"]), Quarters(coded["offset"]), int(coded["staff"]), str(coded["text"])
    )


def coded_where(where: Where) -> Coded:
    """A place."""
    return {
        "part": where.part,
        "index": where.index,
        "measure": where.measure,
        "offset": quarters_text(where.offset),
        "staff": where.staff,
        "voice": where.voice,
    }


def read_where(coded: Mapping[str, Any]) -> Where:
    """Read a place."""
    return Where(
        str(coded["part"]),
        int(coded["index"]),
        str(coded["measure"]),
        Quarters(coded["offset"]),
        int(coded["staff"]),
        str(coded["voice"]),
    )


def coded_edit(edit: Edit) -> Coded:
    """An edit: its kind, what it is about, what was and what is."""
    coded = {"edit": _KINDS[type(edit)], **_about(edit)}
    coded["before"] = [coded_value(v) for v in values(edit.before)]
    coded["after"] = [coded_value(v) for v in values(edit.after)]
    return coded


def read_edit(coded: Mapping[str, Any]) -> Edit:
    """Read an edit.

    Raises:
        KeyError, ValueError, TypeError, IndexError, BadInput: it is none.
    """
    return _READERS[coded["edit"]](coded)


def _about(edit: Edit) -> Coded:
    match edit:
        case SetPitch() | RemoveNote() | WriteRun() | SetDuration():
            return _about_note(edit)
        case AddFingering() | AddBracket():
            return _about_fingers(edit)
        case AddWords() | RemoveMark() | RemoveNotation() | AddRoll() | SetCredit():
            return _about_mark(edit)
        case _:  # pragma: no cover - the type checker holds the list complete
            assert_never(edit)


def _about_note(edit: NoteEdit) -> Coded:
    about: Coded = {"note": str(edit.note)}
    if isinstance(edit, WriteRun):
        about["tuplet"] = list(edit.tuplet) if edit.tuplet else None
    return about


def _about_fingers(edit: AddFingering | AddBracket) -> Coded:
    if isinstance(edit, AddFingering):
        return {"note": str(edit.note), "above": edit.above}
    return {"part": edit.part, "own": edit.own, "number": edit.number, "above": edit.above}


def _about_mark(edit: AddWords | RemoveMark | RemoveNotation | AddRoll | SetCredit) -> Coded:
    match edit:
        case AddWords():
            return {"part": edit.part, "own": edit.own, "above": edit.above}
        case RemoveMark():
            return {"mark": str(edit.mark)}
        case RemoveNotation():
            return {"note": str(edit.note), "key": edit.key}
        case AddRoll():
            return {"notes": [str(note) for note in edit.notes]}
        case SetCredit():
            return {"field": edit.field}
        case _:  # pragma: no cover - the type checker holds the list complete
            assert_never(edit)


def _one(coded: Sequence[Mapping[str, Any]]) -> Mapping[str, Any]:
    (only,) = coded
    return only


def _read_run(coded: Mapping[str, Any]) -> WriteRun:
    tuplet = coded["tuplet"]
    return WriteRun(
        EventId.parse(coded["note"]),
        tuple(map(note_value, coded["before"])),
        tuple(map(note_value, coded["after"])),
        (int(tuplet[0]), int(tuplet[1])) if tuplet else None,
    )


def _read_words(coded: Mapping[str, Any]) -> AddWords:
    after = mark_value(_one(coded["after"]))
    return AddWords(str(coded["part"]), str(coded["own"]), after, above=bool(coded["above"]))


_KINDS: dict[type[Edit], str] = {
    SetPitch: "set-pitch",
    RemoveNote: "remove-note",
    WriteRun: "write-run",
    SetDuration: "set-duration",
    AddWords: "add-words",
    RemoveMark: "remove-mark",
    RemoveNotation: "remove-notation",
    AddRoll: "add-roll",
    AddFingering: "add-fingering",
    AddBracket: "add-bracket",
    SetCredit: "set-credit",
}

_READERS: dict[str, Callable[[Mapping[str, Any]], Edit]] = {
    "set-pitch": lambda c: SetPitch(
        EventId.parse(c["note"]), note_value(_one(c["before"])), note_value(_one(c["after"]))
    ),
    "remove-note": lambda c: RemoveNote(EventId.parse(c["note"]), note_value(_one(c["before"]))),
    "write-run": _read_run,
    "set-duration": lambda c: SetDuration(
        EventId.parse(c["note"]), note_value(_one(c["before"])), note_value(_one(c["after"]))
    ),
    "add-words": _read_words,
    "remove-mark": lambda c: RemoveMark(EventId.parse(c["mark"]), mark_value(_one(c["before"]))),
    "remove-notation": lambda c: RemoveNotation(
        EventId.parse(c["note"]), str(c["key"]), mark_value(_one(c["before"]))
    ),
    "add-roll": lambda c: AddRoll(
        tuple(map(EventId.parse, c["notes"])), mark_value(_one(c["after"]))
    ),
    "add-fingering": lambda c: AddFingering(
        EventId.parse(c["note"]), mark_value(_one(c["after"])), above=bool(c["above"])
    ),
    "add-bracket": lambda c: AddBracket(
        str(c["part"]),
        str(c["own"]),
        int(c["number"]),
        mark_value(_one(c["after"])),
        above=bool(c["above"]),
    ),
    "set-credit": lambda c: SetCredit(str(c["field"]), mark_value(_one(c["after"]))),
}
