"""Freeing the left hand for the lever moves that a plan has to do without.

A plan decides homes, octaves and omissions under the windows that stand; here the windows
change. For each note that is lost, and each move that is hurried, because the left hand is busy,
the fewest moments of that hand are sought that would have to be lifted (``openings``), by the
right hand taking them or a string left to ring (``reliefs``). What is found is held to a real
plan: only sets that lower its cost by more than their own price are kept.

The method, house judgement: all that looks worth its price is planned together; what brought
nothing is dropped, and what is left planned again, until all of it pays; then each is left out
in turn as long as the number of plans allows. No clock decides, so the answer is always the same.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from arrange.changes import Fidelity, Option
from arrange.harp.harp import Harp
from arrange.harp.wording import note_in_words
from arrange.levers.problem import Cost
from arrange.levers.solve import solve
from arrange.pitch import Pitch
from arrange.score.model import EventId, HandName, Part, Score
from arrange.score.plucks import Pluck
from arrange.study.glissandi import swept_strings
from arrange.study.levering import LeverPlan, Treatment, plan_with_repairs
from arrange.study.openings import Opening, Openings
from arrange.study.planning import ground, pitch_of, question
from arrange.study.reliefs import HandsAtWork, Relief
from arrange.study.repairs import Repairs
from arrange.study.roles import Role, roles
from arrange.study.terms import Terms
from arrange.study.wants import (
    NoteKey,
    Trouble,
    hurried_moves,
    lost_notes,
    note_key,
    troubles,
)
from arrange.units import Microseconds

MOST_PLANS = 10
"""Plans that are tried for one harp (house judgement)."""
EFFORT = 30_000
"""How many states each of them may work through (house judgement: a tenth of a real plan)."""


@dataclass(frozen=True, slots=True)
class Freed:
    """Moments of the left hand that are lifted for one lever.

    Attributes:
        reliefs: in order of time.
        note: what the lever is set for; *had*, *has*: the hand's longest time there, before
            and after.
        options: the ways that were weighed.
    """

    reliefs: tuple[Relief, ...]
    note: Pitch
    had: Microseconds
    has: Microseconds
    options: tuple[Option, ...]


@dataclass(frozen=True, slots=True)
class _Rescue:
    """A trouble, and the windows that would end it."""

    trouble: Trouble
    openings: tuple[Opening, ...]

    @property
    def reliefs(self) -> tuple[Relief, ...]:
        """What has to be lifted."""
        return tuple(dict.fromkeys(r for o in self.openings for r in o.reliefs))

    @property
    def cost(self) -> Cost:
        """What it costs: reliefs, moves, hurry."""
        hurry = sum(o.cost - _price(o.reliefs) for o in self.openings)
        return _price(self.reliefs) + hurry + self.trouble.moves


@dataclass(frozen=True, slots=True)
class _Outcome:
    """What a plan comes to."""

    cost: Cost
    lost: dict[NoteKey, Cost]
    hurried: tuple[tuple[int, Microseconds], ...]

    def gain(self, trouble: Trouble) -> Cost:
        """How much of a trouble is gone."""
        if trouble.lost:
            return sum(loss - self.lost.get(key, 0) for key, loss in trouble.lost)
        (want,) = trouble.wants
        stays = any(
            string == want.string and want.opens < time <= want.closes
            for string, time in self.hurried
        )
        return 0 if stays else trouble.cost


def freed(score: Score, terms: Terms, limit: Fidelity) -> tuple[Freed, ...]:
    """Return what is worth lifting from the left hand, in score order.

    *limit* is the furthest that a repair may go: only LOSSY leaves a note out.
    """
    if terms.player.left is None:
        return ()
    found: list[Freed] = []
    for levers in plan_with_repairs(score, terms, limit):
        rescues = _rescues(score, levers, terms, limit)
        if rescues:
            trials = _Trials(score, levers, terms, limit)
            found.extend(_freed(r, levers, terms.harp) for r in trials.kept(rescues))
    return tuple(found)


def _rescues(score: Score, levers: LeverPlan, terms: Terms, limit: Fidelity) -> list[_Rescue]:
    """What looks worth its price, best first; each trouble once."""
    found: list[_Rescue] = []
    openings: Openings | None = None
    for trouble in troubles(levers):
        if openings is None:
            work = HandsAtWork(score, levers, terms, limit)
            openings = Openings(work, levers.problem, terms)
        wanted = tuple(openings.cheapest(want) for want in trouble.wants)
        rescue = _Rescue(trouble, tuple(o for o in wanted if o is not None))
        if None not in wanted and rescue.reliefs and rescue.cost < trouble.cost:
            found.append(rescue)
    found.sort(key=lambda rescue: rescue.cost - rescue.trouble.cost)
    return _each_once(found)


def _each_once(rescues: list[_Rescue]) -> list[_Rescue]:
    """Drop what would save notes that a better one saves."""
    saved: set[NoteKey] = set()
    kept = []
    for rescue in rescues:
        keys = {key for key, _ in rescue.trouble.lost}
        if saved.isdisjoint(keys):
            kept.append(rescue)
            saved |= keys
    return kept


def _price(reliefs: Iterable[Relief]) -> Cost:
    return sum(relief.price for relief in set(reliefs))


def _price_of(rescues: list[_Rescue]) -> Cost:
    return _price(relief for rescue in rescues for relief in rescue.reliefs)


class _Trials:
    """Plans a harp with moments of its left hand lifted, a bounded number of times."""

    def __init__(self, score: Score, levers: LeverPlan, terms: Terms, limit: Fidelity) -> None:
        self._score = score
        self._levers = levers
        fifths = score.by_part[levers.staves[0].part].measures[0].fifths[0]
        self._terms = replace(terms, fifths=fifths)
        self._limit = limit
        self._work = HandsAtWork(score, levers, terms, limit)
        self._left = MOST_PLANS

    def kept(self, rescues: list[_Rescue]) -> list[_Rescue]:
        """What really lowers the plan's cost by more than its own price, in score order."""
        kept, outcome = self._settled(rescues)
        if not kept or outcome is None:
            return []
        kept, outcome = self._each_needed(kept, outcome)
        if outcome.cost + _price_of(kept) >= self._levers.cost:
            return []
        return sorted(kept, key=lambda rescue: rescue.openings[0].want.closes)

    def _settled(self, rescues: list[_Rescue]) -> tuple[list[_Rescue], _Outcome | None]:
        """Drop what brings nothing until all that is left does."""
        kept = self._guarded(rescues)
        while kept and self._left:
            outcome = self._tried(kept)
            paying = self._guarded([r for r in kept if self._pays(r, outcome)])
            if len(paying) == len(kept):
                return kept, outcome
            kept = paying
        return [], None

    def _pays(self, rescue: _Rescue, outcome: _Outcome) -> bool:
        return outcome.gain(rescue.trouble) > _price(rescue.reliefs)

    def _each_needed(
        self, kept: list[_Rescue], outcome: _Outcome
    ) -> tuple[list[_Rescue], _Outcome]:
        """Leave out in turn what is not missed, the least useful first."""
        for rescue in reversed(kept):
            fewer = [r for r in kept if r is not rescue]
            if not fewer or not self._left:
                break
            if self._guarded(fewer) != fewer:
                continue
            without = self._tried(fewer)
            if without.cost + _price_of(fewer) <= outcome.cost + _price_of(kept):
                kept, outcome = fewer, without
        return kept, outcome

    def _guarded(self, rescues: list[_Rescue]) -> list[_Rescue]:
        """Drop what would take a melody or bass note out of the planner's protection.

        A note that the other hand takes may no longer count as one; that does no harm where its
        string is never asked for anything else.
        """
        kept = [rescue for rescue in rescues if self._work.rings_on(rescue.reliefs)]
        while kept:
            reliefs = [r for rescue in kept for r in rescue.reliefs]
            exposed = self._exposed(reliefs)
            if not exposed and self._work.rings_on(reliefs):
                break
            near = {i for index in exposed for i in (index - 1, index, index + 1)}
            safe = [rescue for rescue in kept if near.isdisjoint(_measures(rescue))]
            kept = safe if len(safe) < len(kept) else kept[:-1]
        return kept

    def _exposed(self, reliefs: list[Relief]) -> set[int]:
        """The measures of notes that lead before, and do not once the reliefs are given."""
        before, after = roles(self._score), roles(lifted(self._score, reliefs))
        leading = {Role.MELODY, Role.BASS}
        return {
            event.index
            for event, named in after.items()
            if named.role not in leading
            and before[event].role in leading
            and not self._work.is_settled(event)
        }

    def _tried(self, rescues: list[_Rescue]) -> _Outcome:
        """What the plan comes to."""
        self._left -= 1
        score = lifted(self._score, [r for rescue in rescues for r in rescue.reliefs])
        staves, terms = self._levers.staves, self._terms
        swept = swept_strings(score, terms.harp, staves)
        basis = ground(score, staves, terms.player, swept, terms.prices)
        choices = Repairs(score, terms, self._limit).choices
        asked = question(basis, terms, lambda i: choices(basis.plucks[i]), swept)
        plan = solve(asked.problem, limit=EFFORT)
        return _Outcome(
            plan.cost,
            lost_notes(basis.plucks, asked.problem, plan),
            tuple((move.string, time) for move, time in hurried_moves(asked.problem, plan)),
        )


