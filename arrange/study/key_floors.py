"""What the levers cost at least in a key, told string by string, for all keys together.

A string of a key sounds two pitches of the source. The row of their strikes is the same in every
key that puts them on a string; what differs is how long that string rings and who reaches it.
So a row is worked out once and serves every key, but for the notes that are folded there: they
are left out, which only lowers the bound.

The bound of a row: strikes of one pitch in a row are a run. From one run to the next the lever
moves, at the lowest price that the time between them offers; where there is no time, the last
strikes of the one and the first of the other are not played, and pay for that; or a run is not
played at all. Notes that two strings could give ask nothing of either. A run is either played
or not, so the cheapest way up to each run follows from those up to the two before it.
"""

from bisect import bisect_left
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from arrange.hands.windows import MARGIN, reach_class
from arrange.harp.harp import Harp, HarpString, Position
from arrange.levers.problem import Cost
from arrange.levers.timetable import Level, Timetable
from arrange.pitch import Interval
from arrange.score.plucks import Strike, locked_until
from arrange.study.keysignature import wanted_positions
from arrange.study.planning import Ground
from arrange.study.repairs import Repairs
from arrange.study.terms import Terms
from arrange.units import Microseconds

NEVER: Cost = 1 << 40


@dataclass(slots=True)
class _Run:
    """Strikes of one pitch, the other pitch of the string not between them.

    Attributes:
        raised: 1 where they want the lever up.
        struck: the strikes, each with what it costs not to play it; *skipped*: their sum.
    """

    raised: int
    struck: list[tuple[Strike, Cost]]
    skipped: Cost


_Row = tuple[int | None, int | None, int, Microseconds, bool]
"""The source's key numbers that a string gives down and up, its reach class, how long it rings,
whether its lever may be moved."""


class KeyFloors:
    """The bounds of one harp's keys.

    Args:
        basis: each measure played once.
        fifths: the source's key signature at the start.
    """

    def __init__(
        self, basis: Ground, repairs: Repairs, terms: Terms, timetable: Timetable, fifths: int
    ) -> None:
        self._basis = basis
        self._terms = terms
        self._timetable = timetable
        self._fifths = fifths
        self._struck = self._by_key_number(repairs)
        self._rows: dict[_Row, tuple[Cost, Cost]] = {}

    def _by_key_number(self, repairs: Repairs) -> dict[int, list[tuple[Strike, Cost]]]:
        """The strikes of each pitch, with what it costs not to play them: once a printed note."""
        basis = self._basis
        paid: set[int] = set()
        found: dict[int, list[tuple[Strike, Cost]]] = {}
        for strike in basis.strikes:
            price = repairs.spared(basis.plucks[strike.pluck])
            if price is None:
                continue
            note = basis.printed.note_of[strike.pluck]
            midi = basis.plucks[strike.pluck].pitch.midi
            found.setdefault(midi, []).append((strike, 0 if note in paid else price))
            paid.add(note)
        return found

    def floor(self, interval: Interval, folded: AbstractSet[int]) -> Cost:
        """Return what no plan of the key undercuts; *folded* are plucks that folding changes."""
        harp, prices = self._terms.harp, self._terms.prices
        wanted = wanted_positions(harp, self._fifths + interval.fifths)
        touched = {self._basis.plucks[i].pitch.midi for i in folded}
        total = 0
        for string, position in zip(harp.strings, wanted, strict=True):
            row = self._row(string, harp, interval.semitones)
            if row[0] not in self._struck and row[1] not in self._struck:
                continue
            if touched and not touched.isdisjoint(row[:2]):
                down, up = self._least(row, folded)
            elif row in self._rows:
                down, up = self._rows[row]
            else:
                down, up = self._rows[row] = self._least(row, frozenset())
            down += prices.preset if position is Position.UP else 0
            up += prices.preset if position is Position.DOWN else 0
            total += down if string.raised is None else min(down, up)
        return total + self._homeless(harp, interval.semitones, folded)

    def _homeless(self, harp: Harp, semitones: int, folded: AbstractSet[int]) -> Cost:
        """What the notes cost that no string gives."""
        return sum(
            price
            for midi, struck in self._struck.items()
            if not harp.homes(midi + semitones)
            for strike, price in struck
            if strike.pluck not in folded
        )

    def _row(self, string: HarpString, harp: Harp, semitones: int) -> _Row:
        lowest = self._terms.player.moves_lowest
        place = harp.string_named(lowest) if lowest else None
        may_move = place is None or string.line >= harp.strings[place].line
        sounding = [
            pitch.midi - semitones if pitch and len(harp.homes(pitch.midi)) == 1 else None
            for pitch in (string.open, string.raised)
        ]
        lock = self._terms.player.ring_lock(string.octave) + MARGIN
        return sounding[0], sounding[1], reach_class(string.octave), lock, may_move

    def _least(self, row: _Row, folded: AbstractSet[int]) -> tuple[Cost, Cost]:
        """Return what a row costs at least, the lever starting down, and up."""
        runs = self._runs(row, folded)
        if not runs:
            return 0, 0
        levels = self._timetable.levels(row[2]) if row[4] else ()
        cheapest = levels[0].price if levels else NEVER
        played, later = 0, 0
        for place in range(len(runs) - 1, 0, -1):
            run = runs[place]
            switch = self._switch(runs[place - 1], run, row)
            played, later = min(switch + played, run.skipped + later), played
        moved = min(cheapest + played, runs[0].skipped + later)
        return (moved, played) if runs[0].raised else (played, moved)

    def _switch(self, before: _Run, after: _Run, row: _Row) -> Cost:
        """What it costs at least to play both runs, or some of each."""
        levels = self._timetable.levels(row[2]) if row[4] else ()
        best, spared = NEVER, 0
        for strike, price in reversed(before.struck):
            lock = locked_until(strike, self._basis.plucks[strike.pluck], row[3])
            waived = spared
            for following, its_price in after.struck:
                if not levels or waived + levels[0].price >= best:
                    break
                best = min(best, waived + _price(levels, (strike.time, lock), following.time))
                waived += its_price
            spared += price
            if spared >= best:
                break
        return best

    def _of(self, midi: int | None) -> list[tuple[Strike, Cost]]:
        return [] if midi is None else self._struck.get(midi, [])

    def _runs(self, row: _Row, folded: AbstractSet[int]) -> list[_Run]:
        struck = [
            (strike.time, raised, strike, price)
            for raised in (0, 1)
            for strike, price in self._of(row[raised])
            if strike.pluck not in folded
        ]
        if row[0] in self._struck and row[1] in self._struck:
            struck.sort(key=lambda one: one[:2])
        runs: list[_Run] = []
        for _, raised, strike, price in struck:
            if not runs or runs[-1].raised != raised:
                runs.append(_Run(raised, [], 0))
            runs[-1].struck.append((strike, price))
            runs[-1].skipped += price
        return runs


def _price(
    levels: tuple[Level, ...], since: tuple[Microseconds, Microseconds], until: Microseconds
) -> Cost:
    """The lowest price of a move after a strike and its lock, no later than *until*."""
    struck, lock = since
    for level in levels:
        place = bisect_left(level.times, max(struck + 1, lock + level.move))
        if place < len(level.times) and level.times[place] <= until:
            return level.price
    return NEVER
