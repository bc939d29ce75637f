"""How places, lengths and notes are called in sentences."""

import unicodedata
from collections.abc import Iterable, Sequence
from fractions import Fraction

from arrange import phrasing
from arrange.pitch import Interval
from arrange.report.comparing.sheets import Tone
from arrange.score.model import Meter
from arrange.units import Quarters

_VALUES = {
    Quarters(8): "two whole notes",
    Quarters(4): "a whole note",
    Quarters(2): "a half note",
    Quarters(1): "a quarter",
    Quarters(1, 2): "an eighth",
    Quarters(1, 4): "a sixteenth",
    Quarters(1, 8): "a thirty-second",
    Quarters(6): "a dotted whole note",
    Quarters(3): "a dotted half note",
    Quarters(3, 2): "a dotted quarter",
    Quarters(3, 4): "a dotted eighth",
    Quarters(3, 8): "a dotted sixteenth",
    Quarters(2, 3): "a triplet quarter",
    Quarters(1, 3): "a triplet eighth",
    Quarters(1, 6): "a triplet sixteenth",
}
_SIZES = ("unison", "second", "third", "fourth", "fifth", "sixth", "seventh", "octave")
_QUALITIES = {
    "P": "perfect ",
    "M": "major ",
    "m": "minor ",
    "A": "augmented ",
    "d": "diminished ",
}
_TIMES = {"AA": "doubly augmented ", "dd": "doubly diminished "}


def length_text(length: Quarters) -> str:
    """``a dotted quarter``; what has no name is counted in quarters."""
    return _VALUES.get(length) or f"{mixed(length)} quarters"


def mixed(number: Fraction) -> str:
    """``2 1/2`` for 5/2."""
    whole, rest = divmod(number, 1)
    if not rest:
        return str(whole)
    return f"{whole} {rest}" if whole else str(rest)


def beat_text(offset: Quarters, meter: Meter) -> str:
    """The place in a measure, as the lower number of the time signature counts it."""
    return f"beat {mixed(1 + offset * meter.beat_type / 4)}"


def tone_text(tone: Tone) -> str:
    """``C#4``; a note without pitch, or a rest, is called so."""
    if tone.pitch is not None:
        return str(tone.pitch)
    return "rest" if tone.is_rest else "note without pitch"


def long_tone_text(tone: Tone) -> str:
    """``C#4, a quarter``."""
    if tone.is_grace:
        return f"grace note {tone_text(tone)}"
    return f"{tone_text(tone)}, {length_text(tone.duration)}"


def interval_text(interval: Interval) -> str:
    """``up a minor third``; spelled out, octaves apart."""
    short = str(interval)
    way = "down" if short.startswith("-") else "up"
    quality, number = _split(short.lstrip("-"))
    octaves, simple = divmod(number - 1, 7)
    if not simple and octaves and quality == "P":
        return f"{way} {'an octave' if octaves == 1 else f'{octaves} octaves'}"
    named = _TIMES.get(quality) or _QUALITIES.get(quality, f"{len(quality)} times altered ")
    words = f"{named}{_SIZES[simple]}"
    article = "an" if words[0] in "aeiou" and not words.startswith("unison") else "a"
    text = f"{way} {article} {words}"
    if octaves:
        text += f" and {'an octave' if octaves == 1 else f'{octaves} octaves'}"
    return text


def _split(short: str) -> tuple[str, int]:
    quality = short.rstrip("0123456789")
    return quality, int(short[len(quality) :])


def listed(words: Iterable[str]) -> str:
    """``a, b and c``; the same word twice is said once, with how often."""
    counted: dict[str, int] = {}
    for word in words:
        counted[word] = counted.get(word, 0) + 1
    named = [word if n == 1 else f"{word} ({n} times)" for word, n in counted.items()]
    return phrasing.listed(named)


def measures_text(numbers: Sequence[str]) -> str:
    """``measure 5``, ``measures 5 to 8``; an unnumbered one is called so."""
    names = [number or "without a number" for number in numbers]
    if len(names) == 1:
        return f"measure {names[0]}"
    return f"measures {names[0]} to {names[-1]}"


def visible(text: str) -> str:
    """Text without signs that would steer a screen or turn the direction of reading."""
    if text.isprintable():
        return text
    return "".join(
        sign
        if sign.isprintable() or sign == "\n"
        else f"\\u{ord(sign):04x}"
        if unicodedata.category(sign) in ("Cc", "Cf", "Cs", "Co", "Cn")
        else " "
        for sign in text
    )
