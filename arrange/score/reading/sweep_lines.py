"""Which note a glissando line leaves, and which it reaches: starts and stops find each other.

Numbers are reused, unmatched or missing in real scores, so a stop takes the start that agrees
best: in number, then in voice, in staff, then the latest, then the lowest.
"""

from dataclasses import dataclass

from arrange.score.model import Notation, Sign
from arrange.score.reading.harp_notes import HarpNotes, Placed
from arrange.units import Quarters

MEASURES_APART = 4
"""A stop that lies further on belongs to another line (house judgement)."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line from a note; *end* None where no stop was found; *other_number*: they differ."""

    start: Placed
    sign: Sign
    end: Placed | None
    other_number: bool = False


@dataclass(slots=True)
class _Open:
    start: Placed
    notation: Notation


class LinePairing:
    """Pairs the starts and stops of one harp."""

    def __init__(self, harp: HarpNotes, measures: list[int]) -> None:
        self.strokes: list[Stroke] = []
        self.loose_stops: list[Placed] = []
        self._open: list[_Open] = []
        signed = [
            (placed, notation)
            for index in measures
            for placed in harp.placed(index)
            for notation in placed.note.notations
            if notation.sign in (Sign.GLISSANDO, Sign.SLIDE)
        ]
        # At one moment stops come first (a note may end one line and begin another), and low
        # notes before high ones.
        signed.sort(
            key=lambda s: (s[0].moment, s[1].type != "stop", s[0].note.pitch.midi, s[0].order)
        )
        for placed, notation in signed:
            if notation.type == "start":
                self._begin(placed, notation)
            elif notation.type == "stop":
                self._end(placed, notation)
        self._close(self._open)
        self.strokes.sort(key=lambda stroke: stroke.start[:5])

    def _begin(self, placed: Placed, notation: Notation) -> None:
        """A voice that begins a line again has ended the one before, without a stop."""
        self._close(
            [
                o
                for o in self._open
                if o.start.voice == placed.voice
                and o.notation.sign is notation.sign
                and o.start.moment < placed.moment
            ]
        )
        self._open.append(_Open(placed, notation))

    def _end(self, placed: Placed, notation: Notation) -> None:
        fitting = [
            o
            for o in self._open
            if o.notation.sign is notation.sign
            and o.start.moment < placed.moment
            and o.start.at >= placed.at - MEASURES_APART
        ]
        if not fitting:
            self.loose_stops.append(placed)
            return
        found = min(fitting, key=lambda o: _distance(o, placed, notation))
        self._open.remove(found)
        other_number = found.notation.number != notation.number
        self.strokes.append(Stroke(found.start, notation.sign, placed, other_number))

    def _close(self, without_stop: list[_Open]) -> None:
        for line in without_stop:
            self.strokes.append(Stroke(line.start, line.notation.sign, None))
        closed = [id(line) for line in without_stop]
        self._open = [line for line in self._open if id(line) not in closed]


def _distance(
    line: _Open, stop: Placed, notation: Notation
) -> tuple[bool, bool, bool, int, Quarters]:
    """How badly a start and a stop agree; the latest and lowest of equals come first."""
    start = line.start
    return (
        line.notation.number != notation.number,
        start.voice != stop.voice,
        start.note.staff != stop.note.staff,
        stop.at - start.at,
        -start.offset,
    )
