"""Every kind of edit on small scores: what is written, and what is left alone."""

import difflib
import re
from dataclasses import replace

import pytest
from edit_pages import RICH, Page, altered, attributes, back, lasting, moved, note, page
from schema import schema_faults

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
from arrange.pitch import Pitch
from arrange.score.model import Mark, MarkKind, Sign
from arrange.units import Quarters

Q = Quarters


@pytest.fixture
def rich() -> Page:
    return Page(RICH)


def lines_changed(page: Page) -> list[str]:
    """The lines that went and came."""
    rows = difflib.ndiff(page.raw.decode().splitlines(), page.now().splitlines())
    return [row[0] + row[2:].strip() for row in rows if row[0] in "+-"]


def line_of(page: Page, pitch: str) -> str:
    """The first line of the result that holds this pitch."""
    wanted = Pitch.parse(pitch)
    alter = f"<alter>{wanted.alter}</alter>" if wanted.alter else ""
    text = f"<step>{wanted.step}</step>{alter}<octave>{wanted.octave}</octave>"
    return next(line for line in page.now().splitlines() if text in line)


def mark_of(page: Page, kind: MarkKind) -> Mark:
    return next(
        m for n in page.reading.score().parts[0].measures for m in n.marks if m.kind is kind
    )


def assert_sound(page: Page) -> None:
    """Valid, and every measure as long as it was, voice by voice."""
    assert schema_faults(page.document.to_bytes()) == []
    before, after = (Page(raw).reading.score() for raw in (page.raw, page.document.to_bytes()))
    assert [m.length for m in after.parts[0].measures] == [
        m.length for m in before.parts[0].measures
    ]


def test_the_pages_themselves_are_valid() -> None:
    assert schema_faults(RICH) == []


def test_another_octave_changes_one_line_and_nothing_else(rich: Page) -> None:
    low = rich.at("C2")
    assert rich.apply(SetPitch(low.id, NoteValue.of(low), moved(low, "C3"))) == "APPLIED"
    assert [row[0] for row in lines_changed(rich)] == ["-", "+"]
    assert rich.now() == RICH.decode().replace(
        "<step>C</step><octave>2</octave>", "<step>C</step><octave>3</octave>"
    )


def test_another_spelling_writes_and_takes_away_the_alteration(rich: Page) -> None:
    one = rich.at("F4")
    assert rich.apply(SetPitch(one.id, NoteValue.of(one), moved(one, "Gb4"))) == "APPLIED"
    assert "<alter>-1</alter>" in line_of(rich, "Gb4")
    again = rich.at("Gb4")
    assert rich.apply(SetPitch(again.id, NoteValue.of(again), moved(again, "F4"))) == "APPLIED"
    assert rich.document.to_bytes() == RICH


def test_a_tied_note_moves_only_with_its_partner(rich: Page) -> None:
    one, two = rich.at("C5"), rich.at("1:C5")
    first = SetPitch(one.id, NoteValue.of(one), moved(one, "C4"))
    second = SetPitch(two.id, NoteValue.of(two), moved(two, "C4"))
    assert rich.apply(first) == "BLOCKED measure 1: a tie would lead nowhere"
    assert rich.document.to_bytes() == RICH
    assert rich.apply(first, second) == "APPLIED"
    assert [n.tied_to for n in rich.notes(0) if n.pitch == Pitch.parse("C4")] == [True]


def test_a_transposing_part_is_written_as_it_writes() -> None:
    part = attributes().replace(
        "</attributes>",
        "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>",
    )
    page_ = Page(page(part + note("D4", 16) + back(16) + note("D3", 16, voice=5)))
    one = page_.at("C4")
    assert page_.apply(SetPitch(one.id, NoteValue.of(one), moved(one, "Ab4"))) == "APPLIED"
    assert "<step>B</step><alter>-1</alter><octave>4</octave>" in page_.now()
    assert page_.at("Ab4").offset == 0


