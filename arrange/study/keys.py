"""Every transposition weighed: distance, how it reads, folds, glissandi and levers.

A key is looked into only as far as it can still win: first what its distance and its signature
cost, then what has to be folded, then what each string costs by itself (``key_floors``), then
the planner's own bound, and only then the plan. The least of these comes first, so the first key
that is planned and still the least has won; the others keep the bound that they had by then.
"""

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from heapq import heappop, heappush

from arrange.changes import Fidelity
from arrange.levers.problem import Choice, LeverProblem, Plan, PrintedNote
from arrange.levers.solve import Prospect
from arrange.levers.timetable import Timetable
from arrange.pitch import Interval, Pitch
from arrange.score.model import EventId, Score
from arrange.study.compass import Folding, folding
from arrange.study.glissandi import sweep_outlook
from arrange.study.key_floors import KeyFloors
from arrange.study.key_prices import beyond_the_caps, distance, reading
from arrange.study.keysignature import key_name, wanted_positions
from arrange.study.planning import (
    Ground,
    first_passes,
    ground,
    lever_hands,
    lever_prices,
    question_of,
)
from arrange.study.repairs import Repairs
from arrange.study.terms import Terms

REACH = 6
"""Semitones weighed each way."""
FREE_CHOICE = 4
"""Semitones that are chosen without being asked for."""
DRY_ABOVE = Pitch("F", 0, 6).midi
EFFORT = 1_000
"""How much search a key is worth (house judgement: keys then rank as with three times as much)."""
MORE_EFFORT = 3_000
"""How much it is worth where so little leaves in doubt whether notes are lost."""
FAR_FROM_PROVEN = 10_000
"""From such a gap between a plan and its bound on, in hundredths of a move, a key is worth more
effort (house judgement)."""
GONE = PrintedNote((Choice((), 0, "gone"),))
"""A note that the compass takes: it is paid for there, and asks nothing of the levers."""


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


