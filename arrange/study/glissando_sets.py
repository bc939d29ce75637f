"""Which strings of an octave can be made to sound inside a set of tones."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

from arrange.harp.harp import HarpString
from arrange.pitch import LETTERS, SEMITONES

Alters = tuple[tuple[str, tuple[int, ...]], ...]
"""For each letter the alterations that its strings can have, the open one first."""
Setting = tuple[tuple[str, int], ...]
"""Letter to alteration."""

PEDALS: Alters = tuple((letter, (-1, 0, 1)) for letter in LETTERS)
"""A pedal harp: every letter flat, natural and sharp."""


@dataclass(frozen=True, slots=True)
class SetFit:
    """How near strings come to a set of tones.

    Attributes:
        right: letters whose strings can sound inside the set; *wrong*: the other letters.
        setting: of all seven letters; a wrong letter stands as it was wished, else
            where it clashes least.
    """

    right: int
    wrong: tuple[str, ...]
    setting: Setting


def pitch_class(letter: str, alter: int) -> int:
    """0 for C to 11 for B."""
    return (SEMITONES[LETTERS.index(letter)] + alter) % 12


def pitch_classes(setting: Setting) -> frozenset[int]:
    """What a setting sounds."""
    return frozenset(pitch_class(letter, alter) for letter, alter in setting)


def settings(letters: Alters) -> tuple[Setting, ...]:
    """Every setting there is: 2,187 for pedals, 128 for levers."""
    names = [letter for letter, _ in letters]
    return tuple(
        tuple(zip(names, row, strict=True)) for row in product(*(alters for _, alters in letters))
    )


@lru_cache(maxsize=4096)
def pure_settings(target: frozenset[int], letters: Alters) -> tuple[Setting, ...]:
    """The settings that sound every tone of *target* and no other."""
    inside = tuple(
        (name, tuple(a for a in alters if pitch_class(name, a) in target))
        for name, alters in letters
    )
    return tuple(s for s in settings(inside) if pitch_classes(s) == target)


@lru_cache(maxsize=4096)
def nearest_setting(target: frozenset[int], letters: Alters, wished: Setting = ()) -> SetFit:
    """Return how to set the strings so that the most letters sound inside *target*.

    Of the settings that do, the one that sounds the most tones of the set is taken, then the
    one that agrees with *wished* for the most letters, then the one with the fewest levers up.

    Args:
        target: pitch classes, 0 for C.
        letters: what each letter's strings can be.
        wished: letter to alteration where there is a preference.
    """
    asked: Mapping[str, int] = dict(wished)
    inside: list[tuple[str, tuple[int, ...]]] = []
    wrong: list[str] = []
    for letter, alters in letters:
        right = tuple(a for a in alters if pitch_class(letter, a) in target)
        if right:
            inside.append((letter, right))
        else:
            wrong.append(letter)
            mildest = min(alters, key=lambda alter: _clashes(letter, alter, target))
            inside.append((letter, (asked[letter] if asked.get(letter) in alters else mildest,)))
    opened = {letter: alters[0] for letter, alters in letters}

    def merit(setting: Setting) -> tuple[int, int, int]:
        covered = len(pitch_classes(setting) & target)
        agreed = sum(asked.get(letter) == alter for letter, alter in setting)
        return covered, agreed, -sum(opened[letter] != alter for letter, alter in setting)

    best = max(settings(tuple(inside)), key=merit)
    return SetFit(len(letters) - len(wrong), tuple(wrong), best)


def _clashes(letter: str, alter: int, target: frozenset[int]) -> int:
    """How many tones of the set lie a semitone away."""
    own = pitch_class(letter, alter)
    return sum((own + step) % 12 in target for step in (-1, 1))


def harp_letters(strings: Iterable[HarpString]) -> Alters:
    """What each letter can be on all of these strings alike, the open position first."""
    found: dict[str, tuple[int, ...]] = {}
    for string in strings:
        own = tuple(p.alter for p in (string.open, string.raised) if p is not None)
        found[string.letter] = tuple(a for a in found.get(string.letter, own) if a in own)
    return tuple((letter, found[letter]) for letter in LETTERS if letter in found)
