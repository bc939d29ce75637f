"""The melody as notation: its onsets are those of the roles, its measures are full."""

import pytest
from lessons import lesson_of, piece_in_short, short_lesson

from arrange.score.model import EventId
from arrange.study.roles import Role, roles
from arrange.teach.chords import sure_chords
from arrange.teach.lesson import Lesson
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


def test_a_root_is_spelled_as_the_key_says_though_another_string_plays_it() -> None:
    piece = piece_in_short("key=-4 tempo=60\nRH: F4+G#4+C#5w\nLH: C#3w")
    assert [c.name for c in sure_chords(piece)] == ["D\N{MUSIC FLAT SIGN}"]