class KeyScale:
    """Weighs the transpositions of one score for one harp and player.

    Repeats are weighed once: what differs between keys shows on the first time through.
    """

    def __init__(self, score: Score, terms: Terms, limit: Fidelity) -> None:
        self._score = score
        self._terms = terms
        measures = score.by_part[score.harps[0][0].part].measures
        first = measures[0]
        self._fifths, self._mode = first.fifths[0], first.mode
        self._apart = tuple(measure.fifths[0] - self._fifths for measure in measures)
        repairs = Repairs(score, terms, limit)
        self._harps = [
            _HarpInKeys(
                first_passes(ground(score, staves, terms.player, (), terms.prices)),
                repairs,
                terms,
                self._fifths,
            )
            for staves in score.harps
        ]
        self._measures = len(measures)

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

        Unless *all_exact*, a key that cannot be the lightest keeps the bound that shows it.
        """
        keys = [self._key(interval) for interval in intervals]
        if all_exact:
            for key in keys:
                self._fold(key)
                self._plan(key)
        else:
            self._look_for_the_best(keys)
        return tuple(sorted((self._weight(key) for key in keys), key=self._preference))

    def _look_for_the_best(self, keys: list["_Key"]) -> None:
        steps = (self._fold, self._floor, self._bound, self._plan)
        queue: list[tuple[int, int, int, int]] = []
        for number, key in enumerate(keys):
            heappush(queue, (key.cost, 0, abs(key.interval.semitones), number))
        while queue:
            _, level, far, number = heappop(queue)
            if level == len(steps):
                break
            steps[level](keys[number])
            heappush(queue, (keys[number].cost, level + 1, far, number))

    def _preference(self, weight: KeyWeight) -> tuple[int, bool, int, int, int]:
        raised = sum(1 for p in wanted_positions(self._terms.harp, weight.fifths) if p == "up")
        semitones = weight.interval.semitones
        return weight.cost, not weight.is_exact, raised, abs(semitones), semitones

    # What a key costs, step by step

    def _key(self, interval: Interval) -> "_Key":
        fifths = self._fifths + interval.fifths
        cost = distance(interval, self._terms.prices)
        cost += reading(self._terms, fifths, self._apart)
        return _Key(interval, fifths, cost, cost)

    def _fold(self, key: "_Key") -> None:
        for harp in self._harps:
            folded = folding(self._score, harp.basis.staves, self._terms, key.interval)
            key.foldings.append(folded)
            key.aside += folded.cost + harp.dryness(folded, key.interval)
            key.aside += sweep_outlook(self._score, harp.basis.staves, self._terms, key.interval)
        key.cost = key.aside

    def _floor(self, key: "_Key") -> None:
        floors = zip(self._harps, key.foldings, strict=True)
        key.cost += sum(harp.floor(key.interval, one) for harp, one in floors)

    def _bound(self, key: "_Key") -> None:
        key.prospects = [
            Prospect(harp.problem(key.interval, folded), harp.timetable)
            for harp, folded in zip(self._harps, key.foldings, strict=True)
        ]
        key.cost = max(key.cost, key.aside + sum(one.bound() for one in key.prospects))

    def _plan(self, key: "_Key") -> None:
        if not key.prospects:
            self._bound(key)
        key.plans = [self._planned(prospect) for prospect in key.prospects]
        moves = sum(len(plan.moves) for plan in key.plans)
        key.aside += beyond_the_caps(moves, self._measures, self._terms)
        key.cost = key.aside + sum(plan.cost for plan in key.plans)

    def _planned(self, prospect: Prospect) -> Plan:
        plan = prospect.plan(EFFORT)
        if plan.cost - plan.bound < FAR_FROM_PROVEN:
            return plan
        return prospect.plan(MORE_EFFORT)

    def _weight(self, key: "_Key") -> KeyWeight:
        labels = [
            prospect.problem.notes[i].choices[choice].label
            for prospect, plan in zip(key.prospects, key.plans, strict=False)
            for i, choice in enumerate(plan.choices)
        ]
        is_exact = bool(key.plans)
        return KeyWeight(
            interval=key.interval,
            fifths=key.fifths,
            name=key_name(key.fifths, self._mode),
            moves=sum(len(plan.moves) for plan in key.plans),
            altered=sum(1 for label in labels if label in {"octave", "omit"})
            + sum(f.altered for f in key.foldings),
            open=labels.count("open") + sum(len(f.open) for f in key.foldings) * is_exact,
            cost=key.cost,
            is_exact=is_exact,
        )


@dataclass(slots=True)
class _Key:
    """One key, as far as it has been looked into.

    Attributes:
        cost: what is known of it: a lower bound until there are plans.
        aside: what it costs beside the levers.
    """

    interval: Interval
    fifths: int
    cost: int
    aside: int
    foldings: list[Folding] = field(default_factory=list)
    prospects: list[Prospect] = field(default_factory=list)
    plans: list[Plan] = field(default_factory=list)


class _HarpInKeys:
    """One harp's plucks, which every key asks of other strings.

    Attributes:
        basis: each measure played once; *timetable*: where its levers can be moved.
    """

    def __init__(self, basis: Ground, repairs: Repairs, terms: Terms, fifths: int) -> None:
        self.basis = basis
        self.timetable = Timetable(basis.slots, lever_hands(basis, terms), lever_prices(terms))
        self._repairs = repairs
        self._terms = terms
        self._fifths = fifths
        self._floors = KeyFloors(basis, repairs, terms, self.timetable, fifths)
        self._firsts = [basis.plucks[i] for i in basis.printed.firsts]
        self._kinds, self._samples = self._numbered_kinds()
        self._heights = sorted(pluck.pitch.midi for pluck in basis.plucks)
        self._plucks_of: dict[EventId, list[int]] = {}
        for number, pluck in enumerate(basis.plucks):
            self._plucks_of.setdefault(pluck.note, []).append(number)

    def _numbered_kinds(self) -> tuple[list[int], list[int]]:
        """The kind of each printed note, and a note of each kind."""
        numbers: dict[tuple[Pitch, int], int] = {}
        kinds: list[int] = []
        samples: list[int] = []
        for place, pluck in enumerate(self._firsts):
            number = numbers.setdefault(self._repairs.kind(pluck), len(numbers))
            if number == len(samples):
                samples.append(place)
            kinds.append(number)
        return kinds, samples

    def floor(self, interval: Interval, folded: Folding) -> int:
        """Return what the levers cost at least."""
        changed: dict[int, int | None] = {}
        for note, octaves in folded.octaves.items():
            changed.update(dict.fromkeys(self._plucks_of.get(note, ()), octaves))
        for note in (*folded.dropped, *folded.open):
            changed.update(dict.fromkeys(self._plucks_of.get(note, ())))
        return self._floors.floor(interval, changed)

    def problem(self, interval: Interval, folded: Folding) -> LeverProblem:
        """Return what the planner is asked in a key."""
        alike = [
            PrintedNote(self._repairs.choices(pluck, interval.move(pluck.pitch)))
            for pluck in map(self._firsts.__getitem__, self._samples)
        ]
        notes = [alike[kind] for kind in self._kinds]
        gone = folded.dropped | folded.open
        if gone or folded.octaves:
            for place, pluck in enumerate(self._firsts):
                if pluck.note in gone:
                    notes[place] = GONE
                elif octaves := folded.octaves.get(pluck.note, 0):
                    pitch = interval.move(pluck.pitch)
                    pitch = Pitch(pitch.step, pitch.alter, pitch.octave + octaves)
                    notes[place] = PrintedNote(self._repairs.choices(pluck, pitch))
        terms = replace(self._terms, fifths=self._fifths + interval.fifths)
        return question_of(self.basis, terms, notes).problem

    def dryness(self, folded: Folding, interval: Interval) -> int:
        """Return what notes cost that lie so high that they are dry."""
        high = DRY_ABOVE - interval.semitones
        count = len(self._heights) - bisect_right(self._heights, high)
        for note, octaves in folded.octaves.items():
            for number in self._plucks_of.get(note, ()):
                height = self.basis.plucks[number].pitch.midi
                count += (height + 12 * octaves > high) - (height > high)
        return self._terms.prices.dry * count
