"""What each hand plucks, moment by moment, as it is played."""

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from arrange.check.timeline import Act
from arrange.pitch import Pitch
from arrange.score.model import HandName
from arrange.teach.piece import Piece
from arrange.units import SECOND, Microseconds, Quarters

FAR: Microseconds = 8 * SECOND
"""What lies further away is no part of a gesture (house judgement)."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """What a hand plucks at one moment: *place* in the playing order, pitches from below."""

    time: Microseconds
    place: int
    index: int
    offset: Quarters
    pitches: tuple[Pitch, ...]


Around = tuple[Stroke | None, Stroke | None]
"""What a hand plays last before something, and first after it; None where that is far."""


class Strokes:
    """The strokes of both hands, in order of time."""

    def __init__(self, piece: Piece) -> None:
        self._piece = piece
        self.rows: Mapping[HandName, Sequence[Stroke]] = {
            hand: self._row(hand) for hand in HandName
        }
        self._times = {hand: [s.time for s in row] for hand, row in self.rows.items()}

    def _row(self, hand: HandName) -> list[Stroke]:
        piece = self._piece
        own = [s for s in piece.struck if piece.printed[s.pluck].hand is hand]
        found = []
        for time, moment in groupby(own, key=lambda s: s.time):
            together = list(moment)
            plucks = sorted((piece.printed[s.pluck] for s in together), key=lambda p: p.pitch.midi)
            first, pitches = plucks[0], tuple(p.pitch for p in plucks)
            place = together[0].pass_index
            found.append(Stroke(time, place, first.index, first.offset, pitches))
        return found

    def between(self, hand: HandName, begin: Microseconds, end: Microseconds) -> Sequence[Stroke]:
        """What a hand plays from *begin* on, before *end*."""
        times = self._times[hand]
        return self.rows[hand][bisect_left(times, begin) : bisect_left(times, end)]

    def around(self, act: Act) -> Around:
        """What the hand plays before and after it moves a lever."""
        row = self.rows[act.instruction.hand]
        place = bisect_left(self._times[act.instruction.hand], act.time)
        before = row[place - 1] if place else None
        after = row[place] if place < len(row) else None
        if before is not None and act.time - before.time > FAR:
            before = None
        if after is not None and after.time - act.time > FAR:
            after = None
        return before, after

    def at(self, place: int, offset: Quarters) -> tuple[int, Quarters]:
        """The measure, and the place in it, *offset* after the pass number *place* begins."""
        passes, measures = self._piece.clock.passes, self._piece.measures
        while offset < 0 and place:
            place -= 1
            offset += measures[passes[place][0]].length
        while place + 1 < len(passes) and offset >= measures[passes[place][0]].length:
            offset -= measures[passes[place][0]].length
            place += 1
        return passes[place][0], offset

    def apart(self, stroke: Stroke, place: int) -> Quarters:
        """Where a stroke lies, in quarters from the beginning of the pass number *place*."""
        step = 1 if stroke.place >= place else -1
        distance = Quarters(0)
        while place != stroke.place:
            index = self._piece.clock.passes[place if step > 0 else place - 1][0]
            distance += step * self._piece.measures[index].length
            place += step
        return distance + stroke.offset
