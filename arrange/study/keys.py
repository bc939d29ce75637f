"""Every transposition weighed: distance, folds, glissandi and levers."""

from collections.abc import Iterable
from dataclasses import dataclass

from arrange.changes import Fidelity
from arrange.levers.problem import Choice, LeverProblem, Plan
from arrange.levers.solve import lower_bound, solve
from arrange.levers.timetable import Timetable
from arrange.pitch import Interval, Pitch
from arrange.score.model import Score
from arrange.study.compass import Folding, folding
from arrange.study.glissandi import sweep_outlook
from arrange.study.keysignature import key_name, wanted_positions
from arrange.study.planning import (
    Ground,
    first_passes,
    ground,
    question,
)
from arrange.study.prices import PriceList
from arrange.study.repairs import Repairs
from arrange.study.terms import Terms

REACH = 6
"""Semitones weighed each way."""
FREE_CHOICE = 4
"""Semitones that are chosen without being asked for."""
DRY_ABOVE = Pitch("F", 0, 6).midi
NEAR = 2
EFFORT = 3_000
"""How much search a key is worth (house judgement: gaps are then a few hundredths of a move
in a thousand)."""


@dataclass(frozen=True, slots=True)
class KeyWeight:
    """What one transposition would take.

    Attributes:
        interval: the transposition; *fifths*, *name*: the key that it leads to at the start.
        moves: lever moves; *altered*: notes that differ from the transposed source; *open*:
            notes left to the editor.
        cost: in hundredths of a move; *is_exact*: False where it is only a lower bound, since
            the key could not win.
    """

    interval: Interval
    fifths: int
    name: str
    moves: int
    altered: int
    open: int
    cost: int
    is_exact: bool = True


PRICED_IN_FOLDING = (Choice((), 0, "gone"),)
"""For a note that the compass takes: it asks nothing of the levers."""