def test_a_note_leaves_its_chord_and_the_next_becomes_its_head(rich: Page) -> None:
    bass = rich.at("C3")
    assert rich.apply(RemoveNote(bass.id, NoteValue.of(bass))) == "APPLIED"
    assert "<chord/>" not in line_of(rich, "G3")
    assert "fingering" not in line_of(rich, "G3")
    assert [n.has(Sign.ARPEGGIATE) for n in rich.notes() if n.voice == "5"] == [True, True, False]
    assert_sound(rich)


def test_what_belongs_to_the_chord_stays_with_it() -> None:
    page_ = Page(
        page(
            attributes()
            + note("E4", 8, '<slur type="start" number="1"/>')
            + note("B4", 8, '<slur type="stop" number="1"/>', "<fermata/>",
                   "<lyric number='1'><text>la</text></lyric>")
            + note("D5", 8, chord=True)
            + back(16) + note("C3", 16, voice=5)
        )
    )  # fmt: skip
    head = page_.at("B4")
    assert page_.apply(RemoveNote(head.id, NoteValue.of(head))) == "APPLIED"
    kept = line_of(page_, "D5")
    assert all(sign in kept for sign in ('<slur type="stop"', "<fermata/>", "<text>la</text>"))
    assert_sound(page_)


def test_a_roll_stays_on_what_is_left_of_the_chord(rich: Page) -> None:
    for name in ("G3", "E4"):
        one = next(n for n in rich.notes() if n.voice == "5" and n.pitch == Pitch.parse(name))
        assert rich.apply(RemoveNote(one.id, NoteValue.of(one))) == "APPLIED"
    assert "arpeggiate" in line_of(rich, "C3")
    assert "fingering" in line_of(rich, "C3")


def test_a_lone_note_becomes_a_rest_and_the_beam_parts_around_it(rich: Page) -> None:
    one = rich.at("F4")
    assert rich.apply(RemoveNote(one.id, NoteValue.of(one))) == "APPLIED"
    assert "beam" not in line_of(rich, "E4")
    assert '<beam number="1">begin</beam>' in line_of(rich, "G4")
    assert '<beam number="2">begin</beam>' in line_of(rich, "G4")
    rest = next(line for line in rich.now().splitlines() if "<rest/>" in line)
    assert rest.strip() == (
        "<note><rest/><duration>2</duration><voice>1</voice><type>eighth</type>"
        "<staff>1</staff></note>"
    )
    assert_sound(rich)


def test_a_slur_moves_to_the_neighbour_that_it_still_covers(rich: Page) -> None:
    one = rich.at("E4")
    assert rich.apply(RemoveNote(one.id, NoteValue.of(one))) == "APPLIED"
    assert '<slur type="start" number="1"/>' in line_of(rich, "F4")
    assert rich.now().count("<slur") == 2
    assert_sound(rich)


def test_a_slur_with_nothing_left_to_cover_goes_at_both_ends() -> None:
    page_ = Page(
        page(
            attributes()
            + note("E4", 8, '<slur type="start" number="1"/>')
            + note("B4", 8, '<slur type="stop" number="1"/>')
            + back(16) + note("C3", 16, voice=5)
        )
    )  # fmt: skip
    one = page_.at("B4")
    assert page_.apply(RemoveNote(one.id, NoteValue.of(one))) == "APPLIED"
    assert "slur" not in page_.now()
    assert "notations" not in page_.now()
    assert_sound(page_)


def test_a_rest_keeps_the_words_and_the_tuplet() -> None:
    mod = (
        "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes>"
        "</time-modification>"
    )
    lyric = "<lyric number='1'><text>la</text></lyric>"
    page_ = Page(
        page(
            attributes(divisions=12)
            + note("E4", 4, mod, '<tuplet type="start" number="1"/>')
            + note("F4", 4, mod)
            + note("G4", 4, mod, '<tuplet type="stop" number="1"/>', lyric)
            + note("r", 12).replace("<duration>12<", "<duration>36<")
            + back(48) + note("C3", 16, voice=5).replace(">16<", ">48<")
        )
    )  # fmt: skip
    one = page_.at("G4")
    assert page_.apply(RemoveNote(one.id, NoteValue.of(one))) == "APPLIED"
    rest = next(line for line in page_.now().splitlines() if "<rest/>" in line)
    assert all(text in rest for text in ("<time-modification>", '<tuplet type="stop"', "la"))
    assert_sound(page_)


