"""Which way each glissando takes, and what every other way would have cost."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from arrange.changes import Fidelity, Refusal
from arrange.hands.windows import MARGIN
from arrange.levers.problem import Choice
from arrange.memory import remembered
from arrange.pitch import Pitch
from arrange.score.model import EventId, Note, Score, StaffHand
from arrange.score.sweep_words import sweep_words
from arrange.study.glissandi import harp_sweeps, sweep_times
from arrange.study.glissando_sets import Setting
from arrange.study.planning import (
    Ground,
    SweptStrings,
    ground,
    question,
    swept_until,
)
from arrange.study.repairs import Repairs, homes_of
from arrange.study.sweep_costs import Asking, SweepCosts
from arrange.study.sweep_ways import Asked, SweepWays, Way, WayKind
from arrange.study.terms import Terms
from arrange.units import Quarters

SWEEPS = "resolve-glissandi"
"""The rule that weighs these ways."""
SWEEPING = frozenset({WayKind.LEVERS, WayKind.OTHER_TONES, WayKind.DAMPED})
"""The ways in which a glissando remains one."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """A way and what it really costs, in hundredths of a move; None where it cannot be had."""

    way: Way
    cost: int | None


@dataclass(frozen=True, slots=True)
class Decision:
    """What becomes of one glissando.

    Attributes:
        taken: the way; None where none is left, and it stays open.
        weighed: every way, cheapest first.
    """

    asked: Asked
    taken: Way | None
    weighed: tuple[Weighed, ...]


@remembered
def decisions(score: Score, terms: Terms, limit: Fidelity) -> tuple[Decision, ...]:
    """Decide every glissando of the score; those that our own marks name are decided already.

    *limit* is the furthest that a way may go to be taken.
    """
    if not score.sweeps:
        return ()
    return tuple(
        decision for staves in score.harps for decision in _harp(score, staves, terms, limit)
    )


def _harp(
    score: Score, staves: tuple[StaffHand, ...], terms: Terms, limit: Fidelity
) -> Iterator[Decision]:
    waiting = [
        (sweep, start, hand)
        for sweep, start, hand in harp_sweeps(score, staves)
        if sweep.end is not None
        and not sweep_words(score.measure(start.id.part, start.id.index).marks, start).tones
    ]
    if not waiting:
        return
    clock = ground(score, staves, terms.player, (), terms.prices).clock
    swept = [
        SweptStrings(sweep.start, (), sweep_times(sweep, start, clock), hand)
        for sweep, start, hand in waiting
    ]
    basis = ground(score, staves, terms.player, swept, terms.prices)
    finder = SweepWays(score, basis, terms)
    scale = _Scale(score, basis, terms, limit)
    for sweep, start, hand in waiting:
        asked = finder.asked(sweep, start, hand)
        yield scale.decided(asked, finder.ways(asked))


class _Scale:
    """Weighs the ways of one harp's glissandi, in score order.

    Two glissandi that begin at one place share the words there, so their tones are the same.
    """

    def __init__(self, score: Score, basis: Ground, terms: Terms, limit: Fidelity) -> None:
        repairs = Repairs(score, terms, limit)
        put = question(basis, terms, lambda i: repairs.choices(basis.plucks[i]))
        self._costs = SweepCosts(put.problem)
        self._terms = terms
        self._limit = limit
        self._score = score
        self._chosen = terms.decided.chosen(SWEEPS)
        self._locks = [terms.player.ring_lock(s.octave) + MARGIN for s in terms.harp.strings]
        self._named: dict[tuple[str, int, Quarters, int], Setting] = {}

    def decided(self, asked: Asked, ways: tuple[Way, ...]) -> Decision:
        if not ways or not asked.times:
            return Decision(asked, None, ())
        asking = [tuple(self._asking(way, asked)) for way in ways]
        added = self._costs.costs(*asked.times[0], asking)
        weighed = [
            Weighed(way, None if cost is None else way.price + cost)
            for way, cost in zip(ways, added, strict=True)
        ]
        order = list(WayKind)
        weighed.sort(key=lambda w: (w.cost is None, w.cost or 0, order.index(w.way.kind)))
        able = [w.way for w in weighed if self._may_be_taken(w, asked)]
        chosen = chosen_of(asked, self._score, self._chosen)
        taken = next((way for way in able if way.key == chosen), next(iter(able), None))
        if taken is not None:
            self._costs.decide(asking[ways.index(taken)])
            if taken.kind in SWEEPING:
                self._named.setdefault(_place(asked.start), taken.tones)
        return Decision(asked, taken, tuple(weighed))

    def _may_be_taken(self, weighed: Weighed, asked: Asked) -> bool:
        way = weighed.way
        named = self._named.get(_place(asked.start), way.tones)
        stays = way.kind in SWEEPING and way.course.is_as_written
        return (
            weighed.cost is not None
            and (stays or not self._is_pinned(asked))
            and way.fidelity.rank <= self._limit.rank
            and (way.kind not in SWEEPING or way.tones == named)
        )

    def _is_pinned(self, asked: Asked) -> bool:
        sweep = asked.sweep
        ends = {event for event in (sweep.start, sweep.end, *sweep.notes) if event is not None}
        return not self._terms.decided.stays.isdisjoint(ends)

    def _asking(self, way: Way, asked: Asked) -> Iterator[Asking]:
        """What is plucked that the score does not have yet."""
        if way.kind in SWEEPING:
            order = way.course.strings
            for string, position in way.demands:
                lock = self._locks[string]
                until = [swept_until(order, string, span, lock) for span in asked.times]
                visits = tuple((s[0], (u,)) for s, u in zip(asked.times, until, strict=True))
                yield Asking((Choice(((string, position),), 0),), visits)
        elif way.run is not None:
            length = sum((value.duration for value in way.run.after), Quarters(0))
            passed = Quarters(0)
            for value in way.run.after:
                yield self._plucked(value.pitch, passed / length, asked)
                passed += value.duration

    def _plucked(self, pitch: Pitch, share: Quarters, asked: Asked) -> Asking:
        """A note of a run, so far into the glissando's time."""
        prices = self._terms.prices
        homes = homes_of(pitch, self._terms.harp, prices)
        visits = []
        for begin, end in asked.times:
            time = begin + round((end - begin) * share)
            locks = [time + self._locks[c.demands[0][0]] for c in homes]
            visits.append((time, (*locks, 0)))
        return Asking((*homes, Choice((), prices.open, "open")), tuple(visits))


def chosen_of(asked: Asked, score: Score, chosen: Mapping[EventId, str]) -> str:
    """The way that an editor chose for a glissando, by a note of it or one struck with its start.

    Returns:
        The way's key, or "".
    """
    if not chosen:
        return ""
    start, sweep = asked.start, asked.sweep
    for event, key in chosen.items():
        note = score.notes_by_id.get(event)
        if note is not None and (event in sweep.notes or _place(note) == _place(start)):
            return key
    return ""


def refusals(
    decided: Iterable[Decision], score: Score, chosen: Mapping[EventId, str]
) -> Iterator[Refusal]:
    """Yield the chosen ways that could not be taken."""
    answered: set[EventId] = set()
    for decision in decided:
        asked, taken = decision.asked, decision.taken
        for event, key in chosen.items():
            if chosen_of(asked, score, {event: key}):
                answered.add(event)
                if taken is None or taken.key != key:
                    yield Refusal(SWEEPS, event, key, "this glissando cannot be had that way here")
    for event, key in chosen.items():
        if event not in answered:
            yield Refusal(SWEEPS, event, key, "no glissando has to be resolved here")


def _place(start: Note) -> tuple[str, int, Quarters, int]:
    return start.id.part, start.id.index, start.offset, start.staff
