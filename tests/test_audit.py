"""The audit: a logged difference is accounted for, and nothing else passes in silence."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

import notation
import pytest

from arrange.apply.transaction import Transaction
from arrange.apply.transposing import transpose
from arrange.audit import View, audit, audit_views
from arrange.changes import Change, ChangeLog, Fidelity, LogEntry, Outcome, Where
from arrange.edits import (
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
from arrange.pitch import UNISON, Interval, Pitch
from arrange.score.document import Document
from arrange.score.model import Note, Score
from arrange.score.reading import Reading

SCORE = """key=-1 tempo=90 name=Harp
RH: "dolce" F4q(slur) A4+C5q(2) [mf] Bb4q(slur-end) C5e3 D5e3 E5e3 | F5h~ F5q rq | G4w | F4w
LH: [ped] F2h C3+A3h | F2w [ped-up] | C3w | F2w"""
DOWN = Interval.parse("-m2")


@dataclass(frozen=True)
class Case:
    """A source, what became of it, and what the log says about that."""

    source: bytes
    result: bytes
    log: ChangeLog
    interval: Interval = UNISON

    def found(self) -> tuple[str, ...]:
        parts = ("P1",) if self.interval != UNISON else ()
        return audit(self.source, self.result, self.log, self.interval, parts)


Edits = Callable[[Score], Iterator[Edit]]


def case(*steps: Edits, interval: Interval = UNISON, text: str = SCORE) -> Case:
    """Carry out each step's edits, one transaction a step, one change an edit."""
    source = notation.to_musicxml(text)
    document = Document.read(source, "example")
    reading = Reading(document)
    log = ChangeLog()
    reading.score()
    log.findings.extend(transpose(document, ("P1",), interval))
    for step in steps:
        score = reading.score()
        with Transaction(document, reading, log) as transaction:
            for edit in step(score):
                where = Where("P1", 0, "1", Fraction(0), 1)
                change = Change("a-rule", where, "Because.", Fidelity.EXACT, (edit,))
                assert transaction.offer(change) is Outcome.APPLIED
    return Case(source, document.to_bytes(), log, interval)


def note(score: Score, pitch: str, index: int) -> Note:
    return next(
        n for n in score.notes_by_id.values() if str(n.pitch) == pitch and n.id.index == index
    )


def repitched(pitch: str, index: int, after: str) -> Edits:
    def step(score: Score) -> Iterator[Edit]:
        found = note(score, pitch, index)
        value = NoteValue.of(found)
        yield SetPitch(found.id, value, replace(value, pitch=Pitch.parse(after)))

    return step


def left_out(pitch: str, index: int) -> Edits:
    def step(score: Score) -> Iterator[Edit]:
        found = note(score, pitch, index)
        yield RemoveNote(found.id, NoteValue.of(found))

    return step


def shortened(pitch: str, index: int) -> Edits:
    def step(score: Score) -> Iterator[Edit]:
        value = NoteValue.of(note(score, pitch, index))
        yield SetDuration(
            note(score, pitch, index).id, value, replace(value, duration=value.duration / 2)
        )

    return step


def run(pitch: str, index: int, after: str) -> Edits:
    def step(score: Score) -> Iterator[Edit]:
        found = note(score, pitch, index)
        value = NoteValue.of(found)
        names = after.split()
        each = value.duration / len(names)
        yield WriteRun(
            found.id,
            (value,),
            tuple(
                replace(
                    value, offset=value.offset + i * each, duration=each, pitch=Pitch.parse(name)
                )
                for i, name in enumerate(names)
            ),
        )

    return step


def said(text: str, own: str = "leverwright.cue.1", offset: str = "1") -> Edits:
    def step(_: Score) -> Iterator[Edit]:
        yield AddWords("P1", own, MarkValue(1, Fraction(offset), 2, text))

    return step


def without_marks(text: str) -> Edits:
    def step(score: Score) -> Iterator[Edit]:
        for measure in score.parts[0].measures:
            for mark in measure.marks:
                if mark.text == text:
                    yield RemoveMark(mark.id, MarkValue.of(mark))

    return step


