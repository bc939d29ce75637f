"""The levers of a score on a harp: with repairs to choose from, or as the score now stands."""

from collections import deque
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache

from arrange.changes import Fidelity
from arrange.harp.harp import Harp, Position
from arrange.levers.problem import Choice, LeverProblem, Plan, PrintedNote, Visit
from arrange.levers.solve import solve
from arrange.memory import remembered, row_of_latest
from arrange.pitch import Pitch
from arrange.quick import quickly_made
from arrange.score.model import EventId, Score, StaffHand
from arrange.score.plucks import Pluck
from arrange.study.decided import HeldLever, HeldStretch
from arrange.study.glissandi import swept_strings
from arrange.study.likeness import as_played
from arrange.study.parallels import aligned
from arrange.study.placing_times import between_placings
from arrange.study.planning import (
    Ground,
    PlannedMove,
    Question,
    ground,
    held_by,
    pitch_of,
    planned_moves,
    question,
)
from arrange.study.repairs import LEFT_OPEN, Repairs
from arrange.study.terms import Terms

EFFORT = 6_000
"""How much search the plan of a piece is worth before it settles for an honest gap (house
judgement: well under a second)."""


class _Plans:
    """The latest plans; the same question comes again when only words have been added."""

    def __init__(self, most: int) -> None:
        self._known: deque[tuple[LeverProblem, Plan]] = row_of_latest(most)

    def plan(self, problem: LeverProblem) -> Plan:
        """The plan of *problem*."""
        for known, plan in reversed(self._known):
            if known == problem:
                return plan
        plan = solve(problem, limit=EFFORT)
        self.remember(problem, plan)
        return plan

    def remember(self, problem: LeverProblem, plan: Plan) -> None:
        """Keep a plan that was found elsewhere."""
        self._known.append((problem, plan))


_plans = _Plans(8)


def _left_open(problem: LeverProblem, plan: Plan) -> tuple[LeverProblem, Plan] | None:
    """The question that comes next, when what the plan leaves open has been marked so.

    These notes then ask nothing and cost nothing. Any plan of that question is one of this
    question with these notes open, so the plan and its bound hold, less what they cost.
    """
    taken = [n.choices[c] for n, c in zip(problem.notes, plan.choices, strict=True)]
    given_up = {note for note, way in enumerate(taken) if way.label == "open" and way.cost}
    if not given_up:
        return None
    spared = sum(taken[note].cost for note in given_up)
    settled = PrintedNote(LEFT_OPEN)
    next_problem = replace(
        problem,
        notes=tuple(
            settled if note in given_up else asked for note, asked in enumerate(problem.notes)
        ),
        visits=tuple(
            Visit(visit.note, visit.time, (0,)) if visit.note in given_up else visit
            for visit in problem.visits
        ),
    )
    choices = tuple(0 if note in given_up else choice for note, choice in enumerate(plan.choices))
    bound = max(plan.bound - spared, 0)
    return next_problem, replace(plan, choices=choices, cost=plan.cost - spared, bound=bound)


@quickly_made
@dataclass(frozen=True, slots=True)
class Treatment:
    """What the plan does with one printed pluck.

    Attributes:
        pluck: the pluck.
        choice: the way taken.
        pitch: the string's pitch, spelled as the string; None where left out or open.
        options: every way that there was, with its own price.
    """

    pluck: Pluck
    choice: Choice
    pitch: Pitch | None
    options: tuple[Choice, ...]

    @property
    def label(self) -> str:
        """``home``, ``octave``, ``omit`` or ``open``."""
        return self.choice.label


@dataclass(frozen=True)
class LeverPlan:
    """The levers of one harp.

    Attributes:
        initial: the position of every string that has a lever, by string name.
        moves: in score order.
        treatments: one a printed pluck, in order of the plucks; sweeps are not among them.
        open_sweeps: starts of glissandi whose strings cannot be had.
        open_levers: pinned levers that cannot be had.
    """

    staves: tuple[StaffHand, ...]
    initial: Mapping[str, Position]
    moves: tuple[PlannedMove, ...]
    treatments: tuple[Treatment, ...]
    open_sweeps: tuple[EventId, ...]
    cost: int
    bound: int
    problem: LeverProblem
    plan: Plan
    open_levers: tuple[HeldLever | HeldStretch, ...] = ()


