"""Facts that one element tells by itself: values, ties, roots, transpositions."""

from fractions import Fraction

from lxml import etree

from referee import opening, pitches

ACCIDENTALS = {
    "sharp": 1, "natural": 0, "flat": -1, "double-sharp": 2, "sharp-sharp": 2,
    "flat-flat": -2, "natural-sharp": 1, "natural-flat": -1, "double-flat": -2,
}  # fmt: skip
VALUES = {
    "maxima": Fraction(32), "long": Fraction(16), "breve": Fraction(8), "whole": Fraction(4),
    "half": Fraction(2), "quarter": Fraction(1), "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4), "32nd": Fraction(1, 8), "64th": Fraction(1, 16),
    "128th": Fraction(1, 32), "256th": Fraction(1, 64),
}  # fmt: skip
"""Note values in quarters."""


def beats_of(time: etree._Element) -> Fraction:
    """A full measure of a time signature, in quarters."""
    total = Fraction(0)
    kinds = [e.text or "4" for e in time.iterfind("beat-type")]
    for beats, kind in zip(time.iterfind("beats"), kinds, strict=False):
        count = sum(int(b) for b in (beats.text or "4").split("+"))
        total += Fraction(4 * count, int(kind))
    return total


def transposition_of(move: etree._Element) -> tuple[int, int]:
    """Letters and semitones from written to sounding."""
    semitones = int(Fraction(opening.child_text(move, "chromatic", "0")))
    octaves = int(opening.child_text(move, "octave-change", "0"))
    letters = opening.child_text(move, "diatonic")
    steps = int(letters) if letters else pitches.steps_for(semitones)
    return steps + 7 * octaves, semitones + 12 * octaves


def named(child: etree._Element, step: str, alter: str) -> str:
    """A root as ``C#``, "" where there is none."""
    letter = opening.child_text(child, step)
    shift = pitches.whole_alter(opening.child_text(child, alter, "0"))
    return pitches.spelled(letter, shift, 4)[:-1] if letter else ""


def sounds_above(child: etree._Element) -> bool:
    """A harmonic that is written where it sounds: its string lies an octave below."""
    return child.find("notations/technical/harmonic/sounding-pitch") is not None


def other_signs(child: etree._Element) -> str:
    """Words and names of signs on a note for which there is no element."""
    found = [
        f"{sign.text or ''} {sign.get('smufl') or ''}"
        for kind in ("technical/other-technical", "articulations/other-articulation")
        for sign in child.iterfind(f"notations/{kind}")
    ]
    return " ".join(found)


def ties_of(child: etree._Element) -> set[str]:
    """``start`` and ``stop`` of the ties that sound, else of those that are drawn."""
    kinds = {tie.get("type") for tie in child.iterfind("tie")}
    kinds = kinds or {tie.get("type") for tie in child.iterfind("notations/tied")}
    if "continue" in kinds:
        kinds |= {"start", "stop"}
    return {kind for kind in kinds if kind is not None}


def tuplet_length(child: etree._Element) -> Fraction:
    """The length that type, dots and tuplet say; 0 where the note is in no tuplet."""
    kind = VALUES.get(opening.child_text(child, "type"))
    ratio = child.find("time-modification")
    if kind is None or ratio is None:
        return Fraction(0)
    dots = len(child.findall("dot"))
    plain = kind * (2 - Fraction(1, 2**dots))
    normal = int(opening.child_text(ratio, "normal-notes", "1"))
    return plain * normal / int(opening.child_text(ratio, "actual-notes", "1"))
