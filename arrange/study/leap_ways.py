"""The ways to treat one stroke of a hand that leaps: other octaves for its accompaniment, or none.

Notes of a stroke that are neither melody nor the bass on a strong beat may sound an octave away,
all together: on strings that the piece uses and nothing else strikes or holds, not below C3, not
past melody or bass, within the hand. A single short note off the beat that the harmony can spare
may go. House judgement.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from operator import attrgetter

from arrange.hands.player import Player
from arrange.hands.sharing import holds
from arrange.score.model import EventId, Score, Sign, StaffHand
from arrange.study.prices import PriceList
from arrange.study.roles import NoteRole, Role, omission_price, roles
from arrange.study.timeline import Sounding, Unit, timeline

LOWEST = 48
"""Key number of C3: nothing moves down below it."""
GOES = None
"""A way: the stroke is left out; other ways are octaves."""
Way = int | None
LEADING = frozenset({Role.MELODY, Role.BASS})


@dataclass(frozen=True, slots=True)
class Place:
    """Where a hand is at a stroke: its outer strings, when, and in which measure."""

    low: int
    high: int
    tick: int
    index: int


@dataclass(frozen=True, slots=True)
class Stroke:
    """A stroke of one hand.

    Attributes:
        free: the notes of it that move or go.
        ways: each with its price; 0 octaves, which is free of charge, comes first.
        places: where the hand is, by the octaves that the free notes move.
    """

    unit: Unit
    free: Unit
    ways: dict[Way, int]
    places: dict[int, Place]


class LeapWays:
    """Finds the ways of each stroke of one harp.

    *strings* are those that the piece may use, as diatonic places.
    """

    def __init__(
        self,
        score: Score,
        staves: tuple[StaffHand, ...],
        player: Player,
        prices: PriceList,
        strings: frozenset[int],
    ) -> None:
        self._line = timeline(score, staves)
        self._named: dict[EventId, NoteRole] = roles(score)
        self._grip = player.grip
        self._prices = prices
        self._strings = strings
        self._fixed = frozenset(score.left_open) | frozenset(
            event
            for s in score.sweeps
            for event in (s.start, *s.notes, *((s.end,) if s.end else ()))
        )
        self._taken: dict[int, list[Sounding]] = {}
        for note in self._line.notes:
            self._taken.setdefault(note.line, []).append(note)
        self._moved: dict[int, list[Sounding]] = {}
        self._beside: dict[int, Unit] = {}
        self._bass: dict[int, int] = {}
        self._note_what_sounds()

    def _note_what_sounds(self) -> None:
        held: list[Sounding] = []
        for start, moment in groupby(self._line.notes, attrgetter("start")):
            held = [n for n in held if n.end > start]
            held.extend(moment)
            self._beside[start] = tuple(held)
        for note in self._line.notes:
            if self._role(note).role is Role.BASS:
                span = self._line.span(note.start)
                self._bass[span] = min(self._bass.get(span, note.midi), note.midi)

    def stroke(self, unit: Unit) -> Stroke:
        """The stroke *unit* with its ways."""
        free = tuple(note for note in unit if self._is_free(note))
        ways: dict[Way, int] = {0: 0}
        places = {0: _place(unit, free, 0)}
        for by in (-1, 1):
            if free and self._goes(unit, free, by):
                ways[by] = self._prices.octave * len(free)
                places[by] = _place(unit, free, by)
        spared = self._spared(unit) if free == unit else None
        if spared is not None:
            ways[GOES] = spared
        return Stroke(unit, free, ways, places)

    def take(self, notes: Iterable[Sounding], by: int) -> bool:
        """Settle that *notes* move; False, and nothing settled, where another one has moved to
        the string of one of them.
        """
        moved = [(note.line + 7 * by, note) for note in notes]
        if any(
            other.start < note.end and note.start < other.end
            for line, note in moved
            for other in self._moved.get(line, ())
        ):
            return False
        for line, note in moved:
            self._moved.setdefault(line, []).append(note)
        return True

    def _role(self, note: Sounding) -> NoteRole:
        return self._named[note.note.id]

    def _is_free(self, note: Sounding) -> bool:
        role = self._role(note)
        if role.role is Role.MELODY or (role.role is Role.BASS and role.is_strong):
            return False
        has_string = note.line in self._strings
        return has_string and not note.note.auxiliaries and self._fixed.isdisjoint(note.ids)

    def _goes(self, unit: Unit, free: Unit, by: int) -> bool:
        lines = [n.line + 7 * by if n in free else n.line for n in unit]
        if len(set(lines)) < len(lines) or not self._is_held(unit, lines):
            return False
        return all(self._has_place(note, free, by) for note in free)

    def _is_held(self, unit: Unit, lines: list[int]) -> bool:
        is_rolled = any(n.note.has(Sign.ARPEGGIATE) for n in unit)
        return holds(lines, self._grip, rolled=is_rolled)

    def _has_place(self, note: Sounding, free: Unit, by: int) -> bool:
        line, midi = note.line + 7 * by, note.midi + 12 * by
        bass = self._bass.get(self._line.span(note.start), 0)
        is_bass = self._role(note).role is Role.BASS
        if line not in self._strings or (by < 0 and (midi < LOWEST or midi <= bass)):
            return False
        if self._is_struck(line, note, free):
            return False
        return all(
            (note.midi < other.midi) is (midi < other.midi)
            for other in self._beside[note.start]
            if other not in free and (is_bass or self._role(other).role in LEADING)
        )

    def _is_struck(self, line: int, note: Sounding, free: Unit) -> bool:
        """Whether another note strikes or holds that string meanwhile."""
        notes = self._taken.get(line, [])
        first = bisect_right(notes, note.start, key=attrgetter("start"))
        last = bisect_left(notes, note.end, key=attrgetter("start"))
        near = (*notes[max(first - 2, 0) : last], *self._moved.get(line, ()))
        return any(n.start < note.end and note.start < n.end and n not in free for n in near)

    def _spared(self, unit: Unit) -> int | None:
        """What leaving out a single short note off the beat costs; None where it is no such."""
        note = unit[0]
        beat = self._line.measures[note.index].meter.beat * self._line.quarter
        if len(unit) > 1 or len(note.ids) > 1 or self._line.is_beat(note.start):
            return None
        if 2 * (note.end - note.start) > beat:
            return None
        return omission_price(self._role(note), self._prices)


def _place(unit: Unit, free: Unit, by: int) -> Place:
    lines = [n.line + 7 * by if n in free else n.line for n in unit]
    return Place(min(lines), max(lines), unit[0].start, unit[0].index)
