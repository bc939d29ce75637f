"""One rule's changes: outcomes, rolling back, undoing, replaying."""

from collections.abc import Iterator

import pytest
from edit_pages import RICH, Page, attributes, back, change, lasting, moved, note, page
from hypothesis import given, settings
from hypothesis import strategies as st
from schema import schema_faults

from arrange.apply.lowering import Sheet, carry_out
from arrange.apply.replay import replay
from arrange.changes import ChangeLog, Fidelity, Outcome, from_lines, to_lines
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
from arrange.errors import BadInput
from arrange.pitch import pitch_on_line
from arrange.score.document import element
from arrange.score.model import EventId, Note
from arrange.units import Quarters

Q = Quarters


@pytest.fixture
def rich() -> Page:
    return Page(RICH)


def octave_up(page: Page, text: str) -> SetPitch:
    note = page.at(text)
    name = f"{note.pitch.name}{note.pitch.octave + 1}"
    return SetPitch(note.id, NoteValue.of(note), moved(note, name))


def cue(page: Page, number: int = 1) -> AddWords:
    del page
    return AddWords("P1", f"leverwright.state.{number}", MarkValue(1, Q(1), 1, f"cue {number}"))


def test_a_declined_change_leaves_the_bytes_and_takes_its_dependents_along(rich: Page) -> None:
    first = change(octave_up(rich, "C2"))
    second = change(cue(rich), depends_on=[first.id])
    with rich.transaction(declined=frozenset({first.id})) as transaction:
        assert transaction.offer(first) is Outcome.DECLINED
        assert transaction.offer(second) is Outcome.DECLINED
    assert rich.document.to_bytes() == RICH


def test_what_goes_too_far_is_only_suggested(rich: Page) -> None:
    far = change(octave_up(rich, "C2"), fidelity=Fidelity.LOSSY)
    near = change(octave_up(rich, "1:C3"), fidelity=Fidelity.IDIOMATIC)
    with rich.transaction(limit=Fidelity.IDIOMATIC) as transaction:
        assert transaction.offer(far) is Outcome.SUGGESTED
        assert transaction.offer(change(cue(rich), depends_on=[far.id])) is Outcome.SUGGESTED
        assert transaction.offer(near) is Outcome.APPLIED


def test_a_change_that_needs_what_was_never_offered_is_blocked(rich: Page) -> None:
    with rich.transaction() as transaction:
        needy = change(octave_up(rich, "C2"), depends_on=["0123456789abcdef"])
        assert transaction.offer(needy) is Outcome.BLOCKED
    assert "not proposed" in rich.log.entries[0].detail


def test_a_change_may_need_one_of_an_earlier_rule(rich: Page) -> None:
    first = change(octave_up(rich, "C2"))
    with rich.transaction() as transaction:
        transaction.offer(first)
    with rich.transaction() as transaction:
        assert transaction.offer(change(cue(rich), depends_on=[first.id])) is Outcome.APPLIED


def test_a_change_of_what_was_changed_before_is_stale(rich: Page) -> None:
    edit = octave_up(rich, "C2")
    with rich.transaction() as transaction:
        transaction.offer(change(edit))
    with rich.transaction() as transaction:
        assert transaction.offer(change(edit, rule="another-rule")) is Outcome.STALE
    ghost = EventId("P1", 0, "n99")
    with rich.transaction() as transaction:
        gone = RemoveNote(ghost, edit.before)
        assert transaction.offer(change(gone)) is Outcome.STALE


def test_two_changes_of_one_rule_on_one_note_are_in_conflict(rich: Page) -> None:
    low = rich.at("C2")
    with rich.transaction() as transaction:
        assert transaction.offer(change(octave_up(rich, "C2"))) is Outcome.APPLIED
        other = RemoveNote(low.id, NoteValue.of(low))
        assert transaction.offer(change(other)) is Outcome.CONFLICT
        sign = RemoveNotation(low.id, "fingering.0", MarkValue(0, Q(2), 2, "5"))
        assert transaction.offer(change(sign)) is Outcome.APPLIED


def test_a_sign_on_a_note_that_just_became_a_rest_is_in_conflict(rich: Page) -> None:
    low = rich.at("C2")
    with rich.transaction() as transaction:
        transaction.offer(change(RemoveNote(low.id, NoteValue.of(low))))
        sign = RemoveNotation(low.id, "fingering.0", MarkValue(0, Q(2), 2, "5"))
        assert transaction.offer(change(sign)) in {Outcome.CONFLICT, Outcome.BLOCKED}
    assert len(rich.log.entries) == 2


