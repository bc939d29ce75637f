"""Which sets of tones pedals and levers can sweep.

The tables are computed (the diminished sevenths and the written-out pedal settings are the
standard handbook examples, from memory); here the product's own code must give them.
"""

from collections import Counter

import pytest

from arrange.harp.files import load_harp
from arrange.pitch import LETTERS, Pitch
from arrange.study.glissando_sets import (
    PEDALS,
    Alters,
    Setting,
    harp_letters,
    nearest_setting,
    pitch_classes,
    pure_settings,
    settings,
)

CHORDS = {
    "major": (0, 4, 7),
    "minor": (0, 3, 7),
    "augmented": (0, 4, 8),
    "diminished": (0, 3, 6),
    "dom7": (0, 4, 7, 10),
    "min7": (0, 3, 7, 10),
    "half-dim": (0, 3, 6, 10),
    "dim7": (0, 3, 6, 9),
    "maj7": (0, 4, 7, 11),
    "7sus4": (0, 5, 7, 10),
    "dom9": (0, 2, 4, 7, 10),
    "7b9": (0, 1, 4, 7, 10),
    "pentatonic": (0, 2, 4, 7, 9),
    "whole-tone": (0, 2, 4, 6, 8, 10),
    "major scale": (0, 2, 4, 5, 7, 9, 11),
    "harmonic minor": (0, 2, 3, 5, 7, 8, 11),
    "melodic minor": (0, 2, 3, 5, 7, 9, 11),
}
NAMES = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
TUNINGS = ("E-flat", "C", "F", "B-flat", "A-flat")


def chord(name: str, root: str) -> frozenset[int]:
    start = Pitch.parse(f"{root}4").pitch_class
    return frozenset((start + step) % 12 for step in CHORDS[name])


def tones(names: str) -> frozenset[int]:
    return frozenset(Pitch.parse(f"{name}4").pitch_class for name in names.split())


def setting(names: str) -> Setting:
    """``D# C B# | Eb F# Gb A``, in pedal order, as a setting in letter order."""
    pitches = (Pitch.parse(name + "4") for name in names.replace("|", "").split())
    alters = {pitch.step: pitch.alter for pitch in pitches}
    return tuple((letter, alters[letter]) for letter in LETTERS)


def levers(tuning: str) -> Alters:
    return harp_letters(load_harp(f"lever-34-{tuning}").harp.strings)


def raised(names: str, tuning: str = "E-flat") -> Setting:
    """``C_ D^ E_``: the letters of a tuning with levers down and up."""
    alters = dict(levers(tuning))
    return tuple((n[0], alters[n[0]][n[1] == "^"]) for n in names.split())


def test_pedals_have_2187_settings_that_give_977_sets() -> None:
    found = {pitch_classes(s) for s in settings(PEDALS)}
    assert len(settings(PEDALS)) == 2187
    assert Counter(map(len, found)) == {4: 25, 5: 178, 6: 415, 7: 359}


@pytest.mark.parametrize(
    ("target", "example", "count"),
    [
        ("C Eb Gb A", "D# C B# | Eb F# Gb A", 1),
        ("C# E G Bb", "Db C# Bb | E Fb G A#", 1),
        ("D F Ab B", "D Cb B | E# F G# Ab", 1),
        ("E G# B D", "D Cb B | E Fb G# Ab", 1),
        ("B D# F# A", "D# Cb B | Eb F# Gb A", 1),
        ("Db F Ab Cb", "Db Cb B | E# F G# Ab", 2),
        ("F# A# C# E", "Db C# Bb | E Fb Gb A#", 2),
        ("Ab C Eb Gb", "D# C B# | Eb F# Gb Ab", 2),
        ("A# C# E G#", "Db C# Bb | E Fb G# A#", 2),
        ("C Eb Gb Bb", "D# C Bb | Eb F# Gb A#", 2),
        ("D F Ab C", "D C B# | E# F G# Ab", 1),
        ("F Ab Cb Eb", "D# Cb B | Eb F G# Ab", 2),
        ("G Bb Db F", "Db C# Bb | E# F G A#", 1),
        ("C D E F# G# A#", "D C Bb | E F# G# A#", 5),
        ("Db Eb F G A B", "Db C# B | Eb F G A", 4),
        ("C D E G A", "D C B# | E Fb G A", 1),
        ("F G A C D", "D C B# | E# F G A", 1),
        ("Gb Ab Bb Db Eb", "Db C# Bb | Eb F# Gb Ab", 6),
        ("Ab Bb C Eb F", "D# C Bb | Eb F G# Ab", 6),
        ("G B D F A", "D Cb B | E# F G A", 1),
        ("C E G Bb D", "D C Bb | E Fb G A#", 2),
    ],
)
def test_pedals_sweep_a_set_in_so_many_ways(target: str, example: str, count: int) -> None:
    pure = pure_settings(tones(target), PEDALS)
    assert setting(example) in pure
    assert len(pure) == count


@pytest.mark.parametrize(
    ("name", "roots"),
    [
        *((name, "") for name in ("major", "minor", "augmented", "diminished", "7sus4")),
        ("dom7", "Db E F# Ab B"),
        ("min7", "Db Eb F Ab Bb"),
        ("half-dim", "C D F G Bb"),
        ("maj7", "Db E F# B"),
        *(
            (name, " ".join(NAMES))
            for name in (
                "dim7",
                "dom9",
                "7b9",
                "pentatonic",
                "whole-tone",
                "major scale",
                "harmonic minor",
                "melodic minor",
            )
        ),
    ],
)
def test_pedals_sweep_a_chord_purely_on_these_roots(name: str, roots: str) -> None:
    found = [root for root in NAMES if pure_settings(chord(name, root), PEDALS)]
    assert found == roots.split()


