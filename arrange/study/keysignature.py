"""What a key signature asks of each string, and how keys are named."""

from functools import lru_cache

from arrange.harp.harp import Harp, Position
from arrange.pitch import Pitch

SHARP_ORDER = "FCGDAEB"
MAJOR = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")
MINOR = ("ab", "eb", "bb", "f", "c", "g", "d", "a", "e", "b", "f#", "c#", "g#", "d#", "a#")


def alteration(letter: str, fifths: int) -> int:
    """The sign that a key signature of *fifths* puts on *letter*: -1, 0 or 1."""
    place = SHARP_ORDER.index(letter)
    return 1 if fifths > place else -1 if fifths < place - 6 else 0


def key_name(fifths: int, mode: str) -> str:
    """``E minor`` as ``e minor``, ``Db major``: small letters for minor, as musicians write."""
    if not -7 <= fifths <= 7:
        return f"{abs(fifths)} {'sharps' if fifths > 0 else 'flats'}"
    return f"{MINOR[fifths + 7]} minor" if mode == "minor" else f"{MAJOR[fifths + 7]} major"


@lru_cache(maxsize=64)
def wanted_positions(harp: Harp, fifths: int) -> tuple[Position | None, ...]:
    """Where each string's lever stands for the key signature; None where neither place fits."""
    wanted: list[Position | None] = []
    for string in harp.strings:
        pitch = Pitch(string.letter, alteration(string.letter, fifths), string.octave)
        if string.raised is None:
            wanted.append(None)
        elif string.open.midi == pitch.midi:
            wanted.append(Position.DOWN)
        else:
            wanted.append(Position.UP if string.raised.midi == pitch.midi else None)
    return tuple(wanted)
