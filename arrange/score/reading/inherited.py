"""What a measure inherits from the one before it."""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from arrange.pitch import Interval
from arrange.quick import quickly_made
from arrange.score.model import Clef, Meter
from arrange.units import Quarters

Divisions = int | Fraction
"""A count of divisions; a fraction only where a file has decimals."""

ZERO = Quarters(0)
FOUR_FOUR = Meter()


@lru_cache(maxsize=1 << 16)
def quarters(count: Divisions, divisions: Divisions) -> Quarters:
    """Return *count* divisions in quarters."""
    return Quarters(count, divisions)


@dataclass(frozen=True, slots=True)
class KeyState:
    """A key signature: *fifths*, *mode* ("" if not said), alteration by letter C to B."""

    fifths: int
    mode: str
    alters: tuple[int, ...]


def alters_of(fifths: int) -> tuple[int, ...]:
    """The alteration of each letter, C to B, that *fifths* sharps (or flats) make."""
    order = (3, 0, 4, 1, 5, 2, 6)  # F C G D A E B among the letters from C
    alters = [0] * 7
    for i in range(abs(fifths)):
        alters[order[i % 7] if fifths > 0 else order[6 - i % 7]] += 1 if fifths > 0 else -1
    return tuple(alters)


NO_KEY = KeyState(0, "", (0,) * 7)


@quickly_made
@dataclass(frozen=True, slots=True)
class Inherited:
    """What a measure takes over from the one before it; by staff, 0 means every staff.

    Attributes:
        divisions: a quarter's; 0 where none have been given yet.
        repeats: staff, first index and pattern length of each running measure-repeat.
        octave_lines: staff and number of the octave lines that are open.
        has_meter: a time signature has been seen.
    """

    divisions: Divisions = 0
    staves: int = 1
    meter: Meter = FOUR_FOUR
    has_meter: bool = False
    keys: tuple[tuple[int, KeyState], ...] = ((0, NO_KEY),)
    clefs: tuple[Clef, ...] = ()
    transpositions: tuple[tuple[int, Interval], ...] = ()
    octave_lines: tuple[tuple[int, str], ...] = ()
    repeats: tuple[tuple[int, int, int], ...] = ()
