"""The tunings that harps are built for, and how strings are made from one."""

from dataclasses import dataclass, field

from arrange.harp.harp import HarpString
from arrange.pitch import LETTERS, Pitch, pitch_on_line

TUNINGS: dict[str, frozenset[str]] = {
    "E-flat": frozenset("EAB"),
    "C": frozenset(),
    "F": frozenset("B"),
    "B-flat": frozenset("BE"),
    "A-flat": frozenset("BEAD"),
}
"""Tuning to the letters that are tuned flat with all levers down (common practice)."""


@dataclass(frozen=True, slots=True)
class Stringing:
    """How a harp is strung and tuned.

    Attributes:
        lowest, highest: first and last string, naturals (their octave is the letter's).
        tuning: one of ``TUNINGS``, or any name where *tuned* says it all.
        tuned: string name or bare letter to the pitch class name or pitch it is tuned to.
        lever_letters: letters whose strings have levers.
        without_levers: names of strings that have none all the same.
    """

    lowest: Pitch
    highest: Pitch
    tuning: str
    tuned: dict[str, str] = field(default_factory=dict)
    lever_letters: frozenset[str] = frozenset(LETTERS)
    without_levers: frozenset[str] = frozenset()


def strings_of(stringing: Stringing) -> tuple[HarpString, ...]:
    """Return the strings, low to high."""
    return tuple(
        _string(stringing, pitch_on_line(line))
        for line in range(stringing.lowest.line, stringing.highest.line + 1)
    )


def _string(stringing: Stringing, plain: Pitch) -> HarpString:
    name = f"{plain.step}{plain.octave}"
    flats = TUNINGS.get(stringing.tuning, frozenset())
    open_pitch = Pitch(plain.step, -1 if plain.step in flats else 0, plain.octave)
    for key in (plain.step, name):
        if key in stringing.tuned:
            open_pitch = _tuned(stringing.tuned[key], plain.octave)
    has_lever = plain.step in stringing.lever_letters and name not in stringing.without_levers
    raised = Pitch(open_pitch.step, open_pitch.alter + 1, open_pitch.octave)
    return HarpString(plain.step, plain.octave, open_pitch, raised if has_lever else None)


def _tuned(text: str, octave: int) -> Pitch:
    return Pitch.parse(text if text[-1].isdigit() else f"{text}{octave}")