def without_fingers(score: Score) -> Iterator[Edit]:
    found = note(score, "A4", 0)
    yield RemoveNotation(found.id, "fingering.0", MarkValue(0, found.offset, 1, "2"))


def rolled(score: Score) -> Iterator[Edit]:
    low, high = note(score, "C3", 0), note(score, "A3", 0)
    yield AddRoll((low.id, high.id), MarkValue(0, low.offset, 2, "arpeggiate"))


def named(_: Score) -> Iterator[Edit]:
    yield SetCredit("leverwright-harp", MarkValue(0, Fraction(0), 1, "lever-34"))
    yield SetCredit("credit", MarkValue(0, Fraction(0), 1, "Lever harp with 34 strings"))


STEPS: dict[str, tuple[Edits, ...]] = {
    "a note in another octave": (repitched("C3", 2, "C4"),),
    "a note folded, then respelled": (repitched("F2", 3, "F3"), repitched("F3", 3, "E#3")),
    "a note of a chord left out": (left_out("A3", 0),),
    "the head of a chord left out": (left_out("A4", 0),),
    "a note alone left out, its slur handed on": (left_out("F4", 0),),
    "a note written shorter": (shortened("G4", 2),),
    "a scale in place of a note": (run("G4", 2, "G4 A4 B4 C5"),),
    "a scale that needs finer counting": (run("G4", 2, "G4 A4 B4 C5 D5 E5 F5 G5"),),
    "words of ours": (said("middle E natural"),),
    "words between the notes": (said("middle E natural", offset="3/2"),),
    "a mark taken out": (without_marks("mf"),),
    "words taken out": (without_marks("dolce"),),
    "fingering taken out": (without_fingers,),
    "a chord rolled": (rolled,),
    "a line and a field": (named,),
    "all of it": (
        without_marks("mf"),
        repitched("C3", 2, "C4"),
        left_out("A3", 0),
        run("G4", 2, "G4 A4 B4 C5"),
        said("middle E natural"),
        named,
    ),
}


@pytest.mark.parametrize("name", STEPS)
def test_what_the_log_says_is_accounted_for(name: str) -> None:
    changed = case(*STEPS[name])
    assert changed.result != changed.source
    assert changed.found() == ()


@pytest.mark.parametrize("name", STEPS)
def test_a_line_that_is_missing_in_the_log_is_noticed(name: str) -> None:
    changed = case(*STEPS[name])
    entries = changed.log.entries
    for place in range(len(entries)):
        fewer = [*entries[:place], *entries[place + 1 :]]
        log = ChangeLog(fewer, changed.log.findings)
        assert replace(changed, log=log).found(), entries[place].change.edits


@pytest.mark.parametrize("name", STEPS)
def test_a_line_that_speaks_of_nothing_is_noticed(name: str) -> None:
    changed = case(*STEPS[name])
    untouched = replace(changed, result=changed.source)
    assert untouched.found()


@pytest.mark.parametrize("outcome", [o for o in Outcome if o is not Outcome.APPLIED])
def test_what_was_not_applied_accounts_for_nothing(outcome: Outcome) -> None:
    changed = case(repitched("C3", 2, "C4"))
    entries = [LogEntry(e.change, outcome) for e in changed.log.entries]
    assert len(replace(changed, log=ChangeLog(entries)).found()) == 2


def test_a_transposition_needs_no_lines() -> None:
    moved = case(interval=DOWN)
    assert b"<fifths>4</fifths>" in moved.result
    assert moved.found() == ()


def test_a_transposed_score_with_changes_is_accounted_for() -> None:
    moved = case(repitched("B2", 2, "B3"), said("low E natural"), interval=DOWN)
    assert moved.found() == ()


def test_another_interval_than_the_log_says_is_noticed() -> None:
    moved = case(interval=DOWN)
    assert replace(moved, interval=Interval.parse("-A1")).found()
    assert audit(moved.source, moved.result, moved.log, UNISON, ())


