"""Hard places and ways to practise them; techniques; glissandi; what cannot be had."""

import re

import pytest
from lessons import HARP, book, converted, lesson_of, short_lesson
from notation import read

from arrange.changes import Outcome
from arrange.check import from_page
from arrange.harp.wording import OCTAVE_WORDS
from arrange.pitch import Pitch
from arrange.registry import installed
from arrange.rulebook import load_rulebook
from arrange.score.model import Sign
from arrange.teach import lesson
from arrange.teach.hard import HardPlace
from arrange.teach.placed import OPENING
from arrange.teach.practice import HOW
from arrange.teach.sections import sections
from arrange.teach.words import spoken

PIECES = ("nocturne-d-flat", "minuet-da-capo", "air-variations-c-flat", "barcarolle-glissandi")
NAMED = re.compile(r"\((\d(?: \d)+)\)")


def rank(place: HardPlace) -> int:
    return -place.level


@pytest.mark.parametrize("name", PIECES)
def test_hard_places_are_ranked_apart_and_have_two_ways_each(name: str) -> None:
    found = lesson_of(name).hard
    assert [rank(p) for p in found] == sorted(rank(p) for p in found)
    measures = [index for place in found for index in place.indices]
    assert len(measures) == len(set(measures))
    for place in found:
        assert len({way.how for way in place.ways}) == 2
        assert {way.how for way in place.ways} <= set(HOW)


@pytest.mark.parametrize("name", PIECES)
def test_blocks_and_placings_are_those_of_the_fingering(name: str) -> None:
    made = lesson_of(name)
    rows = {
        finger
        for hand in made.piece.fingering
        for placing in hand.placings
        for finger in [
            tuple(f for _, f in sorted({(n.pitch.line, f) for one in placing.row for n, f in one}))
        ]
    } | {one.fingers for hand in made.piece.fingering for p in hand.placings for one in p.row}
    said = [m[1] for p in made.hard for way in p.ways for m in [NAMED.search(way.text)] if m]
    assert said
    for text in said:
        fingers = tuple(int(f) for f in text.split())
        assert any(_is_within(fingers, row) for row in rows)


def _is_within(fingers: tuple[int, ...], row: tuple[int, ...]) -> bool:
    return any(row[i : i + len(fingers)] == fingers for i in range(len(row)))


def test_the_order_is_the_same_every_time() -> None:
    made = converted("nocturne-d-flat")
    again = lesson(made.score, HARP, book().player, made.instructions, made.log)
    assert again.hard == lesson_of("nocturne-d-flat").hard


def test_the_hardest_place_is_where_the_notes_are() -> None:
    calm = " | ".join(["C5h E5h"] * 8)
    fast = "C5s D5s E5s F5s G5s F5s E5s D5s C5s D5s E5s F5s G5s F5s E5s D5s"
    found = short_lesson(f"key=0 tempo=90 | {calm} | {fast} | {calm}").hard
    assert found[0].indices == (8,)
    assert "strokes a second in one hand" in found[0].why


def test_a_note_that_is_left_open_is_not_practised() -> None:
    calm = " | ".join(["C5h E5h"] * 8)
    mark = '"? A♯4"#leverwright.open.1.As4'
    fast = f"{mark} A#4s C5s E5s G5s {mark.replace('.1.', '.2.')} A#4s C5s E5s G5s C5h"
    made = short_lesson(f"key=0 tempo=90 | {calm} | {fast} | {calm}")
    (place,) = [p for p in made.hard if p.indices == (8,)]
    assert place.ways
    assert not any("A♯" in way.text for p in made.hard for way in p.ways)


def test_a_hand_opens_to_a_string_that_lies_apart_not_to_the_next_one() -> None:
    for name in PIECES:
        for way in (way for place in lesson_of(name).hard for way in place.ways):
            opening = re.search(r" on (.+) while the hand opens to (.+)$", way.text)
            if opening:
                ends = [line_of(text) for text in (opening[1], *opening[2].split(", ")[:1])]
                assert abs(ends[0] - ends[1]) >= OPENING or ", " in opening[2]


