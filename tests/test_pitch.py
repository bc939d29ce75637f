"""Pitches and intervals, against music21's own."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import interval as m21_interval
from music21 import pitch as m21_pitch

from arrange.errors import BadInput
from arrange.pitch import Interval, Pitch, interval_between

pitches = st.builds(Pitch, st.sampled_from("CDEFGAB"), st.integers(-2, 2), st.integers(1, 7))
NAMES = ["P1", "m2", "M2", "A2", "m3", "M3", "P4", "A4", "d5", "P5", "m6", "M6", "m7", "M7",
         "P8", "M9", "-m2", "-M2", "-m3", "-P4", "-A4", "-d5", "-P8", "A1", "-A1"]  # fmt: skip


def theirs(pitch: Pitch) -> m21_pitch.Pitch:
    return m21_pitch.Pitch(str(pitch).replace("b", "-"))


@given(pitches)
def test_a_pitch_reads_back_and_sounds_as_music21_says(pitch: Pitch) -> None:
    assert Pitch.parse(str(pitch)) == pitch
    assert pitch.midi == theirs(pitch).ps


@given(pitches, st.sampled_from(NAMES))
def test_an_interval_moves_a_pitch_as_music21_does(pitch: Pitch, name: str) -> None:
    moved = Interval.parse(name).move(pitch)
    expected = m21_interval.Interval(name).transposePitch(theirs(pitch), maxAccidental=None)
    assert (moved.midi, moved.step) == (expected.ps, expected.step)


@pytest.mark.parametrize("name", NAMES)
def test_an_interval_reads_back(name: str) -> None:
    assert str(Interval.parse(name)) == name


@given(pitches, pitches)
def test_the_interval_between_two_pitches_moves_one_to_the_other(one: Pitch, two: Pitch) -> None:
    assert interval_between(one, two).move(one) == two


@pytest.mark.parametrize("text", ["", "H4", "C", "C4#", "C#######4"])
def test_what_is_no_pitch_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match="no pitch"):
        Pitch.parse(text)


@pytest.mark.parametrize("text", ["", "3", "P3", "M5", "m", "x2", "m0"])
def test_what_is_no_interval_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match="no interval"):
        Interval.parse(text)
