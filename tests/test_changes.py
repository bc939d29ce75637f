"""The change log as text: every edit comes back, the same log gives the same lines."""

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from arrange.changes import (
    Change,
    ChangeLog,
    Fidelity,
    LogEntry,
    OpenPoint,
    Option,
    Outcome,
    Where,
    from_lines,
    header_of,
    summary_change,
    to_lines,
)
from arrange.edits import (
    AddBracket,
    AddFingering,
    AddRoll,
    AddWords,
    Edit,
    MarkValue,
    NoteValue,
    RemoveMark,
    RemoveNotation,
    RemoveNote,
    SetCredit,
    SetDuration,
    SetPitch,
    WriteRun,
)
from arrange.errors import BadInput, Fault
from arrange.pitch import Pitch
from arrange.score.model import EventId, Finding
from arrange.units import Quarters

WHERE = Where("P1", 4, "5a", Quarters(1, 3), 2, "5")
LOW = NoteValue(4, Quarters(0), 2, "5", Quarters(4), is_grace=False, pitch=Pitch.parse("G1"))
HIGH = replace(LOW, pitch=Pitch.parse("G2"))
NOTE = EventId("P1", 4, "n0")
FOLD = Change(
    "fold-into-compass",
    WHERE,
    "G1 lies below the lowest string; it is played an octave higher.",
    Fidelity.IDIOMATIC,
    (SetPitch(NOTE, LOW, HIGH),),
    (Option("an octave higher", 100, taken=True), Option("left out", None)),
    ("00112233445566aa",),
)

texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=8)
places = st.fractions(0, 8, max_denominator=12)
pitches = st.builds(Pitch, st.sampled_from("ABCDEFG"), st.integers(-2, 2), st.integers(0, 8))
notes = st.builds(
    NoteValue, st.integers(0, 99), places, st.integers(1, 3), texts, places, st.booleans(), pitches
)
marks = st.builds(MarkValue, st.integers(0, 99), places, st.integers(1, 3), texts)
words = st.text(st.characters(categories=["L", "N"], include_characters=".+-/"), min_size=1)
events = st.builds(EventId, words, st.integers(0, 99), words.filter(lambda w: "/" not in w))
runs = st.lists(notes, min_size=1, max_size=4).map(tuple)
tuplets = st.tuples(st.integers(2, 9), st.integers(2, 9))
note_edits = st.one_of(
    st.builds(SetPitch, events, notes, notes),
    st.builds(RemoveNote, events, notes),
    st.builds(SetDuration, events, notes, notes),
    st.builds(WriteRun, events, runs, runs, st.none() | tuplets),
)
mark_edits = st.one_of(
    st.builds(AddWords, words, words, marks, st.booleans()),
    st.builds(RemoveMark, events, marks),
    st.builds(RemoveNotation, events, words, marks),
    st.builds(AddRoll, st.lists(events, min_size=1, max_size=3).map(tuple), marks),
    st.builds(AddFingering, events, marks, st.booleans()),
    st.builds(AddBracket, words, words, st.integers(1, 6), marks, st.booleans()),
    st.builds(SetCredit, words, marks),
)


def is_change(edits: list[Edit]) -> bool:
    return all(edit.before != edit.after for edit in edits)


@st.composite
def logs(draw: st.DrawFn) -> ChangeLog:
    kind = draw(st.sampled_from((note_edits, mark_edits)))
    edits = draw(st.lists(kind, min_size=1, max_size=3).filter(is_change))
    where = Where(draw(words), draw(st.integers(0, 9)), draw(texts), draw(places), 1, draw(texts))
    change = Change(draw(words), where, draw(texts), draw(st.sampled_from(Fidelity)), tuple(edits))
    return ChangeLog(
        [LogEntry(change, draw(st.sampled_from(Outcome)), draw(texts))],
        [Finding(draw(texts), draw(words), 3, "4")],
        [
            OpenPoint(
                where, tuple(draw(st.lists(texts))), draw(texts), tuple(draw(st.lists(texts)))
            )
        ],
    )


@given(logs())
def test_any_log_comes_back_from_its_lines(log: ChangeLog) -> None:
    text = to_lines(log, {"book": "concert"})
    again = from_lines(text)
    assert again == log
    assert to_lines(again, {"book": "concert"}) == text
    assert text.count("\n") == 4


