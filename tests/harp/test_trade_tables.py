"""The tables that players know, against the harps that ship.

Sources: the key table's E-flat column agrees with published composers' guides and teachers'
charts; all else was computed from the rule "a lever raises its string by one semitone".
"""

from itertools import combinations

import pytest

from arrange.harp.files import load_harp
from arrange.harp.harp import Harp, Position
from arrange.harp.tunings import TUNINGS
from arrange.pitch import LETTERS, Pitch
from arrange.study.keysignature import MAJOR, alteration, wanted_positions

TUNING_NAMES = ("E-flat", "C", "F", "B-flat", "A-flat")
FLATS = {  # letters that no string gives, flat signatures
    -7: ("Cb Db Fb Gb", "all", "Cb Db Eb Fb Gb Ab", "Cb Db Fb Gb Ab", "Cb Fb Gb"),
    -6: ("Cb Db Gb", "Cb Db Eb Gb Ab Bb", "Cb Db Eb Gb Ab", "Cb Db Gb Ab", "Cb Gb"),
    -5: ("Db Gb", "Db Eb Gb Ab Bb", "Db Eb Gb Ab", "Db Gb Ab", "Gb"),
    -4: ("Db", "Db Eb Ab Bb", "Db Eb Ab", "Db Ab", None),
    -3: (None, "Eb Ab Bb", "Eb Ab", "Ab", None),
    -2: (None, "Eb Bb", "Eb", None, None),
    -1: (None, "Bb", None, None, None),
    0: (None, None, None, None, None),
    4: (None, None, None, None, "D#"),
    5: ("A#", None, None, None, "D# A#"),
    6: ("E# A#", None, None, "E#", "D# E# A#"),
    7: ("E# A# B#", None, "B#", "E# B#", "D# E# A# B#"),
}
RAISED = {
    -4: (None, None, None, None, ""),
    -3: ("", None, None, None, "D"),
    -2: ("A", None, None, "", "DA"),
    -1: ("EA", None, "", "E", "DEA"),
    0: ("EAB", "", "B", "EB", "DEAB"),
    1: ("EABF", "F", "BF", "EBF", "DEABF"),
    2: ("EABFC", "FC", "BFC", "EBFC", "DEABFC"),
    3: ("EABFCG", "FCG", "BFCG", "EBFCG", "DEABFCG"),
    4: ("EABFCGD", "FCGD", "BFCGD", "EBFCGD", None),
    5: (None, "FCGDA", "BFCGDA", "EBFCGDA", None),
    6: (None, "FCGDAE", "BFCGDAE", None, None),
    7: (None, "FCGDAEB", None, None, None),
}
TWO_HOMES = {
    "E-flat": {3, 8},
    "C": {0, 5},
    "F": {5, 10},
    "B-flat": {3, 10},
    "A-flat": {1, 8},
}
ONE_STRING_PAIRS = {  # pitch classes a semitone apart that live on one string only
    "E-flat": {(0, 1), (5, 6), (10, 11)},
    "C": {(2, 3), (7, 8), (9, 10)},
    "F": {(0, 1), (2, 3), (7, 8)},
    "B-flat": {(0, 1), (5, 6), (7, 8)},
    "A-flat": {(3, 4), (5, 6), (10, 11)},
}
MAJOR_SEVENTHS_THAT_FAIL = {
    "E-flat": {1, 6, 11},
    "C": {3, 8, 10},
    "F": {1, 3, 8},
    "B-flat": {1, 6, 8},
    "A-flat": {4, 6, 11},
}
FLIPS = {  # E-flat to C, C to G, C to D, E-flat to E (all), on the E-flat harp
    "lever-22": (9, 3, 7, 22),
    "lever-26": (11, 4, 8, 26),
    "lever-29": (12, 4, 9, 29),
    "lever-34": (14, 5, 10, 34),
    "lever-36": (15, 5, 11, 36),
    "lever-38": (17, 5, 11, 38),
}


def harp_in(tuning: str) -> Harp:
    return load_harp(f"lever-34-{tuning}").harp


def homes_of_class(harp: Harp, pitch_class: int) -> set[tuple[str, Position]]:
    return {
        (string.letter, position)
        for string in harp.strings
        for position in Position
        if (pitch := string.pitch(position)) is not None and pitch.pitch_class == pitch_class
    }


@pytest.mark.parametrize("column", range(5), ids=TUNING_NAMES)
@pytest.mark.parametrize("fifths", sorted(FLATS))
def test_the_letters_that_a_key_lacks_are_those_of_the_table(fifths: int, column: int) -> None:
    harp = harp_in(TUNING_NAMES[column])
    wanted = wanted_positions(harp, fifths)
    lacking = {
        Pitch(s.letter, alteration(s.letter, fifths), 4).name
        for s, position in zip(harp.strings, wanted, strict=True)
        if position is None
    }
    expected = FLATS[fifths][column]
    if expected == "all":
        assert len(lacking) == 7
    else:
        assert lacking == set((expected or "").split())


@pytest.mark.parametrize("column", range(5), ids=TUNING_NAMES)
@pytest.mark.parametrize("fifths", sorted(RAISED))
def test_the_letters_raised_for_a_key_are_those_of_the_table(fifths: int, column: int) -> None:
    expected = RAISED[fifths][column]
    harp = harp_in(TUNING_NAMES[column])
    wanted = wanted_positions(harp, fifths)
    if expected is None:
        assert None in wanted
    else:
        raised = {
            s.letter
            for s, position in zip(harp.strings, wanted, strict=True)
            if position is Position.UP
        }
        assert raised == set(expected)


