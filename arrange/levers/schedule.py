"""Which moment and hand each move takes, so that no hand makes two moves at once.

The groups' answers fix what must happen; a *job* is one printed move of theirs with the
windows that it serves. Every slot and hand that serves the same windows at no higher price is
an *option*. Conflicting jobs are given other options by backtracking, jobs with the fewest
options first; more jobs are drawn in as they get in the way. Where that fails, the smallest
set of jobs that cannot live together is returned.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, product

from arrange.levers.board import Board, Option
from arrange.levers.groups import ACT, FAR, LONG_AGO, SCALE, Answer, Group, plucks_of
from arrange.levers.timetable import Timetable
from arrange.units import Microseconds

Window = tuple[Microseconds, Microseconds, Microseconds]
"""The last pluck of a string, its lock, and its next pluck."""


class Job:
    """One printed move that is needed.

    Attributes:
        string: which string; *raised*: 1 where the lever goes up.
        best: the way to make it while no hand is asked twice.
    """

    __slots__ = ("_every", "_finder", "_most", "_options", "_served", "best", "raised", "string")

    def __init__(self, finder: "Finder", served: tuple[Window, ...], most: int) -> None:
        self.string = finder.group.strings[finder.string]
        self.raised = finder.raised
        self._finder = finder
        self._served = served
        self._most = most
        self._options: tuple[Option, ...] = ()
        self._every: tuple[Option, ...] = ()
        self.best = finder.best(served, most)

    @property
    def options(self) -> tuple[Option, ...]:
        """Every way to make it at no higher price, the best first."""
        if not self._options:
            self._options = self._finder.within(self._served, self._most)
        return self._options

    @property
    def every_option(self) -> tuple[Option, ...]:
        """Every way to make it between the same plucks, at whatever price."""
        if not self._every:
            self._every = self._finder.within(self._served, FAR)
        return self._every

    def is_single(self, options: tuple[Option, ...]) -> bool:
        """Return True where no plan uses two of *options* without a needless move."""
        first = min(option.times[0] for option in options)
        last = max(option.times[0] for option in options)
        return first == last or not self._finder.is_contested(first, last)


@dataclass(frozen=True, slots=True)
class Placing:
    """An option for every job, or jobs that cannot take any of the named options together."""

    options: tuple[Option, ...]
    clash: tuple[tuple[Job, tuple[Option, ...]], ...] = ()


def jobs_of(group: Group, answer: Answer, timetable: Timetable) -> list[Job]:
    """Return the moves of *answer*, each with the best way to make it."""
    jobs = []
    windows: dict[int, dict[Microseconds, Window]] = {}
    for need in answer.needs:
        if need.string not in windows:
            windows[need.string] = _windows(group, answer, need.string)
        served = tuple(windows[need.string][until] for until in need.untils)
        jobs.append(Job(Finder(group, need.string, need.raised, timetable), served, need.cost))
    return jobs


def _windows(group: Group, answer: Answer, string: int) -> dict[Microseconds, Window]:
    """Return for each pluck of *string* the stretch since the pluck before."""
    plucks = plucks_of(group, answer.picks, string)
    times = sorted(plucks)
    windows = {times[0]: (LONG_AGO, LONG_AGO, times[0])}
    for time, until in pairwise(times):
        windows[until] = (time, plucks[time], until)
    return windows


class Finder:
    """Finds the options of one string's moves in one direction."""

    def __init__(self, group: Group, string: int, raised: int, timetable: Timetable) -> None:
        self.group = group
        self.string = string
        self.raised = raised
        self.reach = group.reaches[string]
        self.extras = [extra for extra in group.extras[string] if extra[0] == raised]
        self.timetable = timetable

    def is_contested(self, first: Microseconds, last: Microseconds) -> bool:
        """Return True where a pluck from *first* to *last* could ask for the other position."""
        return any(
            first <= time < last
            for note in self.group.notes
            if any(
                choice.mask >> self.string & 1 and choice.value >> self.string & 1 != self.raised
                for choice in note.choices
            )
            for time in note.times
        )

    def best(self, served: tuple[Window, ...], most: int) -> Option:
        """Return the best option: the cheapest, with most slack, the earliest."""
        if len(served) > 1 or self.extras:
            return self.within(served, most)[0]
        struck, lock, until = served[0]
        found: list[tuple[int, Microseconds, Microseconds, int, int, int]] = []
        for level in self.timetable.levels(self.reach):
            cost = level.price * SCALE + ACT
            if cost > most:
                break
            low = bisect_left(level.times, max(struck + 1, lock + level.move))
            high = bisect_right(level.times, until)
            if low < high:
                slack = max(level.slack[low:high])
                place = level.slack.index(slack, low)
                slot, moment = level.places[place]
                found.append((cost, -slack, level.times[place], slot, level.hand, moment))
        cost, slack, time, slot, hand, moment = min(found)
        return Option(slot, hand, 1 << moment, (time,), -slack, cost)

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
        found: list[Option] = []
        first = served[0]
        for _, slot, _ in self.timetable.between(first[0], first[2]):
            for hand in range(len(self.timetable.hands)):
                found += (o for o in self._options(slot, hand, served) if o.cost <= most)
        found = list(dict.fromkeys(found))
        found.sort(key=lambda one: (one.cost, -one.slack, one.times, one.slot, one.hand))
        return tuple(found)

    def _options(self, slot: int, hand: int, served: Sequence[Window]) -> Iterator[Option]:
        """Yield the ways to serve the windows at one slot, one moment a window."""
        move = self.timetable.hands[hand].move
        slack = self.timetable.slack(slot, self.reach)
        moments = [
            (place, moment.time)
            for place, moment in enumerate(self.timetable.slots[slot].times)
            if slack[place][hand] >= 0
        ]
        fitting = [
            [one for one in moments if max(after + 1, lock + move) <= one[1] <= until]
            for after, lock, until in served
        ]
        for taken in product(*fitting):
            acts = sum({1 << place for place, _ in taken})
            if acts.bit_count() == len(served):
                cost = self.cost(slot, hand, acts)
                left = self.timetable.least_slack(slot, self.reach, hand, acts)
                yield Option(slot, hand, acts, tuple(time for _, time in taken), left, cost)


