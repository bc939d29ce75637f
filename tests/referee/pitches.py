"""Spelled pitches as text (``C#4``), with music21 doing the arithmetic."""

import re
from fractions import Fraction
from functools import cache

from music21 import interval as m21interval
from music21 import key as m21key
from music21 import pitch as m21pitch

SPELLED = re.compile(r"([A-G])(#*|b*)(-?\d+)")
LETTERS = "CDEFGAB"


def spelled(letter: str, alter: int, octave: int) -> str:
    """Write a pitch."""
    return f"{letter}{'#' * alter if alter >= 0 else 'b' * -alter}{octave}"


@cache
def parsed(text: str) -> tuple[str, int, int]:
    """Read letter, alteration and octave.

    Raises:
        ValueError: the text is no pitch.
    """
    match = SPELLED.fullmatch(text)
    if match is None:
        raise ValueError(f"{text!r} is no pitch")
    sign = match[2]
    return match[1], len(sign) if "#" in sign else -len(sign), int(match[3])


def whole_alter(text: str) -> int:
    """The nearest whole alteration; a text that is no number counts as none."""
    try:
        return round(Fraction(text.strip() or "0"))
    except ValueError:
        return 0


@cache
def _plain(letter: str, octave: int) -> "m21pitch.Pitch":
    return m21pitch.Pitch(step=letter, octave=octave)


@cache
def semitone(text: str) -> int:
    """The sounding key number, C4 is 60."""
    letter, alter, octave = parsed(text)
    return int(_plain(letter, octave).ps) + alter


def step_place(text: str) -> int:
    """The place of the letter on the staff, in steps; its alteration does not count."""
    letter, _, octave = parsed(text)
    return 7 * octave + LETTERS.index(letter)


@cache
def interval_named(name: str) -> "m21interval.Interval":
    """A directed interval by quality and number, ``-m2``."""
    return m21interval.Interval("P1" if name == "-P1" else name)


@cache
def semitones_of(name: str) -> int:
    """The semitones of a named interval, negative for down."""
    return int(interval_named(name).semitones)


@cache
def transposed(text: str, name: str) -> str:
    """The pitch moved by the named interval, never respelled.

    music21 moves the natural of the letter; the alteration then goes along unchanged, which
    keeps the spelling whatever its size.
    """
    letter, alter, octave = parsed(text)
    if name in {"P1", "-P1"}:
        return text
    moved = interval_named(name).transposePitch(_plain(letter, octave), maxAccidental=None)
    shown = int(moved.accidental.alter) if moved.accidental else 0
    return spelled(str(moved.step), shown + alter, int(moved.octave))


@cache
def string_name(text: str) -> str:
    """The string that a pitch is written for: its letter and octave."""
    letter, _, octave = parsed(text)
    return f"{letter}{octave}"


@cache
def stepped(letter: str, octave: int, steps: int) -> tuple[str, int]:
    """The letter and octave that lie *steps* letters above."""
    octaves, place = divmod(LETTERS.index(letter) + steps, 7)
    return LETTERS[place], octave + octaves


@cache
def sounding(written: str, steps: int, semitones: int) -> str:
    """A written pitch as a transposing part sounds it."""
    letter, alter, octave = parsed(written)
    above, octave_above = stepped(letter, octave, steps)
    goal = int(_plain(letter, octave).ps) + semitones
    return spelled(above, goal - int(_plain(above, octave_above).ps) + alter, octave_above)


@cache
def steps_for(semitones: int) -> int:
    """The usual number of letters for a chromatic step that names none (music21's spelling)."""
    return int(m21interval.Interval(semitones).generic.staffDistance)


@cache
def key_alters(fifths: int) -> dict[str, int]:
    """Letter to alteration in a key signature."""
    names = m21key.KeySignature(fifths).alteredPitches
    alters: dict[str, int] = {}
    for name in names:
        alters[str(name.step)] = alters.get(str(name.step), 0) + int(name.accidental.alter)
    return alters


@cache
def fifths_moved(fifths: int, name: str) -> int:
    """The key signature after transposition, not brought within seven signs."""
    if name in {"P1", "-P1"}:
        return fifths
    return int(m21key.KeySignature(fifths).transpose(interval_named(name)).sharps)