def test_a_note_that_fills_the_measure_becomes_a_whole_measure_rest(rich: Page) -> None:
    one = rich.at("1:C3")
    assert rich.apply(RemoveNote(one.id, NoteValue.of(one))) == "APPLIED"
    assert '<rest measure="yes"/><duration>16</duration><voice>5</voice><staff>2' in rich.now()
    assert [r.is_whole_measure for r in rich.reading.score().parts[0].measures[1].rests] == [
        False,
        True,
    ]
    assert_sound(rich)


def test_a_tie_is_cut_at_both_ends_when_one_of_its_notes_goes(rich: Page) -> None:
    one = rich.at("1:C5")
    assert rich.apply(RemoveNote(one.id, NoteValue.of(one))) == "APPLIED"
    assert "<tie" not in rich.now()
    assert_sound(rich)


def test_a_grace_note_goes_without_a_rest(rich: Page) -> None:
    one = rich.at("1:D5")
    assert rich.apply(RemoveNote(one.id, NoteValue.of(one))) == "APPLIED"
    assert [row[0] for row in lines_changed(rich)] == ["-"]
    assert_sound(rich)


def test_a_glissando_line_goes_with_the_note_that_it_leaves(rich: Page) -> None:
    one = rich.at("2:F4")
    assert rich.apply(RemoveNote(one.id, NoteValue.of(one))) == "APPLIED"
    assert "glissando" not in rich.now()
    assert_sound(rich)


def run_of(page_: Page, start: str, names: str, length: Quarters) -> tuple[NoteValue, ...]:
    first = page_.at(start)
    return tuple(
        altered(first, lambda _, i=i, name=name: (i * length, length, Pitch.parse(name)))  # type: ignore[misc]
        for i, name in enumerate(names.split())
    )


def test_a_run_fills_the_time_of_its_note_with_beams_by_the_beat(rich: Page) -> None:
    start = rich.at("2:F4")
    run = run_of(rich, "2:F4", "F4 G4 A4 B4 C5 D5 E5 F5", Q(1, 2))
    assert rich.apply(WriteRun(start.id, (NoteValue.of(start),), run)) == "APPLIED"
    written = [n for n in rich.notes(2) if n.voice == "1"]
    assert tuple(map(NoteValue.of, written)) == run
    assert [n.id.key for n in written][:3] == ["n0", "n0.1", "n0.2"]
    assert rich.now().count('<beam number="1">begin</beam>') == 1 + 4
    assert_sound(rich)


def test_a_run_of_sevens_gets_local_divisions_and_a_bracket(rich: Page) -> None:
    start = rich.at("2:F4")
    run = run_of(rich, "2:F4", "F4 G4 A4 B4 C5 D5 E5", Q(4, 7))
    edit = WriteRun(start.id, (NoteValue.of(start),), run, (7, 4))
    assert rich.apply(edit) == "APPLIED"
    assert tuple(NoteValue.of(n) for n in rich.notes(2) if n.voice == "1") == run
    assert rich.now().count("<divisions>28</divisions>") == 1
    assert rich.now().count("<divisions>4</divisions>") == 2
    assert rich.now().count('<tuplet type="start"') == 1
    assert rich.notes(3)[0].duration == 1
    assert [f.measure for f in rich.log.findings] == ["3"]
    assert_sound(rich)


