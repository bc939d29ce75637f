"""When things sound: the clock over the order of play."""

from bisect import bisect_right
from fractions import Fraction
from math import lcm

from arrange.memory import remembered
from arrange.score.model import Score, Tempo
from arrange.units import SECOND, Microseconds, Quarters

Pass = tuple[int, int, Microseconds]
"""A measure as it is played: its index, its occurrence from 1, when it begins."""

_Segment = tuple[Quarters, Fraction, Fraction]
"""From an offset on: time since the measure's start, and time a quarter, in microseconds."""


class Clock:
    """Performed time of every printed place, exact until it is rounded once.

    Attributes:
        passes: the measures in playing order: index, occurrence from 1, start.
    """

    def __init__(self, score: Score) -> None:
        lengths = _lengths(score)
        table = _segments(score.tempo, lengths)
        scale = lcm(
            1, *(f.denominator for segments, end in table for f in _fractions(segments, end))
        )
        self._scale = scale
        self._breaks = [tuple(segment[0] for segment in segments) for segments, _ in table]
        self._lines = [
            tuple(_line(segment, scale) for segment in segments) for segments, _ in table
        ]
        self._starts: list[int] = []
        self._occurrences: dict[int, tuple[int, ...]] = {}
        passes: list[Pass] = []
        now = 0
        for place, index in enumerate(score.performed):
            before = self._occurrences.get(index, ())
            self._occurrences[index] = (*before, place)
            self._starts.append(now)
            passes.append((index, len(before) + 1, _rounded(now, scale)))
            now += _whole(table[index][1], scale)
        self.passes: tuple[Pass, ...] = tuple(passes)
        self.end: Microseconds = _rounded(now, scale)

    def time(self, place: int, offset: Quarters) -> Microseconds:
        """Return when *offset* of the pass number *place* sounds."""
        index = self.passes[place][0]
        lines = self._lines[index]
        if len(lines) == 1:
            base, slope, divisor = lines[0]
        else:
            base, slope, divisor = lines[max(bisect_right(self._breaks[index], offset) - 1, 0)]
        denominator = offset.denominator
        exact = (self._starts[place] + base) * divisor * denominator + slope * offset.numerator
        return _rounded(exact, self._scale * divisor * denominator)

    def occurrences(self, index: int) -> tuple[int, ...]:
        """Return the passes in which the measure *index* is played."""
        return self._occurrences.get(index, ())


@remembered
def clock_of(score: Score) -> Clock:
    """The clock of a score; asked again soon, it is the same one."""
    return Clock(score)


def _lengths(score: Score) -> list[Quarters]:
    """How long each measure lasts: as long as its longest part."""
    count = max((len(part.measures) for part in score.parts), default=0)
    lengths = [Quarters(0)] * count
    for part in score.parts:
        for i, measure in enumerate(part.measures):
            if measure.length is not lengths[i] and measure.length > lengths[i]:
                lengths[i] = measure.length
    return lengths


def _segments(
    tempo: tuple[Tempo, ...], lengths: list[Quarters]
) -> list[tuple[list[_Segment], Fraction]]:
    """For each measure its stretches of one tempo, and how long it lasts."""
    table: list[tuple[list[_Segment], Fraction]] = []
    upcoming = 0
    pace = Fraction(60 * SECOND)
    for index, length in enumerate(lengths):
        segments: list[_Segment] = []
        at, time = Quarters(0), Fraction(0)
        while upcoming < len(tempo) and tempo[upcoming].index <= index:
            change = tempo[upcoming]
            upcoming += 1
            place = min(change.offset, length)
            if change.index == index and place > at:
                segments.append((at, time, pace))
                time += (place - at) * pace
                at = place
            pace = Fraction(60 * SECOND) / change.quarters_per_minute
        segments.append((at, time, pace))
        table.append((segments, time + (length - at) * pace))
    return table


def _fractions(segments: list[_Segment], end: Fraction) -> list[Fraction]:
    return [end, *(base - at * pace for at, base, pace in segments)]


def _line(segment: _Segment, scale: int) -> tuple[int, int, int]:
    """A stretch as whole numbers: time = (base + slope * offset / divisor) / scale."""
    at, base, pace = segment
    return _whole(base - at * pace, scale), pace.numerator * scale, pace.denominator


def _whole(value: Fraction, scale: int) -> int:
    return value.numerator * (scale // value.denominator)


def _rounded(numerator: int, denominator: int) -> Microseconds:
    """To the nearest; ties to even."""
    quotient, rest = divmod(numerator, denominator)
    double = 2 * rest
    if double > denominator or (double == denominator and quotient % 2):
        return quotient + 1
    return quotient
