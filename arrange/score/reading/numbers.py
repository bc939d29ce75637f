"""Numbers as a score writes them: short, plain, and never so large that they hide a trap."""

import re
from fractions import Fraction

MOST_SIGNS = 24
"""No number of a score is written longer (house judgement)."""
MOST_DIGITS = 12
"""Before the point: no whole number of a score has more digits (house judgement)."""
_LARGEST = 10**MOST_DIGITS
FINEST = 10**18
"""No length of a score has more decimals than 18 (house judgement): floating numbers have 17."""


_POWER = re.compile(r"[\d.][eE][-+]?\d")


def is_trap(text: str) -> bool:
    """Whether a text is a number after all, but one that costs much to work out."""
    return _POWER.search(text) is not None or len(text) > MOST_SIGNS


def plain_whole(text: str) -> int:
    """Read a whole number.

    Raises:
        ValueError: It is none, or larger than any in a score.
    """
    if len(text) > MOST_SIGNS:
        text = text.strip()
        if len(text) > MOST_SIGNS:
            raise ValueError(f"{text[:MOST_SIGNS]}... is too long for a number")
    value = int(text)
    if not -_LARGEST < value < _LARGEST:
        raise ValueError(f"{value} is too large")
    return value


def plain_number(text: str) -> Fraction:
    """Read a number: whole, a decimal, a fraction. Powers (``1e9``) are none in MusicXML.

    Raises:
        ValueError: It is none, or larger than any in a score.
    """
    text = text.strip()
    if len(text) > MOST_SIGNS:
        whole, point, decimals = text.partition(".")
        if not point or len(whole) > MOST_SIGNS or not decimals.isdecimal():
            raise ValueError(f"{text[:MOST_SIGNS]}... is too long for a number")
        text = text[:MOST_SIGNS]
    if "e" in text or "E" in text:
        raise ValueError(f"{text} is a power")
    try:
        value = Fraction(text)
    except ZeroDivisionError as fault:
        raise ValueError(f"{text} divides by 0") from fault
    if not -_LARGEST < value < _LARGEST:
        raise ValueError(f"{text} is too large")
    return value