def test_a_run_over_the_barline_is_tied_on(rich: Page) -> None:
    one, two = rich.at("2:F4"), rich.at("3:F6")
    before = (NoteValue.of(one), NoteValue.of(two))
    run = run_of(rich, "2:F4", "F4 A4", Q(5, 2))
    assert rich.apply(WriteRun(one.id, before, run)) == "APPLIED"
    assert [(n.pitch.name, n.duration, n.tied_to) for n in rich.notes(2) if n.voice == "1"] == [
        ("F", Q(2), True),
        ("F", Q(1, 2), False),
        ("A", Q(3, 2), True),
    ]
    assert [(n.pitch.name, n.duration, n.tied_from) for n in rich.notes(3)][:1] == [
        ("A", Q(1), True)
    ]
    assert "glissando" not in rich.now()
    assert_sound(rich)


def test_a_run_takes_the_place_of_notes_that_were_tied(rich: Page) -> None:
    one, two = rich.at("C5"), rich.at("1:C5")
    upper = next(n for n in rich.notes() if n.chord == one.id and n.id != one.id)
    leave = RemoveNote(upper.id, NoteValue.of(upper))
    half = Q(1, 2)
    run = tuple(
        altered(note_, lambda _, i=i, n=n: (i * half, half, Pitch.parse(n)))  # type: ignore[misc]
        for note_, i, n in (
            (one, 5, "C5"), (one, 6, "D5"), (one, 7, "C5"), (two, 0, "B4"), (two, 1, "A4")
        )
    )  # fmt: skip
    before = (NoteValue.of(one), NoteValue.of(two))
    assert rich.apply(leave, WriteRun(one.id, before, run)) == "APPLIED"
    assert "<tie" not in rich.now()
    assert [n.pitch.name for n in rich.notes(1)][:2] == ["B", "A"]
    assert "<accent/>" in rich.now()
    assert_sound(rich)


@pytest.mark.parametrize(
    ("names", "length", "why"),
    [
        ("F4 G4 A4", Q(1), "longer or shorter"),
        ("F4 G4 A4 B4 C5", Q(4, 5), "can last 4/5"),
        ("F4 G4 A4 B4 C5", Q(1), "outside its measure"),
    ],
)
def test_a_run_that_does_not_fit_is_blocked(
    rich: Page, names: str, length: Quarters, why: str
) -> None:
    start = rich.at("2:F4")
    run = run_of(rich, "2:F4", names, length)
    said = rich.apply(WriteRun(start.id, (NoteValue.of(start),), run))
    assert said.startswith("BLOCKED")
    assert why in said
    assert rich.document.to_bytes() == RICH


def test_a_shorter_note_leaves_a_rest_and_a_longer_one_takes_it_back(rich: Page) -> None:
    one = rich.at("1:E5")
    long = SetDuration(one.id, NoteValue.of(one), lasting(one, Q(2)))
    assert rich.apply(long) == "APPLIED"
    now = rich.at("1:E5")
    assert now.duration == 2
    assert len(rich.reading.score().parts[0].measures[1].rests) == 0
    short = SetDuration(now.id, NoteValue.of(now), lasting(now, Q(1, 2)))
    assert rich.apply(short) == "APPLIED"
    rests = rich.reading.score().parts[0].measures[1].rests
    assert [(r.offset, r.duration) for r in rests] == [(Q(3, 2), Q(3, 2))]
    assert_sound(rich)


def words(text: str) -> str:
    """A direction in the middle of a voice."""
    kind = f"<direction-type><words>{text}</words></direction-type>"
    return f"      <direction>{kind}<staff>1</staff></direction>\n"


def places_of_marks(page_: Page) -> list[tuple[str, Quarters]]:
    fresh = Page(page_.document.to_bytes()).reading.score()
    return [(m.text, m.offset) for m in fresh.parts[0].measures[0].marks]


