"""The tempo in the order of play, and performed time counted in quarters."""

from bisect import bisect_right
from dataclasses import dataclass
from itertools import zip_longest

from arrange.score.model import Score
from arrange.score.performed import Clock
from arrange.units import Microseconds, Quarters

UNSAID = Quarters(60)
"""Quarters a minute before the first tempo, as the clock has it."""


@dataclass(frozen=True, slots=True)
class Pace:
    """A tempo from a performed moment on.

    Attributes:
        place: in the playing order; *offset*: in its measure.
        time: when; *quarters*: how many have been played by then.
    """

    place: int
    offset: Quarters
    time: Microseconds
    quarters: Quarters
    quarters_per_minute: Quarters


def paces(score: Score, clock: Clock) -> tuple[Pace, ...]:
    """Return the tempi in the order of play, each where it differs from the one before."""
    found: list[Pace] = []
    signs = sorted(score.tempo, key=lambda t: (t.index, t.offset))
    places = [(t.index, t.offset) for t in signs]
    played = Quarters(0)
    lengths = measure_lengths(score)
    for place, (index, _, _) in enumerate(clock.passes):
        first = bisect_right(places, (index, Quarters(0)))
        standing = signs[first - 1].quarters_per_minute if first else UNSAID
        turns = [(Quarters(0), standing)]
        last = bisect_right(places, (index, lengths[index]))
        turns += [(t.offset, t.quarters_per_minute) for t in signs[first:last]]
        for offset, tempo in turns:
            if not found or found[-1].quarters_per_minute != tempo:
                time = clock.time(place, offset)
                found.append(Pace(place, offset, time, played + offset, tempo))
        played += lengths[index]
    return tuple(found)


def measure_lengths(score: Score) -> list[Quarters]:
    """Return how long each measure lasts: as long as its longest part."""
    rows = ([measure.length for measure in part.measures] for part in score.parts)
    return [max(column) for column in zip_longest(*rows, fillvalue=Quarters(0))]
