"""What a glissando asks of the strings: which the hand passes, and what each should sound."""

from dataclasses import dataclass, replace

from arrange.harp.harp import Harp
from arrange.pitch import LETTERS, SEMITONES, Interval, Pitch, pitch_on_line
from arrange.score.model import Score, Sweep

BEYOND = -1
"""In place of a string that the harp does not have."""


@dataclass(frozen=True, slots=True)
class SweptString:
    """One string of a sweep.

    Attributes:
        string: its place in the harp; ``BEYOND`` outside the compass.
        pitch: what it should sound, spelled with its letter.
    """

    string: int
    pitch: Pitch

    @property
    def name(self) -> str:
        """The string's letter and octave, whether the harp has it or not: ``C4``."""
        return f"{self.pitch.step}{self.pitch.octave}"

    @property
    def midi(self) -> int:
        """The key number that it should sound."""
        return self.pitch.midi

    @property
    def is_beyond(self) -> bool:
        """Whether the harp has no such string."""
        return self.string == BEYOND


def sweep_strings(sweep: Sweep, score: Score, harp: Harp) -> tuple[SweptString, ...]:
    """Return the strings that the hand passes, in order, those of start and end included.

    The strings of start and end sound what those notes say, the others the sweep's tones. Where
    the source does not say how far the glissando goes, only its first string is known.
    """
    start = score.notes_by_id[sweep.start].pitch
    end = start if sweep.end is None else score.notes_by_id[sweep.end].pitch
    tones = dict(sweep.tones)
    first = min((string.line for string in harp.strings), default=0)
    step = 1 if end.line >= start.line else -1
    passed = []
    for line in range(start.line, end.line + step, step):
        pitch = pitch_on_line(line, tones[LETTERS[line % 7]])
        if line in (start.line, end.line):
            pitch = start if line == start.line else end
        place = line - first
        passed.append(SweptString(place if 0 <= place < len(harp.strings) else BEYOND, pitch))
    return tuple(passed)


def tone_classes(sweep: Sweep) -> frozenset[int]:
    """The pitch classes that the sweep's tones give, 0 for C; five to seven of them."""
    return frozenset(
        (SEMITONES[LETTERS.index(letter)] + alter) % 12 for letter, alter in sweep.tones
    )


def transposed_tones(
    tones: tuple[tuple[str, int], ...], interval: Interval
) -> tuple[tuple[str, int], ...]:
    """Return *tones* moved by *interval*, never respelled, in the order of the letters."""
    pitches = [interval.move(Pitch(letter, alter, 4)) for letter, alter in tones]
    moved = {pitch.step: pitch.alter for pitch in pitches}
    return tuple((letter, moved[letter]) for letter in LETTERS if letter in moved)


def transposed(sweep: Sweep, interval: Interval) -> Sweep:
    """Return *sweep* with its tones moved by *interval*, as its notes are."""
    return replace(sweep, tones=transposed_tones(sweep.tones, interval))
