"""What the signs on a note add to it: neighbours, strokes, damping."""

import re
from collections.abc import Callable
from fractions import Fraction

from lxml import etree

from referee import pitches
from referee.sheet import Auxiliary

UPPER, LOWER = 1, -1
SIDES = {
    "trill-mark": (UPPER,), "shake": (UPPER,), "turn": (UPPER, LOWER),
    "inverted-turn": (UPPER, LOWER), "delayed-turn": (UPPER, LOWER),
    "delayed-inverted-turn": (UPPER, LOWER), "vertical-turn": (UPPER, LOWER),
    "inverted-vertical-turn": (UPPER, LOWER), "mordent": (LOWER,), "inverted-mordent": (UPPER,),
}  # fmt: skip
"""MusicXML's mordent is the one with the stroke: the lower neighbour."""
LASTING = frozenset({"trill-mark", "shake"})
MARKS = {
    "sharp": 1, "natural": 0, "flat": -1, "double-sharp": 2, "flat-flat": -2,
    "natural-sharp": 1, "natural-flat": -1, "sharp-sharp": 2,
}  # fmt: skip
FLAGS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4}
DAMP_WORDS = re.compile(
    r"[ée]touff|\bdamp(?!er)|muffled?\b|soffoc|apagad|\b(?:ge|ab)?dämpf(?:en|t)\b"
    r"|^(?:secco|sec|[ée]t)\W*$|[\ue638\ue639\ue63b]|plucked ?damp",
    re.IGNORECASE,
)
"""Damping in words or by the music font's signs (common practice)."""
UNSEEN = frozenset({"tied", "accidental-mark", "tuplet"})
"""Notations that follow of themselves from a change of notes."""

Around = tuple[dict[str, int], dict[tuple[str, int], int]]


def is_damped(text: str) -> bool:
    """Whether words ask to damp."""
    return bool(DAMP_WORDS.search(text))


def auxiliaries_of(
    note: etree._Element,
    place: tuple[str, int],
    around: Around,
    heard: Callable[[str], str],
) -> tuple[Auxiliary, ...]:
    """The neighbours that a note's ornaments add, sounding."""
    found = []
    for ornaments in note.iterfind("notations/ornaments"):
        children = list(ornaments)
        for place_in, child in enumerate(children):
            sides = SIDES.get(str(child.tag), ())
            marks = accidental_marks(children[place_in + 1 :], sides)
            for side in sides:
                letter, octave = pitches.stepped(*place, side)
                alters = [marks[side]] if side in marks else likely(letter, octave, around)
                names = tuple(heard(pitches.spelled(letter, a, octave)) for a in alters)
                found.append(Auxiliary(names, child.tag in LASTING))
    return tuple(found)


def likely(letter: str, octave: int, around: Around) -> list[int]:
    """Alterations that the page allows for a neighbour without an accidental of its own."""
    key, shown = around
    alters = {key.get(letter, 0), shown.get((letter, octave), key.get(letter, 0))}
    return sorted(alters)


def accidental_marks(following: list[etree._Element], sides: tuple[int, ...]) -> dict[int, int]:
    """Side to alteration, as the accidental marks right after an ornament say."""
    marks: dict[int, int] = {}
    for child in following:
        if child.tag != "accidental-mark":
            break
        side = {"above": UPPER, "below": LOWER}.get(child.get("placement") or "")
        if side not in sides:
            side = sides[0] if sides else UPPER
        name = (child.text or "").strip()
        if name in MARKS and side is not None:
            marks[side] = MARKS[name]
    return marks


def stroke_of(note: etree._Element) -> tuple[Fraction, str]:
    """Quarters between the strokes of a tremolo, and whether two notes alternate."""
    tremolo = note.find("notations/ornaments/tremolo")
    if tremolo is None or not (tremolo.text or "").strip().isdigit():
        return Fraction(0), ""
    beams = int((tremolo.text or "0").strip()) + FLAGS.get(note.findtext("type") or "", 0)
    kind = tremolo.get("type") or "single"
    return Fraction(1, 2**beams), kind if kind in {"start", "stop"} else ""


def notation_texts(note: etree._Element) -> tuple[str, ...]:
    """The signs on a note that no change of notes explains, as sorted texts."""
    texts = []
    for notations in note.iterchildren("notations"):
        for child in notations:
            if child.tag in {"technical", "ornaments", "articulations"}:
                texts += [named(sign) for sign in child if sign.tag not in UNSEEN]
            elif child.tag not in UNSEEN:
                texts.append(named(child))
    return tuple(sorted(texts))


def named(sign: etree._Element) -> str:
    """A sign in words: its name, type and text."""
    words = [str(sign.tag), sign.get("type") or "", (sign.text or "").strip()]
    return " ".join(word for word in words if word)
