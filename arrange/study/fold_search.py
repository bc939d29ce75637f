"""The cheapest way to bring each phrase onto the strings.

The problem, for a phrase that leaves the compass: a row of units (notes struck together), each
moved by some whole number of octaves. A phrase moves as a whole where it can; it may part at
seams, each with its price; nothing parts a dominant from its tonic. Octaves doubled lose the
note that does not exist. A folded note neither strikes a string that still sounds, nor crosses
between bass and melody; near neighbours in the deep bass cost (no thirds below C3, below G2
octaves and fifths only).

Recurrence: the least cost up to unit i, having moved it by k octaves, with what the run of k and
the doublings have already paid, is the least over unit i - 1 of its cost, plus the seam where k
changes, plus what i costs at k. States: octaves (at most 5) by whether the run of k is longer
than one unit by whether a doubling was dropped before; so 20 states, linear in the units.
Exact, since every cost belongs to one unit or to two neighbours given these states. Ties: fewer
notes moved, then the octave nearer to the written one.
"""

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from arrange.score.model import EventId
from arrange.study.leading import Role
from arrange.study.phrases import Phrase
from arrange.study.strands import IMPOSSIBLE, Strand, Texture
from arrange.study.terms import Terms
from arrange.study.timeline import Sounding

NO_THIRDS_BELOW, OCTAVES_AND_FIFTHS_BELOW = 48, 43
"""Key numbers of C3 and G2 (house judgement)."""
CLOSE = 100
"""Two notes too close together in the deep bass."""
FURTHER = 10
"""A doubling after the first of a phrase costs one tenth of it: it is one decision."""
TIE = 1024
"""Costs are multiplied by this, so that moved notes break ties."""


FOLDING = "fold-into-compass"
"""The rule that weighs these ways."""
STAY, PARTS = "stay", "parts"
"""Keys of ways: nothing moves; parts of the phrase move, each its own way. Where all of it
moves, the key says by how many octaves: ``whole+1``."""


@dataclass(frozen=True, slots=True)
class FoldWay:
    """A way to treat a phrase, and its cost in hundredths of a move."""

    key: str
    cost: int


@dataclass(frozen=True, slots=True)
class Fold:
    """What happens to one phrase.

    Attributes:
        moved: notes and the octaves that they move.
        dropped: doublings left out; *open*: notes that stay outside.
        is_whole: every note of the phrase moves alike.
        weighed: the ways that there were, this one first.
    """

    phrase: Phrase
    moved: tuple[tuple[Sounding, int], ...]
    dropped: tuple[Sounding, ...]
    open: tuple[Sounding, ...]
    cost: int
    weighed: tuple[FoldWay, ...] = ()

    @property
    def is_whole(self) -> bool:
        """Whether all notes of the phrase that are kept move alike."""
        kept = len(self.phrase.notes) - len(self.dropped)
        return len(self.moved) == kept and len({octaves for _, octaves in self.moved}) == 1


@dataclass(frozen=True, slots=True)
class Bounds:
    """The compass in the score's own key numbers; *semitones*: the transposition."""

    low: int
    high: int
    semitones: int

    def has(self, midi: int) -> bool:
        """Whether a string sounds that key number, by its place alone."""
        return self.low <= midi <= self.high


@dataclass(frozen=True, slots=True)
class _Step:
    """A unit at some octave: its price without seams, and what becomes of its notes."""

    cost: int
    dropped: tuple[Sounding, ...]
    open: tuple[Sounding, ...]


IDLE = _Step(0, (), ())
"""A unit that stays, inside the compass."""

_State = tuple[int, bool, bool]
"""Octaves, whether the run of them is longer than one unit, whether a doubling was dropped."""


