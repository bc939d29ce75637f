"""Difficulty only ever falls when the music gets easier; and what asks for it is said."""

from dataclasses import replace

import notation as short
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from arrange.registry import installed
from arrange.rulebook import load_rulebook
from arrange.score.model import HandName
from arrange.study.difficulty import (
    NOTES,
    PACE,
    SPAN,
    Difficulty,
    Level,
    MoveAsked,
    Stroke,
    difficulty,
    judged,
)
from arrange.units import SECOND, Quarters

MEASURES = 3


@st.composite
def played(draw: st.DrawFn) -> tuple[list[Stroke], list[MoveAsked], list[int]]:
    """Strokes in three measures of four seconds, moves and key signatures."""
    strokes = [
        Stroke(
            place * SECOND // 12,
            place // 48,
            draw(st.sampled_from(HandName)),
            draw(st.integers(10, 48)),
            Quarters(place % 48, 12),
            draw(st.booleans()),
        )
        for place in draw(st.lists(st.integers(0, 48 * MEASURES - 1), max_size=14))
    ]
    moves = [
        MoveAsked(draw(st.integers(0, MEASURES - 1)), draw(st.integers(0, 3)) * SECOND // 2)
        for _ in range(draw(st.integers(0, 3)))
    ]
    return strokes, moves, draw(st.lists(st.integers(0, 7), min_size=3, max_size=3))


def _is_no_harder(one: Difficulty, other: Difficulty) -> bool:
    levels = zip(one.measures, other.measures, strict=True)
    return one.rank <= other.rank and all(a.level <= b.level for a, b in levels)


@settings(max_examples=150, deadline=None)
@given(played(), st.integers(0, 13))
def test_taking_a_note_out_never_makes_it_harder(
    music: tuple[list[Stroke], list[MoveAsked], list[int]], gone: int
) -> None:
    strokes, moves, signs = music
    fewer = strokes[:gone] + strokes[gone + 1 :]
    assert _is_no_harder(judged(fewer, moves, signs), judged(strokes, moves, signs))


@settings(max_examples=100, deadline=None)
@given(played(), st.integers(100, 300))
def test_playing_slower_never_makes_it_harder(
    music: tuple[list[Stroke], list[MoveAsked], list[int]], percent: int
) -> None:
    strokes, moves, signs = music
    slower = [replace(stroke, time=stroke.time * percent // 100) for stroke in strokes]
    eased = [replace(move, slack=move.slack * percent // 100) for move in moves]
    assert _is_no_harder(judged(slower, eased, signs), judged(strokes, moves, signs))


@settings(max_examples=100, deadline=None)
@given(played())
def test_sparing_a_move_or_giving_it_time_never_makes_it_harder(
    music: tuple[list[Stroke], list[MoveAsked], list[int]],
) -> None:
    strokes, moves, signs = music
    whole = judged(strokes, moves, signs)
    assert _is_no_harder(judged(strokes, moves[1:], signs), whole)
    eased = [replace(move, slack=move.slack + SECOND) for move in moves]
    assert _is_no_harder(judged(strokes, eased, signs), whole)


def _level(text: str, *moves: MoveAsked) -> Difficulty:
    score = short.read(text).score()
    return difficulty(score, score.harps[0], moves)


@pytest.mark.parametrize(
    ("text", "level"),
    [
        ("key=0 tempo=60\nRH: C4q D4q E4q F4q\nLH: C3w", Level.BEGINNER),
        ("key=-2 tempo=60\nRH: C4e D4e Eb4e F4e G4e F4e Eb4e D4e\nLH: C3w", Level.LATE_BEGINNER),
        ("key=0 tempo=60\nRH: C4+E4+G4+C5w\nLH: C3w", Level.INTERMEDIATE),
        ("key=4 tempo=60\nRH: C#4w\nLH: C#3w", Level.ADVANCED),
        ("key=0 tempo=60\nRH: C4+E4+G4+C5+E5w\nLH: C3w", Level.BEYOND),
    ],
)
def test_levels_follow_what_is_asked(text: str, level: Level) -> None:
    assert _level(text).level is level


def test_reasons_name_the_hardest_first_and_where() -> None:
    text = "key=0 tempo=120\nRH: C4h E4h | C4s D4s E4s F4s G4s A4s B4s C5s rh\nLH: C3w | C3w"
    found = _level(text, MoveAsked(0, SECOND // 4))
    quick, slow = found.measures[1], found.measures[0]
    assert quick.reasons[0].text == "8 strokes a second in one hand"
    assert quick.level is Level.ADVANCED
    assert [reason.text for reason in slow.reasons] == [
        "a lever move with less than 0.5 s to spare",
        "lever moves in the measure: 1",
    ]


def test_one_hard_measure_in_a_long_piece_does_not_make_it_hard() -> None:
    hard, easy = "C4+E4+G4+C5w", "C4w"
    short_piece = _level("key=0 tempo=60 | " + " | ".join([hard, *[easy] * 15]))
    long_piece = _level("key=0 tempo=60 | " + " | ".join([hard, *[easy] * 16]))
    assert (short_piece.level, long_piece.level) == (Level.INTERMEDIATE, Level.BEGINNER)
    assert long_piece.measures[0].level is Level.INTERMEDIATE


@pytest.mark.parametrize("level", [level for level in Level if level is not Level.BEYOND])
def test_the_levels_are_those_of_the_rule_books(level: Level) -> None:
    player = load_rulebook(level.word, installed()).player
    grip = player.grip
    assert NOTES.limits[level] == grip.notes
    assert SPAN.limits[level] == grip.rolled_strings
    assert PACE.limits[level] == player.notes_a_second