@pytest.mark.parametrize("tuning", TUNING_NAMES)
def test_eight_keys_in_a_row_can_be_had_each_with_one_letter_more(tuning: str) -> None:
    harp = harp_in(tuning)
    reached = [f for f in range(-7, 8) if None not in wanted_positions(harp, f)]
    assert len(reached) == 8
    assert reached == list(range(reached[0], reached[0] + 8))
    for count, fifths in enumerate(reached):
        wanted = wanted_positions(harp, fifths)
        letters = {s.letter for s, p in zip(harp.strings, wanted, strict=True) if p is Position.UP}
        assert len(letters) == count, MAJOR[fifths + 7]


@pytest.mark.parametrize("tuning", TUNING_NAMES)
def test_every_pitch_class_has_a_home_and_just_two_have_two(tuning: str) -> None:
    harp = harp_in(tuning)
    counts = {pc: len(homes_of_class(harp, pc)) for pc in range(12)}
    assert set(counts.values()) == {1, 2}
    assert {pc for pc, count in counts.items() if count == 2} == TWO_HOMES[tuning]


@pytest.mark.parametrize("tuning", TUNING_NAMES)
def test_three_semitone_pairs_live_on_one_string_in_each_octave(tuning: str) -> None:
    harp = harp_in(tuning)
    found = set()
    for low in range(60, 72):
        if not _can_sound_together(harp, (low, low + 1)):
            found.add((low % 12, (low + 1) % 12))
    assert found == ONE_STRING_PAIRS[tuning]


@pytest.mark.parametrize("tuning", TUNING_NAMES)
def test_common_chords_have_a_letter_a_note_but_three_major_sevenths(tuning: str) -> None:
    harp = harp_in(tuning)
    shapes = (
        (0, 4, 7), (0, 3, 7), (0, 3, 6), (0, 4, 8),
        (0, 4, 7, 10), (0, 3, 7, 10), (0, 3, 6, 10), (0, 3, 6, 9),
    )  # fmt: skip
    for root in range(48, 60):
        for shape in shapes:
            assert _can_sound_together(harp, tuple(root + step for step in shape))
    failing = {
        root % 12
        for root in range(48, 60)
        if not _can_sound_together(harp, (root, root + 4, root + 7, root + 11))
    }
    assert failing == MAJOR_SEVENTHS_THAT_FAIL[tuning]


def _can_sound_together(harp: Harp, midis: tuple[int, ...]) -> bool:
    """Whether one choice of homes gives every note a letter of its own."""
    taken: list[set[int]] = [set()]
    for midi in midis:
        taken = [
            used | {home.string % 7}
            for used in taken
            for home in harp.homes(midi)
            if home.string % 7 not in used
        ]
    return bool(taken)


@pytest.mark.parametrize("name", sorted(FLIPS))
def test_the_levers_to_flip_for_a_new_key_are_those_of_the_table(name: str) -> None:
    harp = load_harp(name).harp
    assert len(harp.strings) == int(name.removeprefix("lever-"))

    def flips(one: int, other: int) -> int:
        pairs = zip(wanted_positions(harp, one), wanted_positions(harp, other), strict=True)
        return sum(1 for a, b in pairs if a is not b)

    assert (flips(-3, 0), flips(0, 1), flips(0, 2), flips(-3, 4)) == FLIPS[name]


def test_no_key_is_more_than_a_semitone_from_one_that_can_be_had() -> None:
    for tuning in TUNINGS:
        harp = harp_in(tuning)
        roots = {(7 * f) % 12 for f in range(-7, 8) if None not in wanted_positions(harp, f)}
        for root in range(12):
            assert {root, (root + 1) % 12, (root - 1) % 12} & roots


@pytest.mark.parametrize(
    ("tuning", "minor", "tonics"),
    [
        ("E-flat", (0, 2, 3, 5, 7, 8, 10), "c d e g a b f# c#"),
        ("E-flat", (0, 2, 3, 5, 7, 8, 11), "c d e g a"),
        ("E-flat", (0, 2, 3, 5, 7, 9, 11), "c d e f g a"),
        ("C", (0, 2, 3, 5, 7, 8, 11), "a e b f# c#"),
        ("A-flat", (0, 2, 3, 5, 7, 8, 10), "f c g d a e b f#"),
    ],
)
def test_minor_scales_without_a_move(tuning: str, minor: tuple[int, ...], tonics: str) -> None:
    harp = harp_in(tuning)
    found = set()
    for root in range(12):
        classes = {(root + step) % 12 for step in minor}
        homes = [homes_of_class(harp, pc) for pc in classes]
        if _one_position_a_letter(homes):
            found.add(root)
    named = {Pitch.parse(f"{name[0].upper()}{name[1:]}4").pitch_class for name in tonics.split()}
    assert found == named


def _one_position_a_letter(homes: list[set[tuple[str, Position]]]) -> bool:
    """Whether seven pitch classes can be had with one letter each."""
    chosen: list[set[str]] = [set()]
    for options in homes:
        chosen = [
            used | {letter} for used in chosen for letter, _ in options if letter not in used
        ]
    return bool(chosen)


def test_strings_are_named_by_their_letter() -> None:
    """Off by one here is the classic error: B#3 sounds as C4 but is string B3."""
    harp = harp_in("C")
    home = harp.home_as_spelled(Pitch.parse("B#3"))
    assert home is not None
    assert harp.strings[home.string].name == "B3"
    assert Pitch.parse("B#3").midi == 60
    assert harp.home_as_spelled(Pitch.parse("Cb4")) is None
    assert harp_in("E-flat").home_as_spelled(Pitch.parse("E#4")) is None


def test_letters_of_a_harp_run_without_gaps() -> None:
    for name in FLIPS:
        strings = load_harp(name).harp.strings
        for low, high in combinations(strings, 2):
            assert high.line > low.line
        assert {s.letter for s in strings} == set(LETTERS)
