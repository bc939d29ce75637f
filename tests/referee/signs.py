"""Directions, credits and tempo marks as texts."""

import re
from fractions import Fraction

from lxml import etree

from referee.sheet import Sign

UNITS = {
    "whole": Fraction(4), "half": Fraction(2), "quarter": Fraction(1), "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4), "32nd": Fraction(1, 8), "breve": Fraction(8),
}  # fmt: skip
NUMBER = re.compile(r"\d+(?:\.\d+)?")
WORDED = frozenset({"words", "rehearsal", "fingering", "lyric", "credit"})
"""Kinds that are their text: the log must say it."""

PEDAL_SOUNDS = frozenset({"damper-pedal", "soft-pedal", "sostenuto-pedal"})
"""These go with the pedal sign that they stand for."""


def squeezed(text: str) -> str:
    """A text without white space, for comparing."""
    return "".join(text.split())


def direction_signs(direction: etree._Element) -> list[tuple[str, str]]:
    """(kind, text) of each thing that a direction shows."""
    found = []
    for kind in direction.iterfind("direction-type"):
        found += [(str(child.tag), picture(child)) for child in kind]
    sound = direction.find("sound")
    if sound is not None:
        heard = [f"{k}={v}" for k, v in sorted(sound.items()) if k not in PEDAL_SOUNDS]
        found += [("sound", " ".join(heard))] if heard else []
    return found


def picture(child: etree._Element) -> str:
    """A direction's content in words."""
    if child.tag in {"words", "rehearsal", "symbol"}:
        return " ".join((child.text or "").split())
    words = [child.get("type") or "", child.get("sign") or ""]
    for inner in child.iter():
        if inner is not child:
            words.append(str(inner.tag))
        words.append((inner.text or "").strip())
    return " ".join(word for word in words if word)


def note_signs(note: etree._Element) -> list[tuple[str, str]]:
    """(kind, text) of what the log must name when it goes from a note: fingering, lyrics."""
    found = [
        ("fingering", (finger.text or "").strip())
        for finger in note.iterfind("notations/technical/fingering")
    ]
    for lyric in note.iterchildren("lyric"):
        text = "".join(t.text or "" for t in lyric.iterfind("text"))
        found.append(("lyric", text))
    return found


def tempi_of(direction: etree._Element) -> list[Fraction]:
    """Quarters a minute that a direction says, by sound and by metronome mark."""
    found = []
    sound = direction.find("sound")
    if sound is not None and sound.get("tempo"):
        found.append(Fraction(sound.get("tempo") or ""))
    for metronome in direction.iterfind("direction-type/metronome"):
        unit = UNITS.get(metronome.findtext("beat-unit") or "")
        number = NUMBER.search(metronome.findtext("per-minute") or "")
        if unit is None or number is None:
            continue
        dots = len(metronome.findall("beat-unit-dot"))
        found.append(Fraction(number[0]) * unit * (2 - Fraction(1, 2**dots)))
    return [tempo for tempo in found if tempo > 0]


def credits_of(root: etree._Element) -> list[Sign]:
    """Words outside the parts: credits and titles."""
    texts = [
        " ".join((words.text or "").split()) for words in root.iterfind("credit/credit-words")
    ]
    for path in ("work/work-title", "movement-title"):
        texts += [" ".join((title.text or "").split()) for title in root.iterfind(path)]
    signs = [Sign("credit", 0, Fraction(0), 1, text) for text in texts]
    return signs + [
        Sign("field", 0, Fraction(0), 1, (field.text or "").strip())
        for field in root.iterfind("identification/miscellaneous/miscellaneous-field")
    ]
