"""What a way to play a glissando costs at the levers, planned over the music around it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from arrange.levers.problem import Choice, LeverProblem, PrintedNote, Visit
from arrange.levers.solve import Infeasible, lower_bound
from arrange.units import SECOND, Microseconds

AROUND = 20 * SECOND
"""So much music before and after a glissando bears on its levers (house judgement)."""


@dataclass(frozen=True, slots=True)
class Asking:
    """Something plucked that is not in the score yet.

    Attributes:
        choices: the ways to have it; *visits*: of each playing, when it is plucked, and for each
            choice until when its strings must be left alone.
    """

    choices: tuple[Choice, ...]
    visits: tuple[tuple[Microseconds, tuple[Microseconds, ...]], ...]


class SweepCosts:
    """Weighs ways against the plucks of one harp.

    Costs are lower bounds of the exact planner: they leave out only that two moves may want the
    same hand at the same time.
    """

    def __init__(self, problem: LeverProblem) -> None:
        self._problem = problem
        self._decided: list[Asking] = []

    def decide(self, asking: Sequence[Asking]) -> None:
        """Take a glissando as settled; later ones are weighed beside it."""
        self._decided.extend(asking)

    def costs(
        self, begin: Microseconds, end: Microseconds, ways: Sequence[Sequence[Asking]]
    ) -> list[int | None]:
        """What each way to play a glissando adds to the levers' cost, in its first playing.

        None where it cannot be had at all.

        Args:
            begin: when it begins; *end*: when it ends.
            end: when it ends.
            ways: what each way plucks.
        """
        span = (begin - AROUND, end + AROUND)
        around = self._around(span)
        without = lower_bound(around)
        found: list[int | None] = []
        for way in ways:
            try:
                found.append(max(lower_bound(_with(around, way, span)) - without, 0))
            except Infeasible:
                found.append(None)
        return found

    def _around(self, span: tuple[Microseconds, Microseconds]) -> LeverProblem:
        """The problem cut down to what is played and can be moved in *span*."""
        problem = self._problem
        first, last = span
        visits = [v for v in problem.visits if first <= v.time <= last]
        places = {note: place for place, note in enumerate(dict.fromkeys(v.note for v in visits))}
        strings = problem.strings
        if first > 0:
            strings = tuple(replace(s, preset_cost_up=0, preset_cost_down=0) for s in strings)
        slots = ((s, [t for t in s.times if first <= t.time <= last]) for s in problem.slots)
        around = replace(
            problem,
            strings=strings,
            notes=tuple(problem.notes[note] for note in places),
            visits=tuple(Visit(places[v.note], v.time, v.locks) for v in visits),
            slots=tuple(replace(s, times=tuple(times)) for s, times in slots if times),
        )
        return _with(around, self._decided, span)


def _with(
    problem: LeverProblem, asked: Sequence[Asking], span: tuple[Microseconds, Microseconds]
) -> LeverProblem:
    """The problem with more that is plucked in *span*."""
    first, last = span
    notes, visits = list(problem.notes), list(problem.visits)
    for one in asked:
        here = [visit for visit in one.visits if first <= visit[0] <= last]
        if here:
            visits.extend(Visit(len(notes), time, locks) for time, locks in here)
            notes.append(PrintedNote(one.choices))
    visits.sort(key=lambda v: (v.time, v.note))
    return replace(problem, notes=tuple(notes), visits=tuple(visits))
