"""Alterations, key signatures and clefs as the document spells them."""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from arrange.pitch import LETTERS
from arrange.score.document import Node

Alter = int | Fraction
"""Semitones of alteration: whole ones as int, quarter tones and the like as an exact fraction."""

Alters = tuple[Alter, ...]
"""What a key signature does to each letter, C first."""

PLAIN: Alters = (0,) * 7
LETTER_PLACE = {letter: place for place, letter in enumerate(LETTERS)}
FIFTHS_ORDER = tuple(LETTER_PLACE[letter] for letter in "FCGDAEB")
"""The letters in the order in which sharps enter a signature."""

_MOST_FIFTHS = 21
"""Every letter three times altered."""
_HALF = Fraction(1, 2)
SIGN_OF: dict[Alter, str] = {
    -3: "triple-flat",
    -2: "flat-flat",
    Fraction(-3, 2): "three-quarters-flat",
    -1: "flat",
    -_HALF: "quarter-flat",
    0: "natural",
    _HALF: "quarter-sharp",
    1: "sharp",
    Fraction(3, 2): "three-quarters-sharp",
    2: "double-sharp",
    3: "triple-sharp",
}
"""What MusicXML calls the accidental for an alteration."""

MEANING_OF: dict[str, Alter] = {
    **{name: alter for alter, name in SIGN_OF.items()},
    "sharp-sharp": 2,
    "natural-sharp": 1,
    "natural-flat": -1,
    "double-flat": -2,
}

_MIDDLE_STAFF_LINE = 3
_CLEF_PLACES = {"G": (32, 2), "F": (24, 4), "C": (28, 3)}
"""Diatonic place of the clef's note (C0 is 0) and the line that it stands on by default."""


@lru_cache(maxsize=256)
def alter_of(text: str) -> Alter | None:
    """Read the text of an ``<alter>``; None where it is no number, 0 where it is empty."""
    try:
        value = Fraction(text.strip() or "0")
    except (ValueError, ZeroDivisionError):
        return None
    return value.numerator if value.denominator == 1 else value


def alter_text(alter: Alter) -> str:
    """Write an alteration as a decimal number."""
    if isinstance(alter, int):
        return str(alter)
    return str(Decimal(alter.numerator) / Decimal(alter.denominator))


def added(alter: Alter, semitones: int) -> Alter:
    """Return *alter* raised by *semitones*, a whole number as int."""
    total = alter + semitones
    if isinstance(total, Fraction) and total.denominator == 1:
        return total.numerator
    return total


@lru_cache(maxsize=64)
def signature(fifths: int) -> Alters:
    """Return what a signature of *fifths* (negative for flats, any number) does to letters."""
    alters = [0] * 7
    for place in range(abs(fifths)):
        turn = place % 7
        letter = FIFTHS_ORDER[turn] if fifths > 0 else FIFTHS_ORDER[6 - turn]
        alters[letter] += 1 if fifths > 0 else -1
    return tuple(alters)


def wrapped(fifths: int) -> int:
    """Return the signature of at most seven signs that sounds like *fifths*."""
    while fifths > 7:
        fifths -= 12
    while fifths < -7:
        fifths += 12
    return fifths


def key_alters(key: Node) -> Alters | None:
    """Read a ``<key>``; None where it is not understood."""
    fifths = key.find("fifths")
    if fifths is not None:
        try:
            return signature(max(-_MOST_FIFTHS, min(_MOST_FIFTHS, int(fifths.text))))
        except ValueError:
            return None
    alters = list(PLAIN)
    place: int | None = None
    for child in key.children:
        if child.tag == "key-step":
            place = LETTER_PLACE.get(child.text.strip())
        elif child.tag == "key-alter" and place is not None:
            alters[place] = alter_of(child.text) or 0
    return tuple(alters)


@dataclass(frozen=True, slots=True)
class StaffClef:
    """A clef as it shapes a staff.

    Attributes:
        sign: ``G``, ``F``, ``C``; anything else places notes like a G clef.
        line: the staff line that it stands on, from the bottom.
        octave: octaves that it moves the staff up.
        middle: the diatonic place (C0 is 0) of the middle line.
    """

    sign: str
    line: int
    octave: int
    middle: int


@lru_cache(maxsize=64)
def clef_of(sign: str, line: int, octave: int) -> StaffClef:
    """Return the clef *sign* on *line*, *octave* octaves up."""
    place, _ = _CLEF_PLACES.get(sign, _CLEF_PLACES["G"])
    return StaffClef(sign, line, octave, place + 7 * octave + 2 * (_MIDDLE_STAFF_LINE - line))


TREBLE = clef_of("G", 2, 0)
BASS = clef_of("F", 4, 0)


def staff_clef(clef: Node) -> StaffClef:
    """Read a ``<clef>``; what it leaves out is as common practice has it."""
    sign = clef.child_text("sign", "G")
    line = _whole(clef.child_text("line"), _CLEF_PLACES.get(sign, _CLEF_PLACES["G"])[1])
    return clef_of(sign, line, _whole(clef.child_text("clef-octave-change"), 0))


def _whole(text: str, default: int) -> int:
    try:
        return int(text)
    except ValueError:
        return default