def _measures(rescue: _Rescue) -> set[int]:
    """The measures that a rescue touches."""
    plucks = (p for r in rescue.reliefs for p in (*r.taken, *r.left_out))
    return {pluck.index for pluck in plucks}


def lifted(score: Score, reliefs: Iterable[Relief]) -> Score:
    """The score as it is with moments of the left hand lifted."""
    taken: dict[EventId, HandName] = {}
    gone: set[EventId] = set()
    for relief in reliefs:
        for pluck in relief.taken:
            taken |= dict.fromkeys((pluck.note, *pluck.doubles), HandName.RIGHT)
        for pluck in relief.left_out:
            gone.update(pluck.tied)
    parts = tuple(_without(part, gone) for part in score.parts) if gone else score.parts
    reassigned = (*score.reassigned, *sorted(taken.items()))
    return replace(score, parts=parts, reassigned=reassigned)


def _without(part: Part, gone: set[EventId]) -> Part:
    touched = {event.index for event in gone if event.part == part.id}
    measures = tuple(
        replace(m, notes=tuple(n for n in m.notes if n.id not in gone))
        if m.index in touched
        else m
        for m in part.measures
    )
    return replace(part, measures=measures)


def _freed(rescue: _Rescue, levers: LeverPlan, harp: Harp) -> Freed:
    busy = [opening for opening in rescue.openings if opening.reliefs]
    want = busy[0].want
    note = pitch_of(harp, (want.string, want.position))
    return Freed(
        rescue.reliefs,
        note,
        min(opening.had for opening in busy),
        min(opening.has for opening in busy),
        (
            Option(_as_it_stands(rescue.trouble, levers.treatments), rescue.trouble.cost),
            Option("free the left hand and move the lever", rescue.cost, taken=True),
        ),
    )


def _as_it_stands(trouble: Trouble, treatments: tuple[Treatment, ...]) -> str:
    if not trouble.lost:
        return "leave the hands as they are, and hurry the move"
    first = trouble.lost[0][0]
    treatment = next(t for t in treatments if note_key(t.pluck) == first)
    lost = {
        "open": "leave it to the editor",
        "omit": "leave it out",
        "octave": "play it an octave away",
    }[treatment.label]
    return f"leave the hands as they are; for {note_in_words(treatment.pluck.pitch)}: {lost}"