def test_an_id_is_given_once(rich: Page) -> None:
    with rich.transaction() as transaction:
        assert transaction.offer(change(cue(rich))) is Outcome.APPLIED
        assert transaction.offer(change(cue(rich), rule="again")) is Outcome.CONFLICT
    with rich.transaction() as transaction:
        assert transaction.offer(change(cue(rich), rule="again")) is Outcome.BLOCKED
    assert rich.now().count('id="leverwright.state.1"') == 1


def test_a_change_is_carried_out_whole_or_not_at_all(rich: Page) -> None:
    half = change(octave_up(rich, "1:C3"), octave_up(rich, "C5"))
    with rich.transaction() as transaction:
        assert transaction.offer(half) is Outcome.BLOCKED
        assert rich.document.to_bytes() == RICH
        assert transaction.offer(change(octave_up(rich, "1:C3"))) is Outcome.APPLIED


def test_text_that_no_file_can_hold_is_blocked(rich: Page) -> None:
    words = AddWords("P1", "leverwright.state.1", MarkValue(0, Q(0), 1, "a\x07b"))
    assert rich.apply(words).startswith("BLOCKED the text")
    assert rich.document.to_bytes() == RICH


def test_a_fault_in_a_rule_takes_the_whole_rule_back(rich: Page) -> None:
    def work() -> None:
        with rich.transaction() as transaction:
            transaction.offer(change(octave_up(rich, "C2")))
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        work()
    assert rich.document.to_bytes() == RICH
    assert rich.log.entries == []


def test_a_measure_that_came_in_too_short_may_still_be_edited() -> None:
    raw = RICH.replace(b"<duration>6</duration>", b"<duration>5</duration>")
    assert raw != RICH
    short = Page(raw)
    assert short.apply(octave_up(short, "C2")) == "APPLIED"
    low = short.at("C3")
    assert short.apply(RemoveNote(low.id, NoteValue.of(low))) == "APPLIED"


class Careless:
    """What an edit leaves when it forgets the time, a tie's other end, or the schema's order."""

    def __init__(self, what: str) -> None:
        self.what = what

    def spoil(self, sheet: Sheet, edit: Edit) -> None:
        carry_out(sheet, edit)
        note = sheet.measure_node("P1", 0).find_all("note")[0]
        if self.what == "time":
            duration = note.find("duration")
            assert duration is not None
            sheet.document.set_text(duration, "3")
        elif self.what == "chord":
            sheet.document.insert(note, element("chord"), before=note.children[0])
        elif self.what == "tie":
            tied = next(node for node in sheet.measure_node("P1", 0).find_all("note")
                        if node.find("tie") is not None)  # fmt: skip
            step = tied.find("pitch")
            assert step is not None
            sheet.document.set_text(step.children[0], "D")
        else:
            sheet.document.insert(note, element("dot"))


@pytest.mark.parametrize(
    ("what", "why"),
    [
        ("time", "would fill 17/4"),
        ("chord", "chord that is not there"),
        ("tie", "a tie would lead nowhere"),
        ("order", "out of order"),
    ],
)
def test_invariants_catch_a_careless_edit(
    rich: Page, monkeypatch: pytest.MonkeyPatch, what: str, why: str
) -> None:
    monkeypatch.setattr("arrange.apply.transaction.carry_out", Careless(what).spoil)
    bass = rich.at("C3")
    said = rich.apply(RemoveNote(bass.id, NoteValue.of(bass)))
    assert said.startswith("BLOCKED measure 1: ")
    assert why in said
    assert rich.document.to_bytes() == RICH


def test_shown_accidentals_follow_when_the_rule_is_done(rich: Page) -> None:
    note = rich.at("F4")
    edit = SetPitch(note.id, NoteValue.of(note), moved(note, "F#4"))
    with rich.transaction() as transaction:
        transaction.offer(change(edit))
        assert "<accidental>" not in rich.now()
    assert rich.now().count("<accidental>sharp</accidental>") == 1
    transaction.undo()
    assert rich.document.to_bytes() == RICH