@pytest.mark.parametrize("tuning", TUNINGS)
def test_levers_have_128_settings_that_give_as_many_sets(tuning: str) -> None:
    found = {pitch_classes(s) for s in settings(levers(tuning))}
    assert len(settings(levers(tuning))) == 128
    assert Counter(map(len, found)) == {7: 72, 6: 48, 5: 8}


@pytest.mark.parametrize(
    ("target", "expected"),
    [
        (chord("pentatonic", "F#"), "C^ D^ E_ F^ G^ A_ B_"),
        (chord("pentatonic", "Db"), "C^ D^ E_ F_ G^ A_ B_"),
        (chord("pentatonic", "Ab"), "C_ D^ E_ F_ G^ A_ B_"),
        (chord("pentatonic", "B"), "C^ D^ E_ F^ G^ A_ B^"),
        (tones("C D E F# G# A#"), "C_ D_ E^ F^ G^ A_ B_"),
        (tones("C# D# F G A B"), "C^ D^ E_ F_ G_ A^ B^"),
        (chord("dom9", "Db"), "C^ D^ E_ F_ G^ A_ B^"),
        (chord("dom9", "Ab"), "C_ D^ E_ F^ G^ A_ B_"),
    ],
)
def test_levers_in_e_flat_sweep_a_set_with_one_setting(
    target: frozenset[int], expected: str
) -> None:
    assert pure_settings(target, levers("E-flat")) == (raised(expected),)
    assert nearest_setting(target, levers("E-flat")).setting == raised(expected)


@pytest.mark.parametrize(
    ("tuning", "pentatonics", "ninths"),
    [
        ("E-flat", "Db F# Ab B", "Db Ab"),
        ("C", "Eb F Ab Bb", "F Bb"),
        ("F", "Db Eb Ab Bb", "Eb Bb"),
        ("B-flat", "Db Eb F# Ab", "Eb Ab"),
        ("A-flat", "Db E F# B", "Db F#"),
    ],
)
def test_levers_sweep_pentatonics_and_ninths_purely_on_these_roots(
    tuning: str, pentatonics: str, ninths: str
) -> None:
    found = [
        [root for root in NAMES if pure_settings(chord(name, root), levers(tuning))]
        for name in ("pentatonic", "dom9")
    ]
    assert found == [pentatonics.split(), ninths.split()]


@pytest.mark.parametrize("tuning", TUNINGS)
@pytest.mark.parametrize(
    "name",
    ["dim7", "dom7", "major", "minor", "augmented", "diminished", "half-dim", "min7", "maj7"],
)
def test_levers_never_sweep_a_chord_of_three_or_four_notes(tuning: str, name: str) -> None:
    for root in NAMES:
        assert pure_settings(chord(name, root), levers(tuning)) == ()
        assert nearest_setting(chord(name, root), levers(tuning)).right < 7


@pytest.mark.parametrize(
    ("target", "wrong", "right"),
    [
        (chord("dim7", "C"), "G B", "C_ D^ E_ F^ A^"),
        (chord("dim7", "D"), "C E", "D_ F_ G^ A_ B^"),
        (chord("dim7", "Db"), "D F A", "C^ E^ G_ B_"),
        (chord("dom7", "Ab"), "B", "C_ D^ E_ F^ G^ A_"),
        (chord("dom7", "C"), "D F A", "C_ E^ G_ B_"),
        (chord("dom9", "C"), "F A", "C_ D_ E^ G_ B_"),
        (chord("dom7", "F"), "G B", "C_ D^ E_ F_ A^"),
        (chord("dom9", "F"), "B", "C_ D^ E_ F_ G_ A^"),
        (chord("dom9", "E"), "C", "D_ E^ F^ G^ A_ B^"),
        (chord("pentatonic", "Eb"), "A", "C_ D^ E_ F_ G_ B_"),
        (chord("pentatonic", "E"), "D", "C^ E^ F^ G^ A_ B^"),
        (chord("pentatonic", "C"), "F B", "C_ D_ E^ G_ A^"),
        (chord("pentatonic", "F"), "E B", "C_ D_ F_ G_ A^"),
    ],
)
def test_levers_in_e_flat_come_so_near(target: frozenset[int], wrong: str, right: str) -> None:
    fit = nearest_setting(target, levers("E-flat"), raised(right))
    assert fit.wrong == tuple(wrong.split())
    assert fit.right == 7 - len(fit.wrong)
    assert tuple(pair for pair in fit.setting if pair[0] not in fit.wrong) == raised(right)


def test_levers_in_c_and_f_come_within_a_letter_of_their_pentatonics() -> None:
    assert nearest_setting(chord("pentatonic", "C"), levers("C")).wrong == ("F",)
    in_c = nearest_setting(chord("pentatonic", "F"), levers("C"))
    assert in_c.setting == raised("C_ D_ E^ F_ G_ A_ B^", "C")
    assert nearest_setting(chord("pentatonic", "F"), levers("F")).wrong == ("B",)
    assert ("B", 1) in nearest_setting(chord("pentatonic", "C"), levers("C")).setting


def test_pedals_give_the_f_pentatonic_where_some_say_c() -> None:
    assert pitch_classes(setting("D C B# | E# F G A")) == chord("pentatonic", "F")
    assert pitch_classes(setting("D C B# | E Fb G A")) == chord("pentatonic", "C")


def test_a_wrong_letter_stands_as_it_is_wished_else_where_it_clashes_least() -> None:
    target = chord("dom7", "C")
    assert dict(nearest_setting(target, levers("E-flat")).setting)["D"] == 0
    wished = nearest_setting(target, levers("E-flat"), (("A", 0), ("D", 1)))
    assert dict(wished.setting)["A"] == 0
    assert dict(wished.setting)["D"] == 1
