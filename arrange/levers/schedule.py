"""Which moment and hand each move takes, so that no hand makes two moves at once.

The groups' answers fix what must happen; a *job* is one printed move of theirs with the
windows that it serves. Every slot and hand that serves the same windows at no higher price is
an *option*. Conflicting jobs are given other options by backtracking, jobs with the fewest
options first; more jobs are drawn in as they get in the way. Where that fails, the smallest
set of jobs that cannot live together is returned.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

from arrange.levers.groups import ACT, SCALE, Answer, Group
from arrange.levers.timetable import Timetable
from arrange.units import Microseconds

MOST_TRIALS = 4000
"""How many placings one backtracking may try (house judgement)."""


@dataclass(frozen=True, slots=True)
class Option:
    """One way to make a printed move.

    Attributes:
        slot: the printed slot; *hand*: the hand; *acts*: the moments of the slot, as bits.
        times: when these moments are; *slack*: the least time left.
        cost: scaled.
    """

    slot: int
    hand: int
    acts: int
    times: tuple[Microseconds, ...]
    slack: Microseconds
    cost: int


@dataclass(frozen=True, slots=True)
class Job:
    """One printed move that is needed, and its options, the best first."""

    string: int
    raised: int
    options: tuple[Option, ...]


@dataclass(frozen=True, slots=True)
class Placing:
    """An option for every job, or jobs that cannot take any of the named options together."""

    options: tuple[Option, ...]
    clash: tuple[tuple[Job, tuple[Option, ...]], ...] = ()


Window = tuple[Microseconds, Microseconds, Microseconds]


def jobs_of(group: Group, answer: Answer, timetable: Timetable) -> list[Job]:
    """Return the moves of *answer* with all their options at no higher price."""
    jobs = []
    windows: dict[int, list[Window]] = {}
    for act in answer.acts:
        if act.string not in windows:
            windows[act.string] = _windows(group, answer, act.string)
        served = [
            _window_at(windows[act.string], moment.time)
            for place, moment in enumerate(timetable.slots[act.slot].times)
            if act.acts >> place & 1
        ]
        finder = _Options(group, act.string, act.raised, timetable)
        most = finder.cost(act.slot, act.hand, act.acts)
        jobs.append(Job(group.strings[act.string], act.raised, finder.within(tuple(served), most)))
    return jobs


def _windows(group: Group, answer: Answer, string: int) -> list[Window]:
    """Return (pluck, its lock, next pluck) for every stretch between plucks of *string*."""
    plucks: dict[Microseconds, Microseconds] = {}
    for note, pick in zip(group.notes, answer.picks, strict=True):
        choice = note.choices[pick]
        if choice.mask >> string & 1:
            for time, locks in zip(note.times, note.locks, strict=True):
                lock = locks[choice.picks[0]]
                plucks[time] = max(lock, plucks.get(time, lock))
    times = sorted(plucks)
    first = (_LONG_AGO, _LONG_AGO, times[0])
    return [first] + [
        (time, plucks[time], until) for time, until in zip(times, times[1:], strict=False)
    ]


_LONG_AGO: Microseconds = -(1 << 61)


def _window_at(windows: list[Window], time: Microseconds) -> Window:
    return windows[bisect_left(windows, time, key=lambda window: window[2])]


class _Options:
    """Finds the options of one string's moves."""

    def __init__(self, group: Group, string: int, raised: int, timetable: Timetable) -> None:
        self.reach = group.reaches[string]
        self.extras = [extra for extra in group.extras[string] if extra[0] == raised]
        self.timetable = timetable

    def cost(self, slot: int, hand: int, acts: int) -> int:
        """Return the scaled price with surcharges; negative where the hand is not free."""
        price = self.timetable.price(slot, self.reach, hand, acts)
        if price is None:
            return -1
        extra = sum(
            surcharge
            for _, where, which, moments, surcharge in self.extras
            if where == slot and which == hand and moments & acts == moments
        )
        return price * SCALE + ACT * acts.bit_count() + extra

    def within(self, served: tuple[Window, ...], most: int) -> tuple[Option, ...]:
        """Return the options that serve these windows for *most*, the best first."""
        found = []
        first = served[0]
        for _, slot, _ in self.timetable.between(first[0], first[2]):
            for hand in range(len(self.timetable.hands)):
                option = self._option(slot, hand, served)
                if option is not None and option.cost <= most:
                    found.append(option)
        found = list(dict.fromkeys(found))
        found.sort(key=lambda one: (one.cost, -one.slack, one.times, one.slot, one.hand))
        return tuple(found)

    def _option(self, slot: int, hand: int, served: Sequence[Window]) -> Option | None:
        move = self.timetable.hands[hand].move
        slack = self.timetable.slack(slot, self.reach)
        acts = 0
        times = []
        for after, lock, until in served:
            for place, moment in enumerate(self.timetable.slots[slot].times):
                if (
                    not acts >> place & 1
                    and max(after + 1, lock + move) <= moment.time <= until
                    and slack[place][hand] >= 0
                ):
                    acts |= 1 << place
                    times.append(moment.time)
                    break
            else:
                return None
        cost = self.cost(slot, hand, acts)
        left = self.timetable.least_slack(slot, self.reach, hand, acts)
        return Option(slot, hand, acts, tuple(times), left, cost)