def test_the_lines_of_a_change_are_what_they_were() -> None:
    log = ChangeLog([LogEntry(FOLD, Outcome.APPLIED)])
    header, line = to_lines(log, {"harp": "lever-34"}).splitlines()
    assert header == '{"format": "leverwright-changes", "version": 1, "harp": "lever-34"}'
    value = '{"index": 4, "offset": "0", "staff": 2, "voice": "5", "duration": "4", "grace": false'
    assert line == (
        '{"entry": "change", "seq": 0, "id": "e452ba9ab1833050", "rule": "fold-into-compass", '
        '"kind": "note", "part": "P1", "index": 4, "measure": "5a", "outcome": "APPLIED", '
        f'"fidelity": "IDIOMATIC", "before": [{value}, "pitch": "G1"}}], '
        f'"after": [{value}, "pitch": "G2"}}], '
        '"reason": "G1 lies below the lowest string; it is played an octave higher.", '
        '"options": [{"text": "an octave higher", "cost": 100, "taken": true, '
        '"key": "", "choosable": false}, '
        '{"text": "left out", "cost": null, "taken": false, '
        '"key": "", "choosable": false}], '
        '"depends_on": ["00112233445566aa"], "offset": "1/3", "staff": 2, "voice": "5", '
        f'"detail": "", "anchor": "{FOLD.anchor}", '
        '"edits": [{"edit": "set-pitch", "note": "P1/4/n0", '
        f'"before": [{value}, "pitch": "G1"}}], '
        f'"after": [{value}, "pitch": "G2"}}]}}]}}'
    )


def test_the_summary_shows_notes_left_out_and_marks_put_in() -> None:
    gone = Change("r", WHERE, "", Fidelity.LOSSY, (RemoveNote(NOTE, LOW),))
    shown = summary_change(LogEntry(gone, Outcome.SUGGESTED))
    assert (shown["kind"], shown["outcome"], len(shown["before"])) == ("note", "SUGGESTED", 1)
    assert shown["after"] == []
    mark = AddWords("P1", "leverwright.state.1", MarkValue(4, Quarters(3, 2), 1, "D♮"))
    put = Change("r", WHERE, "", Fidelity.EXACT, (mark,))
    shown = summary_change(LogEntry(put, Outcome.APPLIED))
    assert (shown["kind"], shown["before"]) == ("mark", [])
    assert shown["after"][0]["text"] == "D♮"
    assert shown["after"][0]["offset"] == "3/2"
    assert "pitch" not in shown["after"][0]


def test_the_same_change_has_the_same_anchor_in_another_measure() -> None:
    later = [replace(value, index=5) for value in (LOW, HIGH)]
    moved = replace(
        FOLD,
        where=replace(WHERE, index=5, measure="6"),
        edits=(SetPitch(EventId("P1", 5, "n0"), *later),),
    )
    assert moved.anchor == FOLD.anchor
    assert moved.id != FOLD.id
    other = replace(FOLD, edits=(SetPitch(NOTE, LOW, replace(LOW, pitch=Pitch.parse("G3"))),))
    assert other.anchor != FOLD.anchor


@pytest.mark.parametrize(
    ("spoil", "why"),
    [
        (lambda line: line.replace("G2", "H2"), "line 2"),
        (lambda line: line.replace("G2", "G3"), "says something else than it did"),
        (lambda line: line.replace("set-pitch", "set-fire"), "line 2"),
        (lambda line: line.replace('"change"', '"rumour"'), "of the kind 'rumour'"),
        (lambda line: line[:-9], "line 2"),
        (lambda _: "[1, 2]", "line 2"),
    ],
)
def test_a_spoiled_line_is_named(spoil: object, why: str) -> None:
    assert callable(spoil)
    header, line = to_lines(ChangeLog([LogEntry(FOLD, Outcome.APPLIED)])).splitlines()
    with pytest.raises(BadInput, match=why):
        from_lines(f"{header}\n{spoil(line)}\n", file="x.changes.jsonl")


@pytest.mark.parametrize("text", ["", "{}", "no json", '{"format": "leverwright-changes"}', "[]"])
def test_what_is_no_log_of_this_version_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match="change log"):
        header_of(text, file="x.changes.jsonl")


def test_nothing_and_everything_at_once_is_no_change() -> None:
    with pytest.raises(Fault, match="without a difference"):
        replace(FOLD, edits=(SetPitch(NOTE, LOW, LOW),))
    with pytest.raises(Fault, match="without a difference"):
        replace(FOLD, edits=())
    mark = RemoveMark(NOTE, MarkValue(0, Quarters(0), 1, "Ped."))
    with pytest.raises(Fault, match="notes and marks at once"):
        replace(FOLD, edits=(SetPitch(NOTE, LOW, HIGH), mark))


def test_lines_are_json_without_clock_or_path() -> None:
    log = ChangeLog(
        [LogEntry(FOLD, Outcome.STALE, "changed before")],
        [Finding("Divisions are missing.", "P1", 0, "1")],
        [OpenPoint(WHERE, ("C#5",), "No hand is free.", ("earlier",))],
    )
    entries = [json.loads(line) for line in to_lines(log).splitlines()]
    assert [e.get("entry") for e in entries] == [None, "change", "finding", "open"]
    assert entries[3]["pitches"] == ["C#5"]
    assert set(entries[0]) == {"format", "version"}
