"""Words about the order of play: D.C., D.S., Fine, Coda, in the usual spellings."""

import re
from dataclasses import dataclass

SEGNO_SIGNS = "\U0001d10b\ue047\ue048"
CODA_SIGNS = "\U0001d10c\ue04a\ue04b"
"""Unicode's and SMuFL's characters."""

_SEGNO = rf"(?:segno|signo|signe|zeichen|sign|[{SEGNO_SIGNS}])"
_CODA = rf"(?:coda|[{CODA_SIGNS}])"
_GOES_ON = (
    r"(?=\W*$|\W+(?:al|alla|to|till?|until|bis|senza|con|without|with|e|ed|and|poi|sin|\d)\b)"
)
"""Behind the letters; a row of pedals (``D C B``) goes on with a letter."""

_DA_CAPO = re.compile(rf"\b(?:DC|(?i:d\.\s?c)\.?){_GOES_ON}|\b(?i:da\s+capo|d\.\s*capo)\b")
_DAL_SEGNO = re.compile(
    rf"\b(?:DS|(?i:d\.\s?s)\.?){_GOES_ON}|(?i:\b(?:dal|dall[ao']|d\.)\s*{_SEGNO})"
    r"|(?i:\bdal\s+s\.)"
)
_TO_CODA = re.compile(rf"(?i:\b(?:to|al|alla|zur|à\s+la|a\s+la|vers\s+la)\s+(?:the\s+)?{_CODA})")
_AL_FINE = re.compile(r"(?i:\b(?:al|to|till?|until|bis)\s+(?:the\s+)?fine\b)|(?i:\bal\s+fin\b)")
_ALONE_FINE = re.compile(r"\W*(?i:fine|fin)\W*")
_ALONE_CODA = re.compile(rf"[\W_]*{_CODA}[\W_]*|[{CODA_SIGNS}]", re.IGNORECASE)
_ALONE_SEGNO = re.compile(rf"[\W_]*segno[\W_]*|[{SEGNO_SIGNS}]", re.IGNORECASE)
_REPEATS = re.compile(r"(?i:\b(?:con|with|mit|avec)\s+(?:the\s+)?(?:r[ei]p|wiederh)\w*)")


@dataclass(frozen=True, slots=True)
class LeapWords:
    """What words ask for.

    Attributes:
        sign: ``segno`` or ``coda`` where that is only text, ``coda-sign`` for the bare sign.
    """

    jump: str = ""
    al: tuple[str, ...] = ()
    fine: bool = False
    to_coda: bool = False
    sign: str = ""
    with_repeats: bool = False


def leap_words(text: str) -> LeapWords | None:
    """Return what *text* says about the order of play; None where it says nothing."""
    words = " ".join(text.split())
    jump = _jump(words)
    if jump:
        asks_for_coda = _TO_CODA.search(words) or any(sign in words for sign in CODA_SIGNS)
        asked = {"fine": _AL_FINE.search(words), "coda": asks_for_coda}
        al = tuple(word for word, found in asked.items() if found)
        return LeapWords(jump, al, with_repeats=bool(_REPEATS.search(words)))
    if _ALONE_FINE.fullmatch(words):
        return LeapWords(fine=True)
    if _TO_CODA.search(words):
        return LeapWords(to_coda=True)
    if _ALONE_CODA.fullmatch(words):
        return LeapWords(sign="coda" if "coda" in words.casefold() else "coda-sign")
    if _ALONE_SEGNO.fullmatch(words):
        return LeapWords(sign="segno")
    return None


def _jump(words: str) -> str:
    if _DA_CAPO.search(words):
        return "D.C."
    return "D.S." if _DAL_SEGNO.search(words) else ""