def test_marks_between_notes_keep_their_time_when_lengths_change() -> None:
    upper = note("E4", 4) + words("one") + note("r", 4) + words("two") + note("r", 8)
    page_ = Page(page(attributes() + upper + back(16) + note("C3", 16, voice=5)))
    one = page_.at("E4")
    assert page_.apply(SetDuration(one.id, NoteValue.of(one), lasting(one, Q(3)))) == "APPLIED"
    assert places_of_marks(page_) == [("one", Q(1)), ("two", Q(2))]
    upper = note("E4", 4) + words("one") + note("F4", 4) + words("two") + note("G4", 8)
    page_ = Page(page(attributes() + upper + back(16) + note("C3", 16, voice=5)))
    old = tuple(NoteValue.of(n) for n in page_.notes() if n.voice == "1")
    names = ("E4", "F4", "G4", "A4", "B4", "C5")
    lengths = (Q(3, 2), Q(1, 2), Q(1, 2), Q(1, 2), Q(1, 2), Q(1, 2))
    run = tuple(
        replace(
            old[0], offset=sum(lengths[:i], Q(0)), duration=lengths[i], pitch=Pitch.parse(name)
        )
        for i, name in enumerate(names)
    )
    assert page_.apply(WriteRun(page_.notes()[0].id, old, run)) == "APPLIED"
    assert places_of_marks(page_) == [("one", Q(1)), ("two", Q(2))]
    assert_sound(page_)


def test_local_divisions_say_exactly_what_was_rounded() -> None:
    mod = (
        "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes>"
        "</time-modification>"
    )
    start, stop = ('<tuplet type="start" number="1"/>', '<tuplet type="stop" number="1"/>')
    triplet = (
        note("E4", 4, mod, start).replace("<duration>4<", "<duration>85<")
        + note("F4", 4, mod).replace("<duration>4<", "<duration>86<")
        + note("G4", 4, mod, stop).replace("<duration>4<", "<duration>85<")
    )
    rest = note("A4", 12).replace("<duration>12<", "<duration>768<")
    low = note("C3", 16, voice=5).replace("<duration>16<", "<duration>1024<")
    page_ = Page(page(attributes(divisions=256) + triplet + rest + back(1024) + low))
    before = list(map(NoteValue.of, page_.notes()))
    bass = page_.at("C3")
    run = tuple(
        replace(NoteValue.of(bass), offset=i * Q(4, 7), duration=Q(4, 7), pitch=Pitch.parse(name))
        for i, name in enumerate(["C3", "D3", "E3", "F3", "G3", "A3", "B3"])
    )
    assert page_.apply(WriteRun(bass.id, (NoteValue.of(bass),), run, (7, 4))) == "APPLIED"
    assert list(map(NoteValue.of, page_.notes())) == before[:-1] + list(run)
    assert before[0].duration == Q(1, 3)
    assert_sound(page_)


def test_a_chord_changes_its_length_only_if_the_change_tells_of_all_its_notes(rich: Page) -> None:
    chord = [n for n in rich.notes() if n.voice == "5" and n.offset == 0]
    edits = [SetDuration(n.id, NoteValue.of(n), lasting(n, Q(1))) for n in chord]
    assert rich.apply(edits[0]) == "BLOCKED G3 of the same chord would change its length as well"
    assert rich.document.to_bytes() == RICH
    assert rich.apply(*edits) == "APPLIED"
    assert [n.duration for n in rich.notes() if n.voice == "5"] == [Q(1), Q(1), Q(1), Q(2)]
    assert_sound(rich)


def test_a_note_grows_into_nothing_but_rests(rich: Page) -> None:
    one = rich.at("E4")
    longer = SetDuration(one.id, NoteValue.of(one), lasting(one, Q(1)))
    assert rich.apply(longer) == "BLOCKED no bare rest behind the note is long enough"
    assert rich.document.to_bytes() == RICH
    worded = RICH.replace(
        b"<type>quarter</type><staff>1</staff></note>\n      <note><pitch><step>G</step>",
        b"<type>quarter</type><staff>1</staff><lyric><text>ah</text></lyric></note>\n"
        b"      <note><pitch><step>G</step>",
    )
    page_ = Page(worded)
    one = page_.at("1:E5")
    longer = SetDuration(one.id, NoteValue.of(one), lasting(one, Q(2)))
    assert page_.apply(longer) == "BLOCKED no bare rest behind the note is long enough"