def line_of(text: str) -> int:
    """The string of ``middle C♯``."""
    octave, _, name = text.rpartition(" ")
    octaves = {word: number for number, word in OCTAVE_WORDS.items()}
    return Pitch(name[0], 0, octaves[octave]).line


def test_the_pace_of_both_hands_is_told_only_where_it_is_more_than_that_of_one() -> None:
    for place in (p for name in PIECES for p in lesson_of(name).hard):
        one = re.search(r"(\d+) strokes a second in one hand", place.why)
        both = re.search(r"(\d+) strokes a second of both hands", place.why)
        if one and both:
            assert int(both[1]) > int(one[1])


def test_a_level_that_comes_from_the_key_signature_alone_says_so() -> None:
    calm = " | ".join(["Db5h Eb5h"] * 8)
    made = short_lesson(f"key=-5 tempo=100 | {calm} | Db5e Eb5e F5e Db5e F5h")
    (hard,) = [section for section in sections(made) if section.name == "hard"]
    assert hard.lines[0].endswith("level “advanced” for its key signature.")


def test_a_place_that_comes_again_is_named_once() -> None:
    fast = "C5s D5s E5s F5s G5s F5s E5s D5s C5s D5s E5s F5s G5s F5s E5s D5s"
    found = short_lesson(f"key=0 tempo=90 | {fast} | C5w | {fast} | C5w").hard
    assert [place.where for place in found] == ["m. 1"]
    assert found[0].again == "m. 3"


def test_techniques_stand_where_their_signs_do() -> None:
    made = lesson_of("air-variations-c-flat")
    known = {technique.name: technique for technique in made.techniques}
    notes = made.piece.score.notes_by_id.values()
    assert set(known["Harmonics"].indices) == {n.id.index for n in notes if n.has(Sign.HARMONIC)}
    assert set(known["Lever moves"].indices) == {m.index for m in made.piece.told.moves}
    assert known["Glissandi"].where == "m. 63"
    assert "Near the soundboard" not in known
    assert {t.name for t in lesson_of("minuet-da-capo").techniques} == {
        "Crossing under and over",
        "Repeated notes",
    }


def test_the_glissando_options_are_those_of_the_log() -> None:
    made = lesson_of("barcarolle-glissandi")
    weighed = {
        (e.change.where.index, spoken(option.text))
        for e in converted("barcarolle-glissandi").log.entries
        if e.change.rule == "resolve-glissandi" and e.outcome is Outcome.APPLIED
        for option in e.change.options
        if not option.taken and option.cost is not None
    }
    assert weighed
    assert {(g.index, option) for g in made.glissandi for option in g.options} == weighed


def test_a_score_that_is_not_ours_says_so_and_what_cannot_be_had() -> None:
    made = short_lesson("key=0 tempo=60\nRH: C5h C#5h | D5w\nLH: C3w | A1w")
    assert not made.is_ours
    (opened,) = [s for s in sections(made) if s.name == "open"]
    assert "levers are taken as set once" in opened.lines[0]
    said = {item.text: item.lead for item in opened.items}
    assert said["No string of this harp gives A1."] == "m. 2"
    assert not [s for s in sections(lesson_of("minuet-da-capo")) if s.name == "open"]


def test_a_bare_stretch_gets_strings_that_the_levers_give() -> None:
    bare = "RH: C5q E5q G5q E5q | C5q E5q G5q E5q | G4q B4q D5q B4q | C5q E5q G5q E5q"
    left = "LH: rw | rw | rw | rw"
    (idea,) = short_lesson(f"key=0 tempo=60\n{bare}\n{left}").bare
    assert idea.where == "m. 1\N{EN DASH}4"
    assert "very low C, G, low C (4 2 1)" in idea.text


def test_a_small_hand_gets_a_fifth_within_its_compass_to_fill_out() -> None:
    bare = "RH: C5q E5q G5q E5q | C5q E5q G5q E5q | G4q B4q D5q B4q | C5q E5q G5q E5q"
    score = read(f"key=0 tempo=60\n{bare}\nLH: rw | rw | rw | rw").score()
    pupil = load_rulebook("beginner", installed()).player
    (idea,) = lesson(score, HARP, pupil, from_page(score, HARP)).bare
    assert "low C, G (3 1)" in idea.text
    assert "very low" not in idea.text