def plan_with_repairs(score: Score, terms: Terms, limit: Fidelity) -> tuple[LeverPlan, ...]:
    """Plan each harp of the score, free to choose homes and repairs.

    *limit* is the furthest that a repair may go: IDIOMATIC moves an inner note an octave, LOSSY
    also leaves notes out.
    """
    return _plan_with_repairs(as_played(score), terms, limit)


@remembered
def _plan_with_repairs(score: Score, terms: Terms, limit: Fidelity) -> tuple[LeverPlan, ...]:
    choices = Repairs(score, terms, limit).choices
    return tuple(_planned(score, staves, terms, choices) for staves in score.harps)


def plan_freely(
    score: Score, terms: Terms, choices: Callable[[Pluck], tuple[Choice, ...]]
) -> tuple[LeverPlan, ...]:
    """Plan each harp of the score, each pluck free to be treated as *choices* says."""
    return tuple(_planned(score, staves, terms, choices) for staves in score.harps)


def plan_as_it_stands(score: Score, terms: Terms) -> tuple[LeverPlan, ...]:
    """Plan each harp of the score, every note on the string that it names."""
    return _plan_as_it_stands(as_played(score), terms)


@remembered
def _plan_as_it_stands(score: Score, terms: Terms) -> tuple[LeverPlan, ...]:
    harp, prices = terms.harp, terms.prices
    unreadable = (n.id for n in score.notes_by_id.values() if n.microtone)
    aside = frozenset(score.left_open).union(unreadable)

    @cache
    def as_written(pitch: Pitch) -> tuple[Choice, ...]:
        home = harp.home_as_spelled(pitch)
        stay = () if home is None else (Choice(((home.string, home.position),), 0),)
        return (*stay, Choice((), prices.open, "open"))

    def choices(pluck: Pluck) -> tuple[Choice, ...]:
        return as_written(pluck.pitch) if aside.isdisjoint(pluck.tied) else LEFT_OPEN

    return tuple(
        _planned(score, staves, terms, choices, is_settled=True) for staves in score.harps
    )


def _planned(
    score: Score,
    staves: tuple[StaffHand, ...],
    terms: Terms,
    choices: Callable[[Pluck], tuple[Choice, ...]],
    *,
    is_settled: bool = False,
) -> LeverPlan:
    """The plan of one harp; once the notes are *settled* the hands' placings count as well."""
    swept = swept_strings(score, terms.harp, staves)
    basis = ground(score, staves, terms.player, swept, terms.prices)
    if is_settled and terms.prices.connected and basis.slots:
        basis = between_placings(basis, terms.player, terms.prices.connected)
    fifths = score.by_part[staves[0].part].measures[0].fifths[0]
    terms = replace(terms, fifths=fifths)
    asked = question(basis, terms, lambda i: choices(basis.plucks[i]), swept)
    return _answer(basis, terms, asked, tuple(s.start for s in swept))


def _answer(
    basis: Ground, terms: Terms, asked: Question, sweeps: tuple[EventId, ...]
) -> LeverPlan:
    problem = asked.problem
    plan = _plans.plan(problem)
    following = _left_open(problem, plan) if plan.is_optimal else None
    if following is not None:
        _plans.remember(*following)
    plan = aligned(basis, problem, plan)
    return LeverPlan(
        staves=basis.staves,
        initial={problem.strings[s].name: position for s, position in plan.start},
        moves=planned_moves(basis, problem, plan),
        treatments=tuple(_treatments(basis, asked, plan, terms.harp)),
        open_sweeps=tuple(
            start
            for start, asked_notes in zip(sweeps, asked.sweeps, strict=True)
            if any(problem.notes[n].choices[plan.choices[n]].label == "open" for n in asked_notes)
        ),
        cost=plan.cost,
        bound=plan.bound,
        problem=problem,
        plan=plan,
        open_levers=tuple(
            lever
            for lever, note in zip(held_by(basis.staves, terms), asked.held, strict=True)
            if problem.notes[note].choices[plan.choices[note]].label == "open"
        ),
    )


def _treatments(basis: Ground, asked: Question, plan: Plan, harp: Harp) -> Iterator[Treatment]:
    """What becomes of each pluck."""
    notes = asked.problem.notes
    sounding: dict[int, Pitch | None] = {}
    for pluck, note in zip(basis.plucks, asked.note_of, strict=True):
        options = notes[note].choices
        choice = options[plan.choices[note]]
        if id(choice) not in sounding:
            played = choice.played
            sounding[id(choice)] = None if played is None else pitch_of(harp, played)
        yield Treatment(pluck, choice, sounding[id(choice)], options)
