"""What the left hand can hand over, or need not strike again, to have time for a lever.

All notes of a moment must go for the hand to be free. The right hand takes them where it is
near: with its own notes of that moment they make one grip, or its notes just before and after
lie within an octave's leap; never below C3. A note that is struck again while its string
still rings can be left out, though not a bass that moves, nor one on a strong beat. Where it is
asked for, light notes of the accompaniment can go as well: those that the harmony can spare, off
the strong beats, if they are no line. House judgement; hands sharing notes freely, and a left
hand made simpler around a lever, are common practice.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import ceil
from operator import attrgetter

from arrange.changes import Fidelity
from arrange.hands.sharing import holds
from arrange.hands.windows import Grasp, grasps
from arrange.harp.harp import Position
from arrange.levers.problem import Cost
from arrange.pitch import Pitch
from arrange.score.model import EventId, HandName, Score, Sign
from arrange.score.performed import Clock, clock_of
from arrange.score.plucks import Pluck, PluckKind, strikes
from arrange.study.glissandi import swept_strings
from arrange.study.levering import LeverPlan
from arrange.study.roles import NoteRole, Role, omission_price, roles
from arrange.study.terms import Terms
from arrange.units import Microseconds

LEAP = 7
"""Strings that the right hand leaps to a note that it takes: an octave (house judgement)."""
LOWEST_TAKEN = Pitch("C", 0, 3).line
"""The right hand does not reach far below C3 (common practice)."""
QUICKEST: Microseconds = 150_000
"""From one pluck of the right hand to the next where it takes notes (house judgement)."""
SOON = 2
"""A note struck again within so many moments of its hand is the same one held on; one that
comes back later belongs to a line and costs as much as a passing note (house judgement)."""
LONGEST_RING: Microseconds = 2_500_000
"""After this a string that was plucked no longer stands for a new pluck (house judgement)."""
AT_EASE: Microseconds = 1_000_000
"""Plucks further apart than this are no leap (house judgement)."""


@dataclass(frozen=True, slots=True)
class Relief:
    """How one moment of the left hand is lifted.

    Attributes:
        taken: notes that the right hand takes; *left_out*: notes that ring on from before.
        given_up: light notes that do not.
        price: of them all.
    """

    taken: tuple[Pluck, ...]
    left_out: tuple[Pluck, ...]
    price: Cost
    given_up: tuple[Pluck, ...] = ()

    @property
    def gone(self) -> tuple[Pluck, ...]:
        """What is not struck any more."""
        return (*self.left_out, *self.given_up)


class HandsAtWork:
    """What each hand of one harp plucks, and what the left can spare.

    *limit* is the furthest that a relief may go: only LOSSY leaves a note out.

    Attributes:
        clock: performed time; *left*: the left hand's grasps by time, glissandi among them.
        places: every beat and every moment at which something is plucked.
    """

    def __init__(self, score: Score, levers: LeverPlan, terms: Terms, limit: Fidelity) -> None:
        self._score = score
        self._terms = terms
        self._limit = limit
        self._problem = levers.problem
        self._treatments = levers.treatments
        self._plucks = tuple(t.pluck for t in levers.treatments)
        self.clock = clock_of(score)
        struck = strikes(self._plucks, self.clock)
        self._struck: dict[tuple[HandName, Microseconds], list[int]] = {}
        self._times: dict[int, list[Microseconds]] = {}
        self._by_pitch: dict[int, list[tuple[Microseconds, int]]] = {}
        for strike in struck:
            pluck = self._plucks[strike.pluck]
            self._struck.setdefault((pluck.hand, strike.time), []).append(strike.pluck)
            self._times.setdefault(strike.pluck, []).append(strike.time)
            row = self._by_pitch.setdefault(pluck.pitch.midi, [])
            row.append((strike.time, strike.pluck))
        self.places = sorted({s.time for s in struck} | set(_beats(score, levers, self.clock)))
        held = grasps(score, self._plucks, struck)
        swept = swept_strings(score, terms.harp, levers.staves)
        self._sweeping = [span for s in swept if s.hand is HandName.RIGHT for span in s.times]
        for sweep in swept:
            held[sweep.hand].extend(Grasp(begin, end, 1) for begin, end in sweep.times)
        self.left = sorted(held[HandName.LEFT], key=attrgetter("time", "until"))
        self._right = sorted(time for hand, time in self._struck if hand is HandName.RIGHT)
        self._reliefs: tuple[dict[Microseconds, Relief | None], ...] = ({}, {})

    def relief(self, time: Microseconds, *, gives_up: bool) -> Relief | None:
        """The cheapest way to lift what the left hand plucks then; None where there is none.

        *gives_up*: light notes of the accompaniment may go.
        """
        known = self._reliefs[gives_up]
        if time not in known:
            known[time] = self._found(time, gives_up=gives_up)
        return known[time]

    def times(self, relief: Relief) -> frozenset[Microseconds]:
        """When the moment is played."""
        gone = {pluck.note for pluck in (*relief.taken, *relief.gone)}
        return frozenset(
            time
            for i, pluck in enumerate(self._plucks)
            if pluck.note in gone
            for time in self._times.get(i, ())
        )

    def rings_on(self, reliefs: Iterable[Relief]) -> bool:
        """Whether each note that is left out still sounds from one that is not."""
        found = tuple(reliefs)
        left_out = {pluck.note for relief in found for pluck in relief.left_out}
        gone = {pluck.note for relief in found for pluck in relief.gone}
        return all(
            self._rings(i, gone)
            for i, pluck in enumerate(self._plucks)
            if left_out and pluck.note in left_out
        )

    def is_settled(self, event: EventId) -> bool:
        """Whether the note stands on a string that is never asked for another position."""
        return event in self._settled

    def _found(self, time: Microseconds, *, gives_up: bool) -> Relief | None:
        members = self._struck.get((HandName.LEFT, time), [])
        if not members or not all(self._is_plain(self._plucks[i]) for i in members):
            return None
        spared = {i: price for i in members if (price := self._ringing(i)) is not None}
        if gives_up:
            spared |= {
                i: price
                for i in members
                if i not in spared and (price := self._light(i, members)) is not None
            }
        needed = [i for i in members if i not in spared]
        ways = []
        for taken in (members, needed):
            gone = [i for i in members if i not in taken]
            if not taken or self._can_take(taken, time):
                price = sum(spared[i] for i in gone)
                price += self._terms.prices.right_hand if taken else 0
                ways.append(self._relief(taken, gone, price))
        return min(ways, key=lambda way: way.price, default=None)

    def _relief(self, taken: list[int], gone: list[int], price: Cost) -> Relief:
        ringing = [i for i in gone if self._ringing(i) is not None]
        light = [i for i in gone if i not in ringing]
        return Relief(self._of(taken), self._of(ringing), price, self._of(light))

    def _of(self, places: list[int]) -> tuple[Pluck, ...]:
        return tuple(self._plucks[i] for i in places)

    @cached_property
    def _named(self) -> dict[EventId, NoteRole]:
        return roles(self._score)

    @cached_property
    def _bound(self) -> frozenset[EventId]:
        """Notes that are left alone: open, of a glissando, or plucked more than once."""
        sweeps = self._score.sweeps
        ends = {i for s in sweeps for i in (s.start, s.end, *s.notes) if i is not None}
        again = {p.note for p in self._plucks if p.kind is not PluckKind.PLAIN}
        return frozenset(self._score.left_open) | ends | again

    @cached_property
    def _settled(self) -> frozenset[EventId]:
        asked: dict[int, set[Position]] = {}
        for note in self._problem.notes:
            for string, position in (d for choice in note.choices for d in choice.demands):
                asked.setdefault(string, set()).add(position)
        return frozenset(
            event
            for treatment in self._treatments
            if treatment.label == "home"
            and all(len(asked[string]) == 1 for string, _ in treatment.choice.demands)
            for event in (*treatment.pluck.tied, *treatment.pluck.doubles)
        )

    def _is_plain(self, pluck: Pluck) -> bool:
        return self._bound.isdisjoint((*pluck.tied, *pluck.doubles))

    def _light(self, place: int, together: Sequence[int]) -> Cost | None:
        """The price of giving up a note that the harmony can spare; None: never.

        A note on a strong beat stays, and one that fills a beat alone, for that is a line.
        """
        pluck = self._plucks[place]
        role = self._named[pluck.note]
        if self._limit is not Fidelity.LOSSY or role.is_strong or role.role is Role.BASS:
            return None
        note = self._score.notes_by_id[pluck.note]
        measure = self._score.measure(note.id.part, note.id.index)
        if len(together) == 1 and note.duration >= measure.meter.beat:
            return None
        if pluck.doubles or not self._terms.decided.stays.isdisjoint(pluck.tied):
            return None
        return omission_price(role, self._terms.prices)

    def _ringing(self, place: int) -> Cost | None:
        """The price of leaving the note out because its string still rings; None: never."""
        role = self._named[self._plucks[place].note]
        is_kept = role.role is Role.MELODY or role.is_cadential
        is_bass = role.role is Role.BASS
        if self._limit is not Fidelity.LOSSY or is_kept or (is_bass and role.is_strong):
            return None
        if not self._terms.decided.stays.isdisjoint(self._plucks[place].tied):
            return None
        if self._plucks[place].doubles or not self._rings(place, frozenset()):
            return None
        if self._comes_back(place):
            return self._terms.prices.doubling
        return None if is_bass else self._terms.prices.passing

    def _comes_back(self, place: int) -> bool:
        """Whether the pitch was plucked in one of the last moments of the left hand."""
        row = self._by_pitch[self._plucks[place].pitch.midi]
        for time in self._times.get(place, ()):
            before = bisect_left(row, (time, -1)) - 1
            since = bisect_left(self.left, time, key=attrgetter("time")) - SOON
            if before < 0 or since < 0 or row[before][0] < self.left[since].time:
                return False
        return True

    def _rings(self, place: int, left_out: set[EventId] | frozenset[EventId]) -> bool:
        """Whether each time an earlier pluck of the same string, not left out, still sounds."""
        pluck = self._plucks[place]
        rings = min(2 * self._terms.player.ring_lock(pluck.pitch.octave), LONGEST_RING)
        row = self._by_pitch[pluck.pitch.midi]
        for time in self._times.get(place, ()):
            before = bisect_left(row, (time, -1)) - 1
            while before >= 0 and self._plucks[row[before][1]].note in left_out:
                before -= 1
            if before < 0 or row[before][0] < time - rings:
                return False
            other = self._treatments[row[before][1]]
            if other.pluck.is_damped or other.pitch != self._treatments[place].pitch:
                return False
        return self._treatments[place].label == "home"

    def _can_take(self, places: Sequence[int], time: Microseconds) -> bool:
        """Whether the right hand is near enough to take these notes as well."""
        if any(begin <= time <= end for begin, end in self._sweeping):
            return False
        lines = self._lines(places)
        own = self._struck.get((HandName.RIGHT, time), [])
        together = [*lines, *self._lines(own)]
        is_rolled = all(self._is_rolled(i) for i in (*places, *own))
        if min(lines) < LOWEST_TAKEN or not holds(
            together, self._terms.player.grip, rolled=is_rolled
        ):
            return False
        return bool(own) or self._is_near(lines, time)

    def _is_near(self, lines: list[int], time: Microseconds) -> bool:
        place = bisect_right(self._right, time)
        for other in self._right[max(place - 1, 0) : place + 1]:
            apart = abs(other - time)
            near = self._lines(self._struck[HandName.RIGHT, other])
            leap = max(min(near) - max(lines), min(lines) - max(near))
            if apart < QUICKEST or (apart < AT_EASE and leap > LEAP):
                return False
        return True

    def _lines(self, places: Sequence[int]) -> list[int]:
        return [self._plucks[i].pitch.line for i in places]

    def _is_rolled(self, place: int) -> bool:
        return self._score.notes_by_id[self._plucks[place].note].has(Sign.ARPEGGIATE)


def _beats(score: Score, levers: LeverPlan, clock: Clock) -> Iterator[Microseconds]:
    measures = score.by_part[levers.staves[0].part].measures
    for place, (index, _, _) in enumerate(clock.passes):
        if index >= len(measures):
            continue
        measure = measures[index]
        for i in range(ceil(measure.length / measure.meter.beat)):
            yield clock.time(place, measure.meter.beat * i)
