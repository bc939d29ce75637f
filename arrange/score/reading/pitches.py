"""Written pitches, the accidentals shown at them, and the neighbours that ornaments add."""

from dataclasses import dataclass
from functools import lru_cache

from arrange.pitch import LETTERS, UNISON, Interval, Pitch, pitch_on_line
from arrange.score.reading.inherited import KeyState
from arrange.score.reading.numbers import is_trap, plain_number, plain_whole

MOST_ALTER = 6
"""Half as much again as a triple sharp moved by a tritone: no score has more."""

MOST_READ_ALTER = 12
"""More than an octave away it is an error in the file (house judgement)."""
LOWEST_OCTAVE, HIGHEST_OCTAVE = -2, 11
"""MusicXML has octaves 0 to 9; what is two beyond cannot be heard (house judgement)."""

ACCIDENTALS = {
    "sharp": 1,
    "natural": 0,
    "flat": -1,
    "double-sharp": 2,
    "sharp-sharp": 2,
    "flat-flat": -2,
    "natural-sharp": 1,
    "natural-flat": -1,
    "triple-sharp": 3,
    "triple-flat": -3,
}
"""Accidentals that mean whole semitones (MusicXML 4.0)."""


@dataclass(frozen=True, slots=True)
class WrittenPitch:
    """A pitch element; *fault* "" or what kept it from being a plain pitch."""

    pitch: Pitch
    fault: str = ""

    @property
    def is_microtone(self) -> bool:
        """The source's pitch has no exact spelling here."""
        return bool(self.fault)


@lru_cache(maxsize=4096)
def written_pitch(step: str, alter: str, octave: str) -> WrittenPitch:
    """Return what a pitch element says.

    Raises:
        ValueError: The step is no letter, or the octave no number or beyond all hearing,
            or it is altered beyond all sense.
    """
    letter = step.strip().upper()
    if len(letter) != 1 or letter not in LETTERS:
        raise ValueError(f"a pitch has the step {letter!r}")
    height = plain_whole(octave)
    if not LOWEST_OCTAVE <= height <= HIGHEST_OCTAVE:
        raise ValueError(f"a pitch lies in octave {height}")
    if not alter.strip():
        return WrittenPitch(Pitch(letter, 0, height))
    try:
        exact = plain_number(alter)
    except ValueError:
        if is_trap(alter):
            raise
        fault = f"An alteration of {alter.strip()!r} cannot be read; {letter}{height} is left open"
        return WrittenPitch(Pitch(letter, 0, height), fault)
    if abs(exact) > MOST_READ_ALTER:
        raise ValueError(f"a pitch is altered by {alter.strip()}")
    whole = max(-MOST_ALTER, min(MOST_ALTER, round(exact)))
    pitch = Pitch(letter, whole, height)
    if whole == exact:
        return WrittenPitch(pitch)
    return WrittenPitch(
        pitch, f"{letter}{height} altered by {alter.strip()} is no note of the harp; left open"
    )


@lru_cache(maxsize=4096)
def sounding(pitch: Pitch, move: Interval) -> Pitch:
    """Return the written *pitch* moved by the part's transposition."""
    return pitch if move == UNISON else move.move(pitch)


@dataclass(frozen=True, slots=True)
class OrnamentSign:
    """An ornament with the accidentals at it: of the upper and of the lower neighbour."""

    name: str
    upper: int | None = None
    lower: int | None = None


_UPPER = frozenset({"trill-mark", "shake", "inverted-mordent"})
_LOWER = frozenset({"mordent"})
_BOTH = frozenset({
    "turn", "delayed-turn", "inverted-turn", "delayed-inverted-turn", "vertical-turn",
    "inverted-vertical-turn",
})  # fmt: skip
"""In MusicXML the mordent has the stroke and goes down; inverted, it goes up."""


def auxiliaries(written: Pitch, sign: OrnamentSign, key: KeyState) -> tuple[Pitch, ...]:
    """Return the written neighbours that an ornament adds, in the order in which they sound.

    They are in the key but for the accidentals at the sign.
    """
    found: list[Pitch] = []
    if sign.name in _UPPER or sign.name in _BOTH:
        found.append(_neighbour(written.line + 1, sign.upper, key))
    if sign.name in _LOWER or sign.name in _BOTH:
        found.append(_neighbour(written.line - 1, sign.lower, key))
    return tuple(reversed(found) if "inverted" in sign.name else found)


def has_upper(name: str) -> bool:
    """Whether the ornament touches the note above."""
    return name in _UPPER or name in _BOTH


def _neighbour(line: int, shown: int | None, key: KeyState) -> Pitch:
    plain = pitch_on_line(line)
    alter = key.alters[LETTERS.index(plain.step)] if shown is None else shown
    return Pitch(plain.step, alter, plain.octave)
