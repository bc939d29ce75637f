"""What the page says can be read back."""

from hypothesis import given
from hypothesis import strategies as st

from arrange.harp.files import harp_names, load_harp
from arrange.harp.harp import Position
from arrange.harp.wording import (
    LEGEND,
    harp_octave,
    key_in_words,
    legend,
    note_in_signs,
    note_in_words,
    read_note,
    read_setting,
    setting_in_words,
    state_in_words,
)
from arrange.pitch import Pitch
from arrange.study.keysignature import key_name, wanted_positions


def test_octaves_are_named_by_five_words() -> None:
    words = [note_in_words(Pitch("C", 1, octave)) for octave in range(2, 7)]
    assert words == [
        "very low C sharp", "low C sharp", "middle C sharp", "high C sharp", "very high C sharp",
    ]  # fmt: skip
    assert note_in_words(Pitch("A", -1, 1)) == "6th-octave A flat"


def test_harp_octaves_are_those_of_the_string_trade() -> None:
    """Published string charts: 6C is C2, 5F is F2, 2F is F5, 1E is E7, middle C is 4C."""
    cases = {("C", 2): 6, ("F", 2): 5, ("F", 5): 2, ("E", 7): 1, ("C", 4): 4, ("B", 3): 4}
    assert {key: harp_octave(*key) for key in cases} == cases


def test_every_string_of_every_harp_can_be_said_and_read_back() -> None:
    for name in harp_names():
        for string in load_harp(name).harp.strings:
            for position in Position:
                pitch = string.pitch(position)
                assert pitch is not None
                assert read_note(note_in_words(pitch)) == pitch
                assert read_note(note_in_signs(pitch)) == pitch


@given(
    name=st.sampled_from(["lever-22", "lever-34", "lever-38-C", "lever-40-F"]),
    fifths=st.integers(-7, 7),
    mode=st.sampled_from(["major", "minor", ""]),
    raised=st.integers(0, 2**40),
)
def test_any_setting_can_be_read_back(name: str, fifths: int, mode: str, raised: int) -> None:
    harp = load_harp(name).harp
    initial = {
        string.name: Position.UP if raised >> i & 1 else Position.DOWN
        for i, string in enumerate(harp.strings)
    }
    text = setting_in_words(harp, key_name(fifths, mode), wanted_positions(harp, fifths), initial)
    assert read_setting(text, harp) == initial


def _standing(*up: str) -> dict[str, Position]:
    harp = load_harp("lever-34").harp
    return {s.name: Position.UP if s.name in up else Position.DOWN for s in harp.strings}


def test_exceptions_are_grouped_by_the_note_that_they_share() -> None:
    """The harp has the C strings C2 to C6 and the B strings B2 to B5."""
    harp = load_harp("lever-34").harp
    said = {
        ("C2", "C3", "C4", "C5", "C6"): "every C sharp",
        ("C2", "C3", "C5", "C6"): "every C sharp except middle",
        ("C3", "C4", "C5"): "low, middle and high C sharp",
        ("C3", "B4"): "low C sharp; middle B natural",
    }
    for up, words in said.items():
        assert state_in_words(harp, _standing(), _standing(*up)) == f"as at the start but {words}"
    assert state_in_words(harp, _standing("C4"), _standing("C4")) == "as at the start"


def test_a_note_named_for_all_octaves_may_hold_some_that_stood_so_before() -> None:
    harp = load_harp("lever-34").harp
    every = _standing("C2", "C3", "C4", "C5", "C6")
    assert (
        state_in_words(harp, _standing("C2", "C3"), every) == "as at the start but every C sharp"
    )


def test_keys_are_said_in_words() -> None:
    said = {"Ab major": "A flat major", "d minor": "D minor", "f# minor": "F sharp minor",
            "8 sharps": "8 sharps"}  # fmt: skip
    assert {name: key_in_words(name) for name in said} == said


def test_the_legend_explains_the_octave_words_that_are_used() -> None:
    assert legend("high F♯; low B♭", has_cues=True) == LEGEND
    assert legend("very low A♭; high F♯", has_cues=True).split("\n") == [
        "Cues: the new note; L.H. unless R.H.",
        "Octaves: very low from C2, low C3, middle C4, high C5.",
    ]
    assert legend("Also set: very high G sharp.", has_cues=False) == (
        "Octaves: low from C3, middle C4, high C5, very high C6."
    )
    assert legend("Set levers for C major (E, A, B up).", has_cues=False) == ""
