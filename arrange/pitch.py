"""Spelled pitches and intervals, exact; middle C is C4."""

import re
from dataclasses import dataclass
from functools import lru_cache

from arrange.errors import BadInput

LETTERS = "CDEFGAB"
SEMITONES = (0, 2, 4, 5, 7, 9, 11)
_INDEX = {letter: i for i, letter in enumerate(LETTERS)}
_PITCH = re.compile(r"([A-Ga-g])(#{1,6}|b{1,6})?(-?\d+)")
_INTERVAL = re.compile(r"(-)?([PMmAd]+)(\d+)")
_PERFECT = frozenset({0, 3, 4})


@dataclass(frozen=True, slots=True)
class Pitch:
    """A spelled pitch.

    Attributes:
        step: the letter, ``C`` to ``B``.
        alter: semitones of alteration, -1 is flat; whole semitones only.
        octave: scientific; the octave of the letter, so B#3 sounds as C4.
    """

    step: str
    alter: int
    octave: int

    @property
    def midi(self) -> int:
        """The sounding key number, C4 is 60 (MIDI 1.0)."""
        return SEMITONES[_INDEX[self.step]] + self.alter + 12 * (self.octave + 1)

    @property
    def pitch_class(self) -> int:
        """0 for C to 11 for B."""
        return self.midi % 12

    @property
    def line(self) -> int:
        """The diatonic place, C0 is 0, one a letter: what staff lines and strings count."""
        return _INDEX[self.step] + 7 * self.octave

    @property
    def name(self) -> str:
        """Letter and sign without the octave: ``F#``."""
        return self.step + ("#" * self.alter if self.alter > 0 else "b" * -self.alter)

    def __str__(self) -> str:
        return f"{self.name}{self.octave}"

    @classmethod
    def parse(cls, text: str) -> "Pitch":
        """Read ``C#4``, ``Bb3``, ``F##5``.

        Raises:
            BadInput: the text is no pitch.
        """
        match = _PITCH.fullmatch(text.strip())
        if match is None:
            raise BadInput(f"{text!r} is no pitch; write a letter, # or b, and an octave: Bb3")
        sign = match[2] or ""
        return cls(match[1].upper(), sign.count("#") - sign.count("b"), int(match[3]))


def pitch_on_line(line: int, alter: int = 0) -> Pitch:
    """Return the pitch at diatonic place *line* (C0 is 0)."""
    return Pitch(LETTERS[line % 7], alter, line // 7)


@lru_cache(maxsize=4096)
def spelled(midi: int, line: int) -> Pitch:
    """Return the key number *midi* spelled with the letter at diatonic place *line*."""
    plain = pitch_on_line(line)
    return Pitch(plain.step, midi - plain.midi, plain.octave)


@dataclass(frozen=True, slots=True)
class Interval:
    """A directed interval.

    Attributes:
        steps: diatonic steps, -1 is a second down.
        semitones: chromatic steps, negative for down.
    """

    steps: int
    semitones: int

    def move(self, pitch: Pitch) -> Pitch:
        """Return *pitch* moved by this interval, never respelled."""
        return spelled(pitch.midi + self.semitones, pitch.line + self.steps)

    @property
    def fifths(self) -> int:
        """How many places on the circle of fifths the interval moves a key."""
        return 7 * self.semitones - 12 * self.steps

    def __str__(self) -> str:
        down = self.steps < 0 or (self.steps == 0 and self.semitones < 0)
        steps, semitones = (-self.steps, -self.semitones) if down else (self.steps, self.semitones)
        octaves, simple = divmod(steps, 7)
        off = semitones - 12 * octaves - SEMITONES[simple]
        return f"{'-' if down else ''}{_quality(simple, off)}{steps + 1}"

    @classmethod
    def parse(cls, text: str) -> "Interval":
        """Read ``m3``, ``-P4``, ``A1``.

        Raises:
            BadInput: the text is no interval.
        """
        match = _INTERVAL.fullmatch(text.strip())
        if match is None or match[3] == "0":
            raise BadInput(f"{text!r} is no interval; write quality and number: m3, -P4")
        octaves, simple = divmod(int(match[3]) - 1, 7)
        off = _offset(match[2], simple)
        if off is None:
            raise BadInput(f"{text!r} is no interval: a {match[3]} cannot be {match[2]!r}")
        steps, semitones = simple + 7 * octaves, SEMITONES[simple] + off + 12 * octaves
        return cls(-steps, -semitones) if match[1] else cls(steps, semitones)


UNISON = Interval(0, 0)


def _quality(simple: int, off: int) -> str:
    if simple in _PERFECT:
        return "P" if off == 0 else ("A" * off if off > 0 else "d" * -off)
    return "M" if off == 0 else ("A" * off if off > 0 else "m" if off == -1 else "d" * (-off - 1))


def _offset(quality: str, simple: int) -> int | None:
    """Semitones away from the major or perfect size; None where the two do not go together."""
    if set(quality) == {"A"}:
        return len(quality)
    if set(quality) == {"d"}:
        return -len(quality) - (0 if simple in _PERFECT else 1)
    plain = {"P": 0} if simple in _PERFECT else {"M": 0, "m": -1}
    return plain.get(quality)


def interval_between(low: Pitch, high: Pitch) -> Interval:
    """Return the interval that moves *low* to *high*."""
    return Interval(high.line - low.line, high.midi - low.midi)
