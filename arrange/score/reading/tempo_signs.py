"""One tempo mark: metronome marks, tempo words, and what ``sound`` says."""

import re
from fractions import Fraction
from unicodedata import combining, normalize

from arrange.score.model import Meter
from arrange.score.nodes import Node
from arrange.score.reading.numbers import plain_number
from arrange.score.reading.running import Running
from arrange.score.reading.statements import TempoSign
from arrange.score.reading.told import TYPE_QUARTERS
from arrange.units import Quarters

BEATS_A_MINUTE = {
    "grave": 40,
    "largo": 48,
    "largamente": 48,
    "lent": 52,
    "lento": 52,
    "adagio": 56,
    "langsam": 56,
    "slow": 56,
    "slowly": 56,
    "larghetto": 60,
    "adagietto": 66,
    "andante": 76,
    "gehend": 76,
    "andantino": 84,
    "moderato": 96,
    "modere": 96,
    "massig": 96,
    "maßig": 96,
    "moderately": 96,
    "allegretto": 112,
    "allegro": 126,
    "bewegt": 126,
    "anime": 126,
    "lebhaft": 132,
    "schnell": 138,
    "fast": 138,
    "vivo": 144,
    "vif": 144,
    "vivace": 152,
    "vivacissimo": 160,
    "presto": 172,
    "prestissimo": 192,
}
"""Felt beats a minute where only a word says it: common practice, the exact figures house
judgement; without accents. Of several words the first counts; what qualifies it (``ma non
troppo``) does not."""

_WORDS = re.compile(r"[^\W\d_]+")
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_RANGE = re.compile(r"(\d+(?:[.,]\d+)?)\s*[-\u2013\u2014]\s*(\d+(?:[.,]\d+)?)")
_FIRST = re.compile(r"\btempo\s+(?:i\b|1|primo|uno)|\b(?:primo|1er)\s+tempo\b", re.IGNORECASE)
_LAST = re.compile(r"\ba\s+tempo\b|\bau\s+mouvement\b|\bim\s+zeitma(?:ß|ss)", re.IGNORECASE)
_PASSING = re.compile(
    r"\b(?:rit|ritard\w*|riten\w*|rall\w*|accel\w*|stringen\w*|string(?=\.)|allarg\w*|cédez|smorz\w*|calando"
    r"|morendo|retenu|stretto|affrett\w*)\b",
    re.IGNORECASE,
)
_UNNUMBERED = re.compile(
    r"\b(?:pi[uùú]|meno|poco\s+pi[uùú]|plus|moins)\s+(?:mosso|lento|allegro|vite|vif|animé|lent)\b",
    re.IGNORECASE,
)


def is_tempo_words(text: str) -> bool:
    """Whether words say how fast to play."""
    patterns = (_FIRST, _LAST, _PASSING, _UNNUMBERED)
    return _named(text) is not None or any(p.search(text) for p in patterns)


def words_tempo(text: str, meter: Meter, offset: Quarters) -> TempoSign | None:
    """Return what tempo words say; None where they change nothing by themselves."""
    if _FIRST.search(text):
        return TempoSign(offset, 1, text, recall="first")
    if _LAST.search(text):
        return TempoSign(offset, 1, text, recall="last")
    beats = _named(text)
    if beats is None or _UNNUMBERED.search(text):
        return None
    return TempoSign(offset, 1, text, beats * meter.beat)


def is_passing(text: str) -> bool:
    """Whether words bend the tempo for a while (rit., accel.)."""
    return bool(_PASSING.search(text))


def is_unnumbered(text: str) -> bool:
    """Whether words change the tempo without saying to what (più mosso)."""
    return bool(_UNNUMBERED.search(text))


def _named(text: str) -> int | None:
    plain = "".join(c for c in normalize("NFKD", text.lower()) if not combining(c))
    for word in _WORDS.findall(plain):
        if word in BEATS_A_MINUTE:
            return BEATS_A_MINUTE[word]
    return None


def sound_tempo(text: str, offset: Quarters, running: Running) -> TempoSign | None:
    """Return the tempo of a ``sound`` element's attribute."""
    value = running.place.number(text, "a tempo")
    if value <= 0:
        running.note(f"A tempo of {text.strip()} quarters a minute; it is not read.")
        return None
    return TempoSign(offset, 3, text.strip(), value)


def metronome_tempo(node: Node, offset: Quarters, running: Running) -> TempoSign | None:
    """Return what a metronome mark says: a number, or one note value for another."""
    units: list[Quarters] = []
    rate = ""
    for child in node.children:
        if child.tag == "beat-unit":
            units.append(TYPE_QUARTERS.get(child.text.strip(), Quarters(1)))
        elif child.tag == "beat-unit-dot" and units:
            units[-1] = _dotted(units[-1])
        elif child.tag == "per-minute":
            rate = child.text.strip()
    text = metronome_text(node)
    if rate and units:
        value = _rate(rate)
        if value:
            return TempoSign(offset, 2, text, value * units[0])
    elif len(units) == 2:
        return TempoSign(offset, 2, text, factor=units[1] / units[0])
    running.note(f"The metronome mark '{text}' cannot be read as a tempo.")
    return None


def _dotted(unit: Quarters) -> Quarters:
    """One dot more: a plain value has the numerator 1, a dotted one 3, then 7."""
    return unit + Quarters(1, unit.denominator * 2) if unit.numerator % 2 else unit * 3 / 2


def _rate(text: str) -> Fraction | None:
    """``72``, ``c. 72``; the mean of ``72-80``; the first number of anything else."""
    span = _RANGE.search(text)
    try:
        if span is not None:
            return (_decimal(span[1]) + _decimal(span[2])) / 2
        number = _NUMBER.search(text)
        return _decimal(number[0]) if number is not None else None
    except ValueError:
        return None


def _decimal(text: str) -> Fraction:
    return plain_number(text.replace(",", "."))


def metronome_text(node: Node) -> str:
    """A metronome mark in words: ``quarter = 72``, ``quarter. = 60``."""
    shown: list[str] = []
    for child in node.children:
        if child.tag == "beat-unit":
            shown.append(("= " if shown else "") + child.text.strip())
        elif child.tag == "beat-unit-dot" and shown:
            shown[-1] += "."
        elif child.tag == "per-minute":
            shown.append("= " + child.text.strip())
    return " ".join(shown)
