"""The melody as notation: its onsets are those of the roles, its measures are full."""

import pytest
from lessons import lesson_of, piece_in_short, short_lesson

from arrange.score.model import EventId
from arrange.study.roles import Role, roles
from arrange.teach.chords import sure_chords
from arrange.teach.lesson import Lesson
from arrange.teach.melody import melody_score
from arrange.teach.notation import melody_picture
from arrange.teach.sections import sections
from arrange.units import Quarters

PIECES = ("nocturne-d-flat", "minuet-da-capo", "air-variations-c-flat", "barcarolle-glissandi")


def written(lesson: Lesson) -> set[EventId]:
    signs = {s.note.id for m in lesson.melody for s in m.signs if s.note and not s.is_tied}
    return signs | {n.id for m in lesson.melody for row in m.graces.values() for n in row}


@pytest.mark.parametrize("name", PIECES)
def test_every_melody_note_of_the_roles_stands_there_and_no_other(name: str) -> None:
    lesson = lesson_of(name)
    found = roles(lesson.piece.score)
    tied_on = {e for note in lesson.piece.line.notes for e in note.ids[1:]}
    sung = {e for e, role in found.items() if role.role is Role.MELODY} - tied_on
    assert written(lesson) == sung
    assert not any(m.is_left_out for m in lesson.melody)


@pytest.mark.parametrize("name", PIECES)
def test_each_measure_is_full_and_its_signs_lie_end_to_end(name: str) -> None:
    for one in lesson_of(name).melody:
        place = Quarters(0)
        for sign in one.signs:
            assert sign.offset == place
            place += sign.duration
        assert place == (one.measure.length if one.signs else 0)


def test_what_is_held_over_a_barline_is_tied() -> None:
    lesson = short_lesson("key=0 tempo=60\nRH: C5h E5h~ | E5h G5h\nLH: C3w | C3w")
    ends = [(s.note.pitch.step, s.is_tied, s.is_tied_on) for m in lesson.melody for s in m.signs
            if s.note]  # fmt: skip
    assert ends == [
        ("C", False, False),
        ("E", False, True),
        ("E", True, False),
        ("G", False, False),
    ]


def test_a_chord_is_named_where_it_is_sure() -> None:
    piece = piece_in_short("key=0 tempo=60\nRH: C5+E5+G5w | A4+C5+E5w\nLH: C3w | A2w")
    assert [(c.index, c.name) for c in sure_chords(piece)] == [(0, "C"), (1, "Am")]


def test_a_chord_without_its_third_or_with_foreign_notes_has_no_name() -> None:
    piece = piece_in_short("key=0 tempo=60\nRH: C5+G5w | C5+D5+F5w\nLH: C3w | E3+A3w")
    assert sure_chords(piece) == ()


@pytest.mark.parametrize(
    ("key", "notes", "name"),
    [
        (0, "A#4+D5+E#5w", "B\N{MUSIC FLAT SIGN}"),
        (0, "E#4+A4+C5w", "F"),
        (0, "F#4+A4+C5w", "F\N{MUSIC SHARP SIGN}dim"),
        (4, "D#5+F#5+A#5w", "D\N{MUSIC SHARP SIGN}m"),
    ],
)
def test_a_root_is_named_as_near_to_the_key_as_it_can(key: int, notes: str, name: str) -> None:
    bass = notes.partition("+")[0][:-1] + "2"
    piece = piece_in_short(f"key={key} tempo=60\nRH: {notes}\nLH: {bass}w")
    assert [c.name for c in sure_chords(piece)] == [name]


def test_the_upper_tones_over_a_root_that_has_sounded_are_its_seventh() -> None:
    tune, upper = "RH: Bb5q Bb5q G5q E5q", "G3+Bb3+E4q G2q G3+Bb3+E4q"
    piece = piece_in_short(f"key=-1 tempo=60\n{tune}\nLH: C2q {upper}")
    assert [(c.index, c.name) for c in sure_chords(piece)] == [(0, "C7")]
    alone = piece_in_short(f"key=-1 tempo=60\n{tune}\nLH: E2q {upper}")
    assert [c.name for c in sure_chords(alone)] == ["Edim"]


def test_a_note_that_is_left_open_names_no_chord_and_has_a_question_mark() -> None:
    mark = '"? A#2"#leverwright.open.1.As2'
    made = short_lesson(f"key=0 tempo=60\nRH: D5h F5h\nLH: {mark} A#2w")
    assert made.chords == ()
    sung = short_lesson('key=0 tempo=60 | C5h "? A#4"#leverwright.open.1.As4 A#4h')
    assert melody_score(sung.melody, (0,)).count('<words font-weight="bold">?</words>') == 1
    (key,) = [s for s in sections(sung) if s.name == "key"]
    assert "A question mark stands over a note that is left open." in key.lines


def test_long_chord_names_make_a_line_of_fewer_measures() -> None:
    tune = " | ".join(["C5q E5q G5q E5q"] * 8)

    def first_line(left: str) -> int:
        both = f"key=1 tempo=60\nRH: {tune}\nLH: {' | '.join([left] * 8)}"
        return melody_picture(short_lesson(both).melody, "short.musicxml").systems[0].last + 1

    assert first_line("C3+E3+G3w") == 8
    assert first_line("D3+F#3+A3q F#3+A3+C#4q G3+B3+D4h") < 8


def test_a_root_is_spelled_as_the_key_says_though_another_string_plays_it() -> None:
    piece = piece_in_short("key=-4 tempo=60\nRH: F4+G#4+C#5w\nLH: C#3w")
    assert [c.name for c in sure_chords(piece)] == ["D\N{MUSIC FLAT SIGN}"]