def test_the_words_say_which_note_is_gone_and_which_is_new() -> None:
    changed = case(repitched("C3", 2, "C4"))
    whole = "part P1, measure 3: the note {} at 0 on staff 2 in voice 5 (4 long)"
    assert replace(changed, log=ChangeLog()).found() == (
        f"{whole.format('C3')} is gone, and no entry says so",
        f"{whole.format('C4')} is new, and no entry says so",
    )


FAULTS = [
    (b"<step>G</step><octave>4", b"<step>A</step><octave>4"),
    (b"<fifths>-1</fifths>", b"<fifths>0</fifths>"),
    (b"<words>dolce</words>", b"<words>forte</words>"),
    (b"<mf/>", b"<ff/>"),
    (b'<sound tempo="90"/>', b'<sound tempo="91"/>'),
    (b"<type>whole</type>", b"<type>half</type>"),
    (b"<sign>F</sign>", b"<sign>C</sign>"),
    (b'<measure number="2">', b'<measure number="20">'),
    (b"<part-name>Harp</part-name>", b"<part-name>Piano</part-name>"),
    (b'<slur type="stop" number="1"/>', b""),
    (b'<slur type="stop" number="1"/>', b'<slur type="stop" number="1"/><fermata/>'),
    (b">2</fingering>", b">3</fingering>"),
    (b'<measure number="4">', b'<measure number="4"><print new-page="yes"/>'),
    (b"<score-partwise version", b"<!-- here --><score-partwise version"),
]


@pytest.mark.parametrize(("was", "now"), FAULTS)
@pytest.mark.parametrize("steps", [(), (repitched("F2", 3, "F3"), said("middle E natural"))])
def test_a_fault_in_the_result_is_noticed(
    was: bytes, now: bytes, steps: tuple[Edits, ...]
) -> None:
    changed = case(*steps)
    assert changed.found() == ()
    assert changed.result.count(was) >= 1, was
    assert replace(changed, result=changed.result.replace(was, now, 1)).found()


@pytest.mark.parametrize(
    ("was", "now"),
    [
        (b"<fifths>4</fifths>", b"<fifths>3</fifths>"),
        (b"<words>dolce</words>", b"<words>forte</words>"),
        (b"<type>quarter</type>", b"<type>eighth</type>"),
        (b">2</fingering>", b">3</fingering>"),
        (b'<slur type="start" number="1"/>', b'<slur type="start" number="2"/>'),
    ],
)
def test_a_fault_in_a_transposed_result_is_noticed(was: bytes, now: bytes) -> None:
    moved = case(interval=DOWN)
    assert was in moved.result
    assert replace(moved, result=moved.result.replace(was, now, 1)).found()


def test_a_chord_symbol_follows_the_transposition_and_nothing_else() -> None:
    symbol = b"<harmony><root><root-step>F</root-step></root><kind>major</kind></harmony>"
    source = notation.to_musicxml(SCORE).replace(b"<note>", symbol + b"<note>", 1)
    document = Document.read(source, "example")
    transpose(document, ("P1",), DOWN)
    result = document.to_bytes()
    assert b"<root-step>E</root-step>" in result
    assert audit(source, result, ChangeLog(), DOWN, ("P1",)) == ()
    wrong = result.replace(b"<root-step>E<", b"<root-step>D<")
    assert audit(source, wrong, ChangeLog(), DOWN, ("P1",))


def test_lyrics_that_get_lost_with_a_note_are_noticed() -> None:
    changed = case(left_out("F4", 0))
    lyric = b"<lyric><text>la</text></lyric></note>"
    sung = changed.source.replace(b"</note>", lyric, 1)
    assert replace(changed, source=sung).found() == (
        "part P1, measure 1: lyrics differ, and no entry says so",
    )


def test_files_that_were_read_already_are_judged_the_same() -> None:
    changed = case(*STEPS["all of it"])
    score = Reading(Document.read(changed.source, "source")).score()
    source = View.of(Document.read(changed.source, "source"), score)
    result = View.read(changed.result)
    assert audit_views(source, result, changed.log, UNISON, ()) == ()
    fewer = ChangeLog(changed.log.entries[1:], changed.log.findings)
    assert audit_views(source, result, fewer, UNISON, ())