@pytest.mark.parametrize(
    ("index", "offset", "staff", "shift"),
    [
        (0, Q(0), 2, ""),
        (0, Q(3, 2), 1, ""),
        (0, Q(3), 2, "4"),
        (3, Q(5, 3), 1, "8"),
        (2, Q(4), 2, "8"),
    ],
)
def test_words_stand_at_their_place(
    rich: Page, index: int, offset: Quarters, staff: int, shift: str
) -> None:
    value = MarkValue(index, offset, staff, "F# & more")
    assert rich.apply(AddWords("P1", "leverwright.state.1", value)) == "APPLIED"
    marks = [m for m in rich.reading.score().parts[0].measures[index].marks if m.own]
    assert [(m.offset, m.staff, m.text) for m in marks] == [(offset, staff, "F# & more")]
    assert marks[0].id.key == "d+leverwright.state.1"
    assert (f"<offset>{shift}</offset>" in rich.now()) == bool(shift)
    assert_sound(rich)


def test_words_keep_the_order_in_which_they_were_added(rich: Page) -> None:
    edits = [
        AddWords("P1", f"leverwright.state.{i}", MarkValue(1, Q(1), 1, text))
        for i, text in enumerate(("one", "two", "three"))
    ]
    assert rich.apply(*edits) == "APPLIED"
    marks = rich.reading.score().parts[0].measures[1].marks
    assert [m.text for m in marks] == ["one", "two", "three"]
    assert {m.offset for m in marks} == {Q(1)}


def test_a_piano_pedal_goes_with_its_sound(rich: Page) -> None:
    mark = mark_of(rich, MarkKind.PIANO_PEDAL)
    assert rich.apply(RemoveMark(mark.id, MarkValue.of(mark))) == "APPLIED"
    assert "pedal" not in rich.now()
    assert [row[0] for row in lines_changed(rich)] == ["-"]


def test_of_two_things_in_one_direction_one_goes_and_the_tempo_stays(rich: Page) -> None:
    words = mark_of(rich, MarkKind.WORDS)
    dynamics = mark_of(rich, MarkKind.DYNAMICS)
    both = [RemoveMark(m.id, MarkValue.of(m)) for m in (words, dynamics)]
    assert rich.apply(both[0]) == "APPLIED"
    assert "dolce" not in rich.now()
    assert "<dynamics>" in rich.now()
    fresh = Page(RICH)
    assert fresh.apply(*both) == "APPLIED"
    assert "<direction " not in fresh.now()
    assert '<sound tempo="72"/>' in fresh.now()
    assert_sound(fresh)


def test_fingerings_go_one_by_one_or_all_at_once(rich: Page) -> None:
    low = rich.at("C2")
    edits = [
        RemoveNotation(low.id, f"fingering.{i}", MarkValue(0, low.offset, 2, "5")) for i in (0, 1)
    ]
    assert rich.apply(edits[1]) == "APPLIED"
    assert "<technical><fingering>5</fingering></technical>" in line_of(rich, "C2")
    fresh = Page(RICH)
    assert fresh.apply(*edits) == "APPLIED"
    assert "notations" not in line_of(fresh, "C2")
    assert_sound(fresh)


def test_a_chord_is_rolled(rich: Page) -> None:
    chord = [n for n in rich.notes() if n.pitch in (Pitch.parse("C5"), Pitch.parse("E5"))]
    roll = AddRoll(tuple(n.id for n in chord), MarkValue(0, Q(5, 2), 1, "arpeggiate"))
    assert rich.apply(roll) == "APPLIED"
    assert rich.now().count("<arpeggiate/>") == 5
    assert rich.apply(roll).startswith("STALE")
    assert_sound(rich)


def test_credits_and_fields_are_made_where_there_were_none(rich: Page) -> None:
    line = SetCredit("credit", MarkValue(0, Q(0), 1, "Levers: E♭ tuning"))
    field = SetCredit("leverwright-harp", MarkValue(0, Q(0), 1, "lever-34"))
    assert rich.apply(line, field) == "APPLIED"
    assert rich.reading.score().own == {"leverwright-harp": "lever-34"}
    assert ">Levers: E♭ tuning</credit-words>" in rich.now()
    assert_sound(rich)


