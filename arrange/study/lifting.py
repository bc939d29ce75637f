"""What a plan comes to when moments of the left hand are lifted."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from arrange.changes import Fidelity
from arrange.levers.problem import Cost, LeverProblem, Plan
from arrange.levers.solve import solve
from arrange.score.model import EventId, HandName, Part, Score
from arrange.study.glissandi import swept_strings
from arrange.study.levering import LeverPlan
from arrange.study.planning import ground, question
from arrange.study.reliefs import Relief
from arrange.study.repairs import Repairs
from arrange.study.terms import Terms
from arrange.study.wants import NoteKey, Trouble, hurried_moves, lost_notes
from arrange.units import Microseconds

EFFORT = 4_000
"""How many states such a plan may work through (house judgement: a tenth of a real one)."""

Moment = tuple[int, Microseconds]
"""A move: which string, and when it ends."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a plan comes to.

    Attributes:
        lost: what each note costs that a string could give; *hurried*: moves with little time.
        by_left: every move that the left hand makes.
    """

    cost: Cost
    lost: dict[NoteKey, Cost]
    hurried: tuple[Moment, ...]
    by_left: tuple[Moment, ...]

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


def outcome(
    score: Score, levers: LeverPlan, terms: Terms, limit: Fidelity, reliefs: Iterable[Relief]
) -> Outcome:
    """Plan the harp of *levers* again, its left hand relieved."""
    score = lifted(score, reliefs)
    staves = levers.staves
    fifths = score.by_part[staves[0].part].measures[0].fifths[0]
    terms = replace(terms, fifths=fifths)
    swept = swept_strings(score, terms.harp, staves)
    basis = ground(score, staves, terms.player, swept, terms.prices)
    choices = Repairs(score, terms, limit).choices
    asked = question(basis, terms, lambda i: choices(basis.plucks[i]), swept)
    plan = solve(asked.problem, limit=EFFORT)
    return Outcome(
        plan.cost,
        lost_notes(basis.plucks, asked.problem, plan),
        tuple((move.string, time) for move, time in hurried_moves(asked.problem, plan)),
        _by_left(asked.problem, plan),
    )


def _by_left(problem: LeverProblem, plan: Plan) -> tuple[Moment, ...]:
    return tuple(
        (move.string, problem.slots[move.slot].times[act].time)
        for move in plan.moves
        if problem.hands[move.hand].name == HandName.LEFT.value
        for act in move.acts
    )


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
