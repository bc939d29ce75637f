"""How fast a hand strikes, and how fast a player's hand can.

What counts is a run of strokes, not a single quick note: the mean over four strokes in a row
(house judgement). A chord is one stroke; grace notes are none.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from arrange.hands.player import Player
from arrange.score.model import HandName, Score, StaffHand, Tempo
from arrange.study.timeline import Timeline, timeline

RUN = 3
"""Gaps between the strokes of a run."""
USUAL_TEMPO = Fraction(60)
"""Where the score has no tempo at all."""


class Paces:
    """The least time between two strokes of one hand, by measure, in ticks.

    Attributes:
        leap_strings: the widest leap within a beat.
    """

    def __init__(self, score: Score, line: Timeline, player: Player) -> None:
        self._places = [(t.index, t.offset) for t in score.tempo]
        self._tempo = score.tempo
        self._limit = player.notes_a_second
        self.leap_strings = player.leap_strings
        self._quarter = line.quarter
        self._needs: dict[int, Fraction] = {}

    def need(self, index: int) -> Fraction:
        """Ticks from stroke to stroke in measure *index*, at its fastest tempo."""
        known = self._needs.get(index)
        if known is None:
            known = self._needs[index] = self.second(index) / self._limit
        return known

    def second(self, index: int) -> Fraction:
        """Ticks in a second of measure *index*, at its fastest tempo."""
        return self._quarter * max(self._in_force(index)) / 60

    def _in_force(self, index: int) -> list[Fraction]:
        first = bisect_right(self._places, (index, Fraction(0))) - 1
        last = bisect_left(self._places, (index + 1, Fraction(0)))
        here = self._tempo[max(first, 0) : last]
        return [t.quarters_per_minute for t in here] or [USUAL_TEMPO]


def strokes(line: Timeline, hand: HandName) -> list[tuple[int, int]]:
    """Each moment at which *hand* strikes, in ticks, and its measure; in order."""
    found = {n.start: n.index for n in line.notes if n.hand is hand and not n.is_grace}
    return sorted(found.items())


def crowded(row: Sequence[tuple[int, int]], paces: Paces) -> Iterator[tuple[int, Fraction]]:
    """Where each run that is too fast begins in *row*, and its share of the tempo that works."""
    for i in range(len(row) - RUN):
        start, index = row[i]
        need = RUN * paces.need(index)
        if row[i + RUN][0] - start < need:
            yield i, (row[i + RUN][0] - start) / need


@dataclass(frozen=True, slots=True)
class TooFast:
    """A stretch of one tempo that is too fast for the player.

    Attributes:
        tempo: the tempo that is in force; *works*: quarters a minute at which it can be played.
        hand: whose run is the worst; *index*: its measure.
    """

    tempo: Tempo
    works: int
    hand: HandName
    index: int


def too_fast(score: Score, staves: tuple[StaffHand, ...], player: Player) -> tuple[TooFast, ...]:
    """For each stretch of one tempo, the worst run that is too fast, if there is one."""
    line = timeline(score, staves)
    paces = Paces(score, line, player)
    worst: dict[int, tuple[Fraction, HandName, int]] = {}
    places = [(t.index, t.offset) for t in score.tempo]
    for hand in HandName:
        row = strokes(line, hand)
        for i, share in crowded(row, paces):
            index = row[i][1]
            number = max(bisect_left(places, (index + 1, Fraction(0))) - 1, 0)
            if number not in worst or share < worst[number][0]:
                worst[number] = (share, hand, index)
    return tuple(
        TooFast(score.tempo[n], int(share * score.tempo[n].quarters_per_minute), hand, index)
        for n, (share, hand, index) in sorted(worst.items())
        if score.tempo
    )