def test_an_ornament_takes_its_accidental_along() -> None:
    trill = "<ornaments><trill-mark/><accidental-mark>sharp</accidental-mark></ornaments>"
    page_ = Page(page(attributes() + note("E4", 16, trill) + back(16) + note("C3", 16, voice=5)))
    one = page_.at("E4")
    edit = RemoveNotation(one.id, "trill-mark.0", MarkValue(0, Q(0), 1, "trill-mark"))
    assert page_.apply(edit) == "APPLIED"
    assert "notations" not in page_.now()


def test_a_timewise_score_is_edited_like_any_other() -> None:
    text = (
        RICH.decode().replace("score-partwise", "score-timewise").replace("Partwise", "Timewise")
    )
    text = text.replace('  <part id="P1">\n', "", 1).replace("  </part>\n", "", 1)
    text = re.sub(r'(<measure number="\d">)', r'\1<part id="P1">', text)
    timewise = Page(text.replace("</measure>", "</part></measure>").encode())
    start = timewise.at("2:F4")
    run = run_of(timewise, "2:F4", "F4 G4 A4 B4 C5 D5 E5", Q(4, 7))
    assert timewise.apply(WriteRun(start.id, (NoteValue.of(start),), run, (7, 4))) == "APPLIED"
    bass = timewise.at("1:C3")
    assert timewise.apply(RemoveNote(bass.id, NoteValue.of(bass))) == "APPLIED"
    assert timewise.notes(3)[0].duration == 1
    assert_sound(timewise)


@pytest.mark.parametrize("encoding", ["utf-16", "latin-1", "utf-8-sig"])
def test_in_any_encoding_only_the_footprint_differs(encoding: str) -> None:
    name = {"utf-16": "UTF-16", "latin-1": "ISO-8859-1", "utf-8-sig": "UTF-8"}[encoding]
    text = RICH.decode().replace("UTF-8", name).replace("\n", "\r\n").replace("dolce", "dolcé")
    encoded = Page(text.encode(encoding))
    low = encoded.at("C2")
    assert encoded.apply(SetPitch(low.id, NoteValue.of(low), moved(low, "C3"))) == "APPLIED"
    wanted = text.replace("<octave>2</octave>", "<octave>3</octave>", 1)
    assert encoded.document.to_bytes() == wanted.encode(encoding)


def test_what_lies_outside_the_score_is_blocked(rich: Page) -> None:
    low = rich.at("C2")
    far: list[Edit] = [
        SetPitch(low.id, NoteValue.of(low), moved(low, "C10")),
        SetPitch(low.id, NoteValue.of(low), replace(NoteValue.of(low), staff=1, voice="9")),
        SetDuration(low.id, NoteValue.of(low), lasting(low, Q(-1))),
        SetDuration(low.id, NoteValue.of(low), replace(NoteValue.of(low), offset=Q(0))),
        WriteRun(low.id, (NoteValue.of(low),), (replace(NoteValue.of(low), index=9),)),
        WriteRun(low.id, (NoteValue.of(low),), (replace(NoteValue.of(low), offset=Q(-2)),)),
        AddWords("P1", "leverwright.state.1", MarkValue(0, Q(-1), 1, "early")),
        AddWords("P1", "leverwright.state.1", MarkValue(0, Q(5), 1, "late")),
        AddWords("P1", "leverwright.state.1", MarkValue(0, Q(0), 3, "low")),
    ]
    assert [rich.apply(edit).split()[0] for edit in far] == ["BLOCKED"] * len(far)
    elsewhere = AddWords("P1", "leverwright.state.1", MarkValue(9, Q(0), 1, "gone"))
    assert rich.apply(elsewhere).split()[0] == "STALE"
    assert rich.document.to_bytes() == RICH