class Placer:
    """Places jobs so that no hand makes two moves at once."""

    def __init__(self, jobs: Sequence[Job], moves: Sequence[Microseconds]) -> None:
        self.jobs = jobs
        self.moves = moves

    def place(self) -> Placing:
        """Return options for all jobs, or a smallest set that cannot be placed."""
        chosen = [job.best for job in self.jobs]
        while True:
            times = self._times(chosen)
            pair = self._first_conflict(times)
            if pair is None:
                return Placing(tuple(chosen))
            involved = set(pair)
            while True:
                board = Board({job: self.jobs[job].options for job in involved}, self.moves)
                placed = board.placed()
                if not placed:
                    return Placing((), self._clash_among(board, pair, chosen))
                for job, option in placed.items():
                    chosen[job] = option
                more = self._touching(times, chosen, involved)
                if not more:
                    break
                involved |= more

    def _times(self, chosen: Sequence[Option]) -> list[list[tuple[Microseconds, int]]]:
        """When each hand moves a lever, and for which job, in order."""
        rows: list[list[tuple[Microseconds, int]]] = [[] for _ in self.moves]
        for job, option in enumerate(chosen):
            rows[option.hand] += [(time, job) for time in option.times]
        for row in rows:
            row.sort()
        return rows

    def _first_conflict(
        self, times: Sequence[Sequence[tuple[Microseconds, int]]]
    ) -> tuple[int, int] | None:
        for row, move in zip(times, self.moves, strict=True):
            for (time, job), (later, other) in pairwise(row):
                if later - time < move and job != other:
                    return job, other
        return None

    def _touching(
        self,
        times: Sequence[Sequence[tuple[Microseconds, int]]],
        chosen: Sequence[Option],
        involved: set[int],
    ) -> set[int]:
        """The other jobs, which stand where *times* has them, that one *involved* clashes with."""
        found: set[int] = set()
        for option in (chosen[job] for job in involved):
            row, move = times[option.hand], self.moves[option.hand]
            for time in option.times:
                at = bisect_right(row, (time - move, len(chosen)))
                while at < len(row) and row[at][0] < time + move:
                    found.add(row[at][1])
                    at += 1
        return found - involved

    def _clash_among(
        self, board: Board, pair: tuple[int, int], chosen: Sequence[Option]
    ) -> tuple[tuple[Job, tuple[Option, ...]], ...]:
        """Return as few jobs as clash, with as many options as do not help.

        Where trials ran out, return what is sure: the pair as it was.
        """
        if board.is_given_up:
            return tuple((self.jobs[job], (chosen[job],)) for job in pair)
        kept = {job: self.jobs[job].options for job in board.failed}
        for job in board.failed:
            fewer = {one: options for one, options in kept.items() if one != job}
            if len(fewer) > 1 and Board(fewer, self.moves).is_impossible():
                kept = fewer
        for job in list(kept):
            wider = {**kept, job: self.jobs[job].every_option}
            if Board(wider, self.moves).is_impossible():
                kept = wider
        return tuple((self.jobs[job], options) for job, options in kept.items())