class KeyScale:
    """Weighs the transpositions of one score for one harp and player.

    Repeats are weighed once: what differs between keys shows on the first time through.
    """

    def __init__(self, score: Score, terms: Terms, limit: Fidelity) -> None:
        self._score = score
        self._terms = terms
        self._repairs = Repairs(score, terms, limit)
        self._grounds = [
            first_passes(ground(score, staves, terms.player, (), terms.prices))
            for staves in score.harps
        ]
        self._timetables: list[Timetable] = []
        self._pitches = {b.staves: [p.pitch.midi for p in b.plucks] for b in self._grounds}
        self._kinds = {b.staves: self._numbered_kinds(b) for b in self._grounds}
        first = score.by_part[score.harps[0][0].part].measures[0]
        self._fifths, self._mode = first.fifths[0], first.mode

    def _numbered_kinds(self, basis: Ground) -> list[int]:
        numbers: dict[tuple[Pitch, int], int] = {}
        kinds = map(self._repairs.kind, basis.plucks)
        return [numbers.setdefault(kind, len(numbers)) for kind in kinds]

    def intervals(self) -> tuple[Interval, ...]:
        """One interval a semitone, -6 to 6, spelled for the strings; nearest first."""
        spans = sorted(range(-REACH, REACH + 1), key=lambda n: (abs(n), n))
        return tuple(self.interval(n) for n in spans)

    def interval(self, semitones: int) -> Interval:
        """The interval of *semitones* whose key suits the harp and has seven signs at most."""
        middle = round(semitones * 7 / 12)
        options = [Interval(steps, semitones) for steps in range(middle - 2, middle + 3)]
        return min(options, key=self._awkwardness)

    def _awkwardness(self, interval: Interval) -> tuple[bool, int, int, int]:
        fifths = self._fifths + interval.fifths
        if abs(fifths) > 7:
            return True, abs(fifths), 0, 0
        letters = wanted_positions(self._terms.harp, fifths)
        return False, letters.count(None), abs(fifths), abs(interval.fifths)

    def weigh(self, intervals: Iterable[Interval], *, all_exact: bool) -> tuple[KeyWeight, ...]:
        """Weigh *intervals*; the lightest comes first.

        Unless *all_exact*, a key whose lower bound is above the best so far keeps that bound.
        """
        bounds = sorted(
            (self._bounded(interval) for interval in intervals),
            key=lambda b: (b.bound, abs(b.interval.semitones), b.interval.semitones),
        )
        best: int | None = None
        found = []
        for candidate in bounds:
            if all_exact or best is None or candidate.bound < best:
                weight = self._weight(
                    candidate,
                    [
                        solve(p, limit=EFFORT, timetable=t)
                        for p, t in zip(candidate.problems, self._timetables, strict=True)
                    ],
                )
                best = weight.cost if best is None else min(best, weight.cost)
            else:
                weight = self._unsolved(candidate)
            found.append(weight)
        return tuple(sorted(found, key=self._preference))

    def _preference(self, weight: KeyWeight) -> tuple[int, bool, int, int, int]:
        raised = sum(1 for p in wanted_positions(self._terms.harp, weight.fifths) if p == "up")
        semitones = weight.interval.semitones
        return weight.cost, not weight.is_exact, raised, abs(semitones), semitones

    def _bounded(self, interval: Interval) -> "_Candidate":
        foldings, problems = [], []
        cost = _distance(interval, self._terms.prices)
        for basis in self._grounds:
            folded = folding(self._score, basis.staves, self._terms, interval)
            foldings.append(folded)
            problems.append(self._problem(basis, folded, interval))
            cost += folded.cost + sweep_outlook(self._score, basis.staves, self._terms, interval)
            cost += self._dryness(basis, folded, interval)
        if not self._timetables:
            self._timetables = [Timetable(p.slots, p.hands, p.prices) for p in problems]
        bound = cost + sum(
            lower_bound(p, timetable=t) for p, t in zip(problems, self._timetables, strict=True)
        )
        return _Candidate(interval, cost, bound, tuple(problems), tuple(foldings))

    def _problem(self, basis: Ground, folded: Folding, interval: Interval) -> LeverProblem:
        plucks, kinds = basis.plucks, self._kinds[basis.staves]
        gone = folded.dropped | folded.open
        unmoved: dict[int, tuple[Choice, ...]] = {}

        def choices(i: int) -> tuple[Choice, ...]:
            pluck = plucks[i]
            if pluck.note in gone:
                return PRICED_IN_FOLDING
            octaves = folded.octaves.get(pluck.note, 0)
            if octaves:
                pitch = interval.move(pluck.pitch)
                return self._repairs.choices(
                    pluck, Pitch(pitch.step, pitch.alter, pitch.octave + octaves)
                )
            if kinds[i] not in unmoved:
                unmoved[kinds[i]] = self._repairs.choices(pluck, interval.move(pluck.pitch))
            return unmoved[kinds[i]]

        terms = Terms(
            self._terms.harp,
            self._terms.player,
            self._terms.prices,
            self._fifths + interval.fifths,
        )
        return question(basis, terms, choices).problem

    def _dryness(self, basis: Ground, folded: Folding, interval: Interval) -> int:
        high, octaves = DRY_ABOVE - interval.semitones, folded.octaves
        pitches = self._pitches[basis.staves]
        if octaves:
            moved = (octaves.get(pluck.note, 0) for pluck in basis.plucks)
            pitches = [midi + 12 * by for midi, by in zip(pitches, moved, strict=True)]
        return self._terms.prices.dry * sum(1 for midi in pitches if midi > high)

    def _weight(self, candidate: "_Candidate", plans: list[Plan]) -> KeyWeight:
        labels = [
            problem.notes[i].choices[choice].label
            for problem, plan in zip(candidate.problems, plans, strict=True)
            for i, choice in enumerate(plan.choices)
        ]
        fifths = self._fifths + candidate.interval.fifths
        return KeyWeight(
            interval=candidate.interval,
            fifths=fifths,
            name=key_name(fifths, self._mode),
            moves=sum(len(plan.moves) for plan in plans),
            altered=sum(1 for label in labels if label in {"octave", "omit"})
            + sum(f.altered for f in candidate.foldings),
            open=labels.count("open") + sum(len(f.open) for f in candidate.foldings),
            cost=candidate.cost + sum(plan.cost for plan in plans),
        )

    def _unsolved(self, candidate: "_Candidate") -> KeyWeight:
        fifths = self._fifths + candidate.interval.fifths
        altered = sum(f.altered for f in candidate.foldings)
        return KeyWeight(
            candidate.interval,
            fifths,
            key_name(fifths, self._mode),
            moves=0,
            altered=altered,
            open=0,
            cost=candidate.bound,
            is_exact=False,
        )


@dataclass(frozen=True, slots=True)
class _Candidate:
    interval: Interval
    cost: int
    bound: int
    problems: tuple[LeverProblem, ...]
    foldings: tuple[Folding, ...]


def _distance(interval: Interval, prices: PriceList) -> int:
    """What moving the piece costs: a little up to two semitones, much beyond four."""
    far = abs(interval.semitones)
    return (
        prices.semitone * min(far, NEAR)
        + prices.far_semitone * max(min(far, FREE_CHOICE) - NEAR, 0)
        + prices.beyond_four * max(far - FREE_CHOICE, 0)
    )