class Placer:
    """Places jobs so that no hand makes two moves at once."""

    def __init__(self, jobs: Sequence[Job], moves: Sequence[Microseconds]) -> None:
        self.jobs = jobs
        self.moves = moves
        self._trials = 0

    def place(self) -> Placing:
        """Return options for all jobs, or a smallest set that cannot be placed."""
        chosen = [job.options[0] for job in self.jobs]
        while True:
            pair = self._first_conflict(chosen)
            if pair is None:
                return Placing(tuple(chosen))
            involved = set(pair)
            while True:
                placed = self._search(sorted(involved))
                if placed is None:
                    return Placing((), self._clash_among(sorted(involved), pair, chosen))
                for job, option in placed.items():
                    chosen[job] = option
                more = self._touching(chosen, involved)
                if not more:
                    break
                involved |= more

    def _clash(self, one: Option, other: Option) -> bool:
        if one.hand != other.hand:
            return False
        move = self.moves[one.hand]
        return any(abs(a - b) < move for a in one.times for b in other.times)

    def _first_conflict(self, chosen: Sequence[Option]) -> tuple[int, int] | None:
        spans = sorted(
            (option.hand, time, job) for job, option in enumerate(chosen) for time in option.times
        )
        for (hand, time, job), (other_hand, later, other) in zip(spans, spans[1:], strict=False):
            if hand == other_hand and later - time < self.moves[hand] and job != other:
                return job, other
        return None

    def _touching(self, chosen: Sequence[Option], involved: set[int]) -> set[int]:
        return {
            job
            for job, option in enumerate(chosen)
            if job not in involved and any(self._clash(option, chosen[one]) for one in involved)
        }

    def _search(self, jobs: list[int]) -> dict[int, Option] | None:
        self._trials = 0
        return self._assign({job: list(self.jobs[job].options) for job in jobs}, {})

    def _assign(
        self, left: dict[int, list[Option]], done: dict[int, Option]
    ) -> dict[int, Option] | None:
        if not left:
            return done
        job = min(left, key=lambda one: (len(left[one]), one))
        for option in left[job]:
            self._trials += 1
            if self._trials > MOST_TRIALS:
                return None
            narrowed = {
                other: [one for one in options if not self._clash(option, one)]
                for other, options in left.items()
                if other != job
            }
            if all(narrowed.values()):
                found = self._assign(narrowed, {**done, job: option})
                if found is not None:
                    return found
        return None

    def _clash_among(
        self, jobs: list[int], pair: tuple[int, int], chosen: Sequence[Option]
    ) -> tuple[tuple[Job, tuple[Option, ...]], ...]:
        """Return a smallest set of *jobs* that clash, or what is sure when trials ran out."""
        if self._trials > MOST_TRIALS:
            return tuple((self.jobs[job], (chosen[job],)) for job in pair)
        kept = list(jobs)
        for job in jobs:
            fewer = [one for one in kept if one != job]
            if len(fewer) > 1 and self._search(fewer) is None and self._trials <= MOST_TRIALS:
                kept = fewer
        return tuple((self.jobs[job], self.jobs[job].options) for job in kept)