def every_edit(page: Page) -> list[Edit]:
    """One edit of each kind, on different notes."""
    note = {name: page.at(name) for name in ("C2", "F4", "1:E5", "2:F4", "1:C3", "B4")}
    run = tuple(
        NoteValue(2, i * Q(4, 7), 1, "1", Q(4, 7), is_grace=False, pitch=pitch_on_line(31 + i))
        for i in range(7)
    )
    marks = page.reading.score().parts[0].measures[0].marks
    return [
        SetPitch(note["C2"].id, NoteValue.of(note["C2"]), moved(note["C2"], "C#3")),
        RemoveNote(note["F4"].id, NoteValue.of(note["F4"])),
        SetDuration(note["1:E5"].id, NoteValue.of(note["1:E5"]), lasting(note["1:E5"], Q(1, 2))),
        WriteRun(note["2:F4"].id, (NoteValue.of(note["2:F4"]),), run, (7, 4)),
        RemoveMark(marks[0].id, MarkValue.of(marks[0])),
        RemoveNotation(note["C2"].id, "fingering.1", MarkValue(0, Q(2), 2, "4")),
        AddRoll((note["B4"].id,), MarkValue(0, Q(3, 2), 1, "arpeggiate")),
        cue(page),
        SetCredit("credit", MarkValue(0, Q(0), 1, "Levers: E♭")),
        SetCredit("leverwright-harp", MarkValue(0, Q(0), 1, "lever-34")),
    ]


@pytest.mark.parametrize("kind", range(10))
def test_every_edit_is_undone_and_replayed_to_the_byte(kind: int) -> None:
    page = Page(RICH)
    with page.transaction() as transaction:
        assert transaction.offer(change(every_edit(page)[kind])) is Outcome.APPLIED
    after = page.document.to_bytes()
    assert after != RICH
    assert schema_faults(after) == []
    again = Page(RICH)
    replay(again.document, again.reading, from_lines(to_lines(page.log)))
    assert again.document.to_bytes() == after
    transaction.undo()
    assert page.document.to_bytes() == RICH
    assert (page.log.entries, page.log.findings) == ([], [])


def test_several_rules_are_undone_last_first() -> None:
    page = Page(RICH)
    states, done = [], []
    for edit in every_edit(page):
        states.append(page.document.to_bytes())
        with page.transaction() as transaction:
            transaction.offer(change(edit))
        done.append(transaction)
    for transaction, state in zip(reversed(done), reversed(states), strict=True):
        transaction.undo()
        assert page.document.to_bytes() == state


def test_a_log_of_another_score_is_refused() -> None:
    page = Page(RICH)
    page.apply(octave_up(page, "C2"))
    other = Page(
        RICH.replace(b"<step>C</step><octave>2</octave>", b"<step>D</step><octave>2</octave>")
    )
    with pytest.raises(BadInput, match="does not fit the score"):
        replay(other.document, other.reading, page.log, file="x.changes.jsonl")


# Random rules: several transactions, several changes each, some of them nonsense.


def pitch_edit(note: Note, step: int) -> Edit:
    return SetPitch(
        note.id, NoteValue.of(note), moved(note, str(pitch_on_line(note.pitch.line + step)))
    )


def run_edit(note: Note, count: int) -> Edit:
    value, length = NoteValue.of(note), note.duration / count
    after = tuple(
        NoteValue(value.index, value.offset + i * length, value.staff, value.voice, length,
                  is_grace=False, pitch=pitch_on_line(note.pitch.line + i))
        for i in range(count)
    )  # fmt: skip
    tuplet = {3: (3, 2), 5: (5, 4), 6: (6, 4), 7: (7, 4)}.get(count)
    return WriteRun(note.id, (value,), after, tuplet)


@st.composite
def edits_of(draw: st.DrawFn, page: Page, serial: Iterator[int]) -> list[Edit]:
    """One change's edits on the page as it stands."""
    measures = page.reading.score().parts[0].measures
    notes = [n for measure in measures for n in measure.notes]
    note = draw(st.sampled_from(notes))
    kinds = [pitch_edits, left_out, note_value_edits, mark_edits, words]
    return draw(st.sampled_from(kinds))(draw, page, note, next(serial))


def pitch_edits(draw: st.DrawFn, page: Page, note: Note, _: int) -> list[Edit]:
    step = draw(st.sampled_from((-7, -1, 1, 7)))
    every = [n for m in page.reading.score().parts[0].measures for n in m.notes]
    tied = [n for n in every if n.pitch == note.pitch and (n.tied_to or n.tied_from)]
    together = draw(st.booleans())
    return [pitch_edit(n, step) for n in (tied if together and tied else [note])]


def left_out(_draw: st.DrawFn, _page: Page, note: Note, _: int) -> list[Edit]:
    return [RemoveNote(note.id, NoteValue.of(note))]


def note_value_edits(draw: st.DrawFn, page: Page, note: Note, serial: int) -> list[Edit]:
    if not note.duration:
        return left_out(draw, page, note, serial)
    if draw(st.booleans()):
        return [run_edit(note, draw(st.sampled_from((2, 3, 4, 5, 6, 7))))]
    other = note.duration * draw(st.sampled_from((Q(1, 2), Q(3, 4), Q(2))))
    return [SetDuration(note.id, NoteValue.of(note), lasting(note, other))]


