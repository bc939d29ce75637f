"""What a plan comes to when moments of the left hand are lifted."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from arrange.levers.problem import Cost
from arrange.score.model import EventId, HandName, Measure, Part, Rest, Score
from arrange.study.levering import LeverPlan
from arrange.study.reliefs import Relief
from arrange.study.wants import NoteKey, Trouble, hurried_moves, lost_notes
from arrange.units import Microseconds

Moment = tuple[int, Microseconds]
"""A move: which string, and when it ends."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a plan comes to.

    Attributes:
        is_proven: no plan is cheaper.
        moved: notes that are played an octave away.
        lost: what each note costs that a string could give; *hurried*: moves with little time.
        by_left: every move that the left hand makes.
    """

    cost: Cost
    is_proven: bool
    moved: frozenset[EventId]
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


def outcome(levers: LeverPlan) -> Outcome:
    """What a plan comes to."""
    problem, plan = levers.problem, levers.plan
    return Outcome(
        plan.cost,
        plan.is_optimal,
        frozenset(t.pluck.note for t in levers.treatments if t.label == "octave"),
        lost_notes([treatment.pluck for treatment in levers.treatments], problem, plan),
        tuple((move.string, time) for move, time in hurried_moves(problem, plan)),
        tuple(
            (move.string, problem.slots[move.slot].times[act].time)
            for move in plan.moves
            if problem.hands[move.hand].name == HandName.LEFT.value
            for act in move.acts
        ),
    )


def lifted(score: Score, reliefs: Iterable[Relief]) -> Score:
    """The score as it is with moments of the left hand lifted."""
    taken: dict[EventId, HandName] = {}
    gone: set[EventId] = set()
    for relief in reliefs:
        for pluck in relief.taken:
            taken |= dict.fromkeys((pluck.note, *pluck.doubles), HandName.RIGHT)
        for pluck in relief.gone:
            gone.update(pluck.tied)
    parts = tuple(_without(part, gone) for part in score.parts) if gone else score.parts
    reassigned = (*score.reassigned, *sorted(taken.items()))
    return replace(score, parts=parts, reassigned=reassigned)


def _without(part: Part, gone: set[EventId]) -> Part:
    touched = {event.index for event in gone if event.part == part.id}
    measures = tuple(
        _emptied(measure, gone) if measure.index in touched else measure
        for measure in part.measures
    )
    return replace(part, measures=measures)


def _emptied(measure: Measure, gone: set[EventId]) -> Measure:
    """The measure without these notes; a chord that loses all of its notes leaves a rest."""
    kept = tuple(note for note in measure.notes if note.id not in gone)
    chords = {note.chord for note in kept}
    emptied = {n.chord: n for n in measure.notes if n.id in gone and n.chord not in chords}
    rests = (Rest(c, n.offset, n.duration, n.staff, n.voice) for c, n in emptied.items())
    return replace(measure, notes=kept, rests=(*measure.rests, *rests))
