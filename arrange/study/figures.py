"""Broken-chord figures: where a voice plays a chord one note after another.

A stretch from one strong beat to the next is a figure where a voice has at least three single
notes of one length there, none longer than an eighth in a quarter beat, and two thirds of their
steps are leaps of a third or more over at most five different tones. House judgement; scales,
which move by step, and melodies, whose lengths differ, are none.
"""

from itertools import groupby, pairwise

from arrange.memory import remembered
from arrange.study.timeline import Stream, Timeline, Unit, end_of, main_notes

FEWEST = 3
MOST_TONES = 5
LEAP = 3
"""Semitones."""


@remembered
def figures(line: Timeline) -> frozenset[tuple[Stream, int]]:
    """Return the voices and stretches (by number) in which they play broken chords."""
    found: set[tuple[Stream, int]] = set()
    for stream, units in line.streams.items():
        for span, row in groupby(units, lambda unit: line.span(unit[0].start)):
            if _is_figure(list(row), line.quarter):
                found.add((stream, span))
    return frozenset(found)


def _is_figure(units: list[Unit], quarter: int) -> bool:
    if len(units) < FEWEST:
        return False
    mains = [main_notes(unit) for unit in units]
    lengths = {end_of(unit) - unit[0].start for unit in units}
    if any(len(notes) > 1 for notes in mains) or len(lengths) > 1 or lengths.pop() * 2 > quarter:
        return False
    pitches = [notes[0].midi for notes in mains]
    leaps = sum(1 for one, other in pairwise(pitches) if abs(other - one) >= LEAP)
    return leaps * 3 >= (len(pitches) - 1) * 2 and len({p % 12 for p in pitches}) <= MOST_TONES