def mark_edits(draw: st.DrawFn, page: Page, note: Note, serial: int) -> list[Edit]:
    measures = page.reading.score().parts[0].measures
    marks = [mark for measure in measures for mark in measure.marks]
    if marks and serial % 3 == 0:
        mark = draw(st.sampled_from(marks))
        return [RemoveMark(mark.id, MarkValue.of(mark))]
    place = MarkValue(note.id.index, note.offset, note.staff, "words")
    single = [sign for sign in note.notations if sign.type not in {"start", "stop"}]
    if single:
        return [RemoveNotation(note.id, sign.key, place) for sign in single]
    chord = [n.id for n in measures[note.id.index].notes if n.chord == note.chord]
    return [AddRoll(tuple(chord), place)] if serial % 2 else words(draw, page, note, serial)


def words(draw: st.DrawFn, _page: Page, note: Note, serial: int) -> list[Edit]:
    offset = draw(st.sampled_from((note.offset, Q(1, 2), Q(1, 3), Q(7, 4))))
    value = MarkValue(note.id.index, offset, note.staff, "words")
    return [AddWords("P1", f"leverwright.state.{serial}", value)]


def numbers() -> Iterator[int]:
    number = 0
    while True:
        yield number
        number += 1


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_random_rules_stay_valid_and_are_undone_and_replayed_to_the_byte(
    data: st.DataObject,
) -> None:
    page, serial = Page(RICH), numbers()
    states, done, offered = [], [], 0
    for rule in range(data.draw(st.integers(1, 4))):
        states.append((page.document.to_bytes(), len(page.log.entries)))
        with page.transaction() as transaction:
            for _ in range(data.draw(st.integers(1, 4))):
                edits = data.draw(edits_of(page, serial))
                before = page.document.to_bytes()
                outcome = transaction.offer(change(*edits, rule=f"rule-{rule}"))
                offered += 1
                if outcome is not Outcome.APPLIED:
                    assert page.document.to_bytes() == before
        done.append(transaction)
        assert len(page.log.entries) == offered
        assert_whole(page)
    after, log = page.document.to_bytes(), from_lines(to_lines(page.log))
    assert log == page.log
    again = Page(RICH)
    replayed = replay(again.document, again.reading, log)
    assert again.document.to_bytes() == after
    assert replayed.applied() == page.log.applied()
    for transaction, (state, entries) in zip(reversed(done), reversed(states), strict=True):
        transaction.undo()
        assert (page.document.to_bytes(), len(page.log.entries)) == (state, entries)
    assert page.document.to_bytes() == RICH


def assert_whole(page: Page) -> None:
    """Valid, read up to date, and as long as it was."""
    raw = page.document.to_bytes()
    assert schema_faults(raw) == []
    fresh, kept = Page(raw).reading.score(), page.reading.score()
    assert [
        [NoteValue.of(n) for n in m.notes] + [NoteValue.of(n).pitch for n in m.notes if n.tied_to]
        for m in fresh.parts[0].measures
    ] == [
        [NoteValue.of(n) for n in m.notes] + [NoteValue.of(n).pitch for n in m.notes if n.tied_to]
        for m in kept.parts[0].measures
    ]
    assert [m.length for m in fresh.parts[0].measures] == [Q(4)] * 4
    for kind in ("slur", "tied", "tuplet"):
        text = raw.decode()
        starts, stops = (text.count(f'<{kind} type="{end}"') for end in ("start", "stop"))
        assert starts == stops


def test_the_log_that_comes_back_is_the_log(rich: Page) -> None:
    for edit in every_edit(rich):
        rich.apply(edit)
    text = to_lines(rich.log, {"harp": "lever-34"})
    assert from_lines(text) == rich.log
    assert to_lines(from_lines(text), {"harp": "lever-34"}) == text
    assert isinstance(rich.log, ChangeLog)


def test_a_tie_that_leads_nowhere_catches_no_other_note() -> None:
    first = note("C5", 16, "<tie type='start'/>") + back(16) + note("C4", 16, voice=5)
    second = note("E5", 16) + back(16) + note("C4", 16, "<tie type='stop'/>", voice=5)
    written = Page(page(attributes() + first, second))
    low = written.at("1:C4")
    outcome = written.apply(SetPitch(low.id, NoteValue.of(low), moved(low, "C5")))
    assert outcome == "BLOCKED measure 2: a loose tie would catch another note"
    assert written.document.to_bytes() == written.raw