class FoldSearch:
    """Folds the phrases of one harp in one key, one after another.

    *weighs* asks for the other ways as well.
    """

    def __init__(self, cloth: Texture, bounds: Bounds, terms: Terms, *, weighs: bool) -> None:
        self._cloth = cloth
        self._bounds = bounds
        self._prices = terms.prices
        self._stays = terms.decided.stays
        self._chosen = terms.decided.chosen(FOLDING)
        self._weighs = weighs
        self._moved: dict[tuple[int, int], list[Sounding]] = {}
        """Folded notes by the string that they now take and each measure that they sound in."""
        self._steps: dict[tuple[Strand, int, int], _Step] = {}
        """What is known of the phrase in hand."""

    def fold(self, phrase: Phrase, ways: tuple[tuple[Strand, ...], ...]) -> Fold:
        """Take the phrase the cheapest way, or the one that an editor chose."""
        self._steps.clear()
        solved = [[(strand, *self._best(strand)) for strand in way] for way in ways]
        best = min(solved, key=_whole_cost)
        chosen = chosen_of(phrase, self._chosen)
        others: dict[str, _Solved] = {}
        if self._weighs or chosen:
            others = {_key(found): found for found in self._alike_all(min(ways, key=len))}
            others.pop(_key(best), None)
        if chosen in others:
            others[_key(best)], best = best, others.pop(chosen)
        weighed = (FoldWay(_key(w), _whole_cost(w) // TIE) for w in (best, *others.values()))
        moved: list[tuple[Sounding, int]] = []
        dropped: list[Sounding] = []
        left: list[Sounding] = []
        for strand, _, octaves in best:
            for i, by in enumerate(octaves):
                step = self._step(strand, i, by)
                dropped.extend(step.dropped)
                left.extend(step.open)
                if by:
                    gone = {*step.dropped, *step.open}
                    moved.extend((n, by) for n in strand.units[i] if n not in gone)
        for note, by in moved:
            for measure in range(note.index, self._measure(note.end - 1) + 1):
                self._moved.setdefault((note.line + 7 * by, measure), []).append(note)
        total = _whole_cost(best) // TIE
        return Fold(phrase, tuple(moved), tuple(dropped), tuple(left), total, tuple(weighed))

    def _alike_all(self, way: tuple[Strand, ...]) -> "Iterator[_Solved]":
        """The ways in which the whole phrase moves alike, or nothing does."""
        shifts = dict.fromkeys(by for strand in way for by in self._shifts(strand, further=0))
        for by in shifts:
            found = [
                (strand, self._alike(strand, by, IMPOSSIBLE), [by] * len(strand.units))
                for strand in way
            ]
            if _whole_cost(found) < IMPOSSIBLE:
                yield found

    def _measure(self, tick: int) -> int:
        return bisect_right(self._cloth.line.starts, tick) - 1

    def _best(self, strand: Strand) -> tuple[int, list[int]]:
        """The least cost, and the octaves of each unit."""
        bounds = self._bounds
        if bounds.has(strand.low) and bounds.has(strand.high):
            return 0, [0] * len(strand.units)
        cost, octaves = self._solved(strand, self._shifts(strand, further=0))
        if cost >= self._prices.open_outer * TIE:
            cost, octaves = self._solved(strand, self._shifts(strand, further=1))
        return cost, octaves

    def _solved(self, strand: Strand, shifts: tuple[int, ...]) -> tuple[int, list[int]]:
        """The cheapest way among *shifts*; no parting is tried where none can be cheaper."""
        count = len(strand.units)
        least = (self._prices.octave + min(strand.seams[1:], default=0)) * TIE
        cost, _, by = min((self._alike(strand, by, least), abs(by), by) for by in shifts)
        if count == 1 or cost <= least:
            return cost, [by] * count
        return self._parted(strand, shifts)

    def _alike(self, strand: Strand, by: int, least: int) -> int:
        """What the strand costs where all units move alike; past *least*, only a part of it."""
        state, total = (0, False, False), 0
        for i in range(len(strand.units)):
            step = self._step(strand, i, by)
            if step is IDLE:
                continue
            if step.cost >= IMPOSSIBLE:
                return IMPOSSIBLE
            state, price = self._entered(state, by, 0, step, is_first=not i)
            total += price
            if total > least and i:
                return total
        return total

    def _parted(self, strand: Strand, shifts: tuple[int, ...]) -> tuple[int, list[int]]:
        standing: dict[_State, int] = {(0, False, False): 0}
        trail: list[dict[_State, _State]] = []
        for i, seam in enumerate(strand.seams):
            reached: dict[_State, int] = {}
            origin: dict[_State, _State] = {}
            for by in shifts:
                step = self._step(strand, i, by)
                if step.cost >= IMPOSSIBLE:
                    continue
                for state, cost in standing.items():
                    if step is IDLE and state[0] == 0:
                        now, total = state, cost
                    else:
                        now, price = self._entered(state, by, seam, step, is_first=not i)
                        total = cost + price
                    if total < reached.get(now, IMPOSSIBLE):
                        reached[now] = total
                        origin[now] = state
            standing = reached
            trail.append(origin)
        last = min(standing, key=lambda state: (standing[state], abs(state[0]), state))
        return standing[last], _traced(trail, last)

    def _shifts(self, strand: Strand, further: int) -> tuple[int, ...]:
        """The octaves that bring the strand's ends inside, and *further* beyond."""
        up = -(-(self._bounds.low - strand.low) // 12)
        down = -(-(strand.high - self._bounds.high) // 12)
        up, down = (up + further if up > 0 else 0), (down + further if down > 0 else 0)
        found = range(-down, up + 1)
        return tuple(sorted(found, key=lambda by: (abs(by), by)))

    def _entered(
        self, state: _State, by: int, seam: int, step: _Step, *, is_first: bool
    ) -> tuple[_State, int]:
        """The state after a unit, and what it costs to get there."""
        before, is_long, has_dropped = state
        prices, price = self._prices, 0
        is_run = by != 0 and by == before and not is_first
        if by != before and not is_first:
            price += seam
        if by and not is_run:
            price += prices.octave
        elif is_run and not is_long:
            price += prices.phrase - prices.octave
        if step.dropped:
            price += len(step.dropped) * prices.doubling // FURTHER
            if not has_dropped:
                price += prices.doubling - prices.doubling // FURTHER
        now = (by, is_run, has_dropped or bool(step.dropped))
        return now, price * TIE + step.cost

    def _step(self, strand: Strand, i: int, by: int) -> _Step:
        """What unit *i* costs at *by* octaves, in ties."""
        unit = strand.units[i]
        if not by and self._bounds.low <= unit[0].midi and strand.tops[i] <= self._bounds.high:
            return IDLE
        key = strand, i, by
        step = self._steps.get(key)
        if step is None:
            step = self._steps[key] = self._priced(strand, i, by)
        return step

    def _priced(self, strand: Strand, i: int, by: int) -> _Step:
        unit = strand.units[i]
        cost = 0
        merged: tuple[Sounding, ...] = ()
        if by and self._is_pinned(unit):
            return _Step(IMPOSSIBLE, (), ())
        if by:
            lift = self._cloth.lift(strand, i, by)
            if lift.cost >= IMPOSSIBLE:
                return _Step(IMPOSSIBLE, (), ())
            merged = lift.merged
            cost = lift.cost + sum(self._close(low, apart) for low, apart in lift.low)
            if self._moved and self._is_taken(unit, by):
                return _Step(IMPOSSIBLE, (), ())
        low, high = self._bounds.low - 12 * by, self._bounds.high - 12 * by
        outside = [n for n in unit if not low <= n.midi <= high and n not in merged]
        if not outside:
            return _Step(cost * TIE + (len(unit) if by else 0), merged, ())
        dropped = [*merged, *(n for n in outside if self._has_double(n, unit, by))]
        left = [n for n in outside if n not in dropped]
        cost += sum(self._open_price(n) for n in left)
        moved = len(unit) - len(left) if by else 0
        return _Step(cost * TIE + moved, tuple(dropped), tuple(left))

    def _close(self, low: int, apart: int) -> int:
        midi = low + self._bounds.semitones
        if midi < OCTAVES_AND_FIFTHS_BELOW and apart % 7 not in {0, 4}:
            return CLOSE
        return CLOSE if midi < NO_THIRDS_BELOW and apart in {1, 2} else 0

    def _is_taken(self, unit: tuple[Sounding, ...], by: int) -> bool:
        """Whether a note that was folded before sounds on a string that the unit would take."""
        return any(
            other.start <= note.start < other.end
            for note in unit
            for other in self._moved.get((note.line + 7 * by, note.index), ())
            if other is not note
        )

    def _has_double(self, note: Sounding, chord: tuple[Sounding, ...], by: int) -> bool:
        """Whether an octave of the note stays in its chord; a grace note is none of it."""
        return not self._is_pinned((note,)) and any(
            other is not note
            and (note.is_grace or not other.is_grace)
            and (other.midi - note.midi) % 12 == 0
            and self._bounds.has(other.midi + 12 * by)
            for other in chord
        )

    def _is_pinned(self, unit: tuple[Sounding, ...]) -> bool:
        return bool(self._stays) and any(not self._stays.isdisjoint(note.ids) for note in unit)

    def _open_price(self, note: Sounding) -> int:
        is_outer = self._cloth.role(note) in {Role.MELODY, Role.BASS}
        return self._prices.open_outer if is_outer else self._prices.third


def chosen_of(phrase: Phrase, chosen: Mapping[EventId, str]) -> str:
    """The way that an editor chose for a phrase, by any of its notes; else ""."""
    if not chosen:
        return ""
    return next((chosen[i] for n in phrase.notes for i in n.ids if i in chosen), "")


_Solved = list[tuple[Strand, int, list[int]]]
"""Each strand of a way, its cost in ties, and the octaves of its units."""


def _whole_cost(solved: _Solved) -> int:
    return sum(cost for _, cost, _ in solved)


def _key(solved: _Solved) -> str:
    """What a way is called in files."""
    octaves = {by for _, _, row in solved for by in row}
    if octaves == {0}:
        return STAY
    return f"whole{octaves.pop():+d}" if len(octaves) == 1 else PARTS


def _traced(trail: list[dict[_State, _State]], last: _State) -> list[int]:
    octaves: list[int] = []
    for origin in reversed(trail):
        octaves.append(last[0])
        last = origin[last]
    return octaves[::-1]
