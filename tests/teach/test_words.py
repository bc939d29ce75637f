"""How measures, beats and strings are called."""

from collections.abc import Sequence
from dataclasses import replace

import pytest
from lessons import piece_in_short

from arrange.pitch import Pitch
from arrange.score.model import Measure
from arrange.teach.words import beat_in, span_text, spoken, strings_text
from arrange.units import Quarters

DASH = "\N{EN DASH}"


def cut_in_two() -> list[Measure]:
    """An upbeat, two measures and one that a repeat cuts before its last beat, two more."""
    full = ("0", 1), ("1", 3), ("2", 3), ("3", 2), ("X1", 1), ("4", 3), ("5", 3)
    return of_lengths(full)


def of_lengths(row: Sequence[tuple[str, int]]) -> list[Measure]:
    """Measures of three quarters with these numbers, which are so long."""
    text = "key=0 time=3/4 tempo=60 | " + " | ".join(["C5h."] * len(row))
    return [
        replace(measure, number=number, length=Quarters(length))
        for measure, (number, length) in zip(piece_in_short(text).measures, row, strict=True)
    ]


@pytest.mark.parametrize(
    ("indices", "said"),
    [
        (range(4), f"m. 1{DASH}3 with upbeat"),
        (range(4, 7), "m. 4, 5 with upbeat"),
        ((0,), "m. 1 (upbeat)"),
        ((0, 5), "m. 1 (upbeat), 4"),
        (range(1, 4), f"m. 1{DASH}3"),
    ],
)
def test_an_upbeat_has_no_number_of_its_own(indices: range, said: str) -> None:
    assert span_text(cut_in_two(), indices) == said


def test_an_upbeat_is_counted_on_the_last_beat_of_a_measure() -> None:
    measures = cut_in_two()
    beats = [beat_in(measures, index, Quarters(0)) for index in range(7)]
    assert beats == ["3", "1", "1", "1", "3", "1", "1"]
    assert beat_in(measures, 3, Quarters(1)) == "2"


def test_a_short_measure_that_is_no_upbeat_begins_on_its_first_beat() -> None:
    measures = of_lengths((("1", 3), ("2", 1), ("3", 3)))
    assert beat_in(measures, 1, Quarters(0)) == "1"
    assert span_text(measures, (1,)) == "m. 2"


def test_a_long_row_of_places_is_cut() -> None:
    measures = piece_in_short("key=0 tempo=60 | " + " | ".join(["C5w"] * 12)).measures
    assert span_text(measures, range(0, 12, 2), 4) == "m. 1, 3, 5, 7 and 2 more"
    assert span_text(measures, range(0, 12, 2)) == "m. 1, 3, 5, 7, 9, 11"


def test_strings_are_said_in_one_way_all_over_the_page() -> None:
    text = "finger 4 notes in its time: D4 F\N{MUSIC SHARP SIGN}4 B4 C5, the C6 string foreign"
    assert spoken(text) == (
        "finger 4 notes in its time: middle D, F\N{MUSIC SHARP SIGN}, B, high C, "
        "the very high C string foreign"
    )
    assert spoken("set the levers for C D E F G A B") == "set the levers for C D E F G A B"
    assert strings_text([Pitch("D", 0, 4), Pitch("C", 0, 5)]) == "middle D, high C"
