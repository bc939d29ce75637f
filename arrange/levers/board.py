"""Jobs with options beside each other: which options no hand can have together."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from arrange.units import Microseconds

MOST_TRIALS = 2_000
"""How many placings one search may try (house judgement)."""

FEW_TRIALS = 20
"""After so many it is counted whether the jobs can be placed at all (house judgement)."""


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


class Board:
    """Jobs, each of which takes one of its options, the best that it can have.

    Options are bits: what an option rules out is one number, and so is what a job has left.
    Jobs that cannot get into each other's way are placed apart. Of the others, the one with
    the fewest options left is placed first, and taken back where nothing is left to another.
    Where that does not soon lead to a placing, moves are counted: jobs are too many for a
    stretch of time if the hands cannot make so many moves at their moments within it.

    Attributes:
        failed: the jobs that could not be placed; *is_given_up*: trials ran out on them.
    """

    def __init__(
        self, jobs: Mapping[int, Sequence[Option]], moves: Sequence[Microseconds]
    ) -> None:
        self.failed: tuple[int, ...] = ()
        self.is_given_up = False
        self._options: list[Option] = []
        self._left: dict[int, int] = {}
        for job in sorted(jobs):
            first = len(self._options)
            self._options += jobs[job]
            self._left[job] = (1 << len(self._options)) - (1 << first)
        self._moves = moves
        self._against = self._ruled_out(moves)
        self._trials = 0
        self._most = MOST_TRIALS

    def placed(self) -> dict[int, Option]:
        """Return an option for each job; nothing where there is no way, or none was found."""
        done: dict[int, int] = {}
        for together in self._parts():
            found = self._within(together, FEW_TRIALS)
            if found is None and self._trials > FEW_TRIALS and not self._are_too_many(together):
                found = self._within(together, MOST_TRIALS)
            if found is None:
                self.failed = tuple(together)
                self.is_given_up = self._trials > MOST_TRIALS
                return {}
            done |= found
        return {job: self._options[place] for job, place in done.items()}

    def is_impossible(self) -> bool:
        """Return True where it is sure that not all can be placed."""
        return not self.placed() and not self.is_given_up

    def _ruled_out(self, moves: Sequence[Microseconds]) -> list[int]:
        """For each option those that the same hand cannot have as well."""
        against = [0] * len(self._options)
        moments = sorted(
            (option.hand, time, place)
            for place, option in enumerate(self._options)
            for time in option.times
        )
        first = 0
        for number, (hand, time, place) in enumerate(moments):
            while moments[first][0] != hand or time - moments[first][1] >= moves[hand]:
                first += 1
            for _, _, other in moments[first:number]:
                against[place] |= 1 << other
                against[other] |= 1 << place
        return against

    def _parts(self) -> list[list[int]]:
        """The jobs by parts that do not touch each other."""
        parts: list[tuple[int, list[int]]] = []
        for job, mine in self._left.items():
            together, reach = [job], mine | self._near(mine)
            apart = []
            for reached, members in parts:
                if reached & mine:
                    reach |= reached
                    together += members
                else:
                    apart.append((reached, members))
            parts = [*apart, (reach, together)]
        return [sorted(members) for _, members in parts]

    def _near(self, options: int) -> int:
        """All that any of *options* rules out."""
        found = 0
        while options:
            lowest = options & -options
            found |= self._against[lowest.bit_length() - 1]
            options ^= lowest
        return found

    def _within(self, together: list[int], most: int) -> dict[int, int] | None:
        """Return the placing of jobs, None where there is none or *most* trials did not do."""
        self._trials, self._most = 0, most
        return self._assigned({job: self._left[job] for job in together}, {})

    def _are_too_many(self, together: list[int]) -> bool:
        """Return True where hands cannot make so many moves in some stretch of time."""
        moments = {job: self._moments(self._left[job]) for job in together}
        spans = {job: (found[0][0], found[-1][0]) for job, found in moments.items()}
        by_end = sorted(together, key=lambda job: (spans[job][1], job))
        for begin in sorted({span[0] for span in spans.values()}):
            within: set[tuple[Microseconds, int]] = set()
            count = 0
            for job in by_end:
                if spans[job][0] >= begin:
                    within.update(moments[job])
                    count += 1
                    if self._most_moves(within) < count:
                        return True
        return False

    def _moments(self, options: int) -> list[tuple[Microseconds, int]]:
        """When, and with which hand, any of *options* first acts; sorted."""
        found = []
        while options:
            lowest = options & -options
            option = self._options[lowest.bit_length() - 1]
            found.append((option.times[0], option.hand))
            options ^= lowest
        return sorted(found)

    def _most_moves(self, moments: Iterable[tuple[Microseconds, int]]) -> int:
        """Return how many moves the hands can make at *moments*, at most."""
        latest: dict[int, Microseconds] = {}
        count = 0
        for time, hand in sorted(moments):
            if hand not in latest or time - latest[hand] >= self._moves[hand]:
                latest[hand] = time
                count += 1
        return count

    def _assigned(self, left: dict[int, int], done: dict[int, int]) -> dict[int, int] | None:
        if not left:
            return done
        job = min(left, key=lambda one: (left[one].bit_count(), one))
        options = left[job]
        others = [(one, had) for one, had in left.items() if one != job]
        while options:
            lowest = options & -options
            options ^= lowest
            place = lowest.bit_length() - 1
            self._trials += 1
            if self._trials > self._most:
                return None
            free = ~self._against[place]
            narrowed = {one: had & free for one, had in others}
            if all(narrowed.values()):
                found = self._assigned(narrowed, {**done, job: place})
                if found is not None:
                    return found
        return None
