"""The cheapest plan of one group in a piece without repeats: dynamic programming by plucks.

State after a note: the setting of the group's levers and, for each string, the moments since
its last pluck at which its lever can be moved. A choice of the next note lets the strings
that it plucks stay, or moves them at the lowest price that these moments offer. The future
depends on the state only, so keeping the cheapest of equal states is exact.

First a quick answer: notes joined as runs, backward once with every move at the lowest price
of all, for what is to pay at least, and once with every move at its price in the time before
its run, for some plan. Where these agree the plan is the cheapest. Where not, the same with
notes that are joined only where nothing can be lost (``joining``), and then forward with all
states that may still beat the plan. The work is plucks x states; states are at most
exponential in the group's strings. Beyond *most_states* the most promising are kept, and the
bound says so.
"""

from dataclasses import replace
from itertools import pairwise

from arrange.levers.crossings import Crossing, Row, Way, cheapest_moves
from arrange.levers.groups import (
    FAR,
    LONG_AGO,
    NEAR,
    NEVER,
    Answer,
    Group,
    Need,
)
from arrange.levers.joining import Joined, each, exactly_joined, runs_of
from arrange.levers.priced_moments import Entry, PricedMoments
from arrange.levers.standing import standing
from arrange.levers.timetable import Timetable
from arrange.units import Microseconds

MUCH = 30_000
"""After so many states in all, fewer are kept at a time (house judgement)."""

FEW_STATES = 50
"""So many are kept in any case."""

MORE = 8
"""So many times as many are kept where nothing came of those."""

State = tuple[int, tuple[Entry, ...], int]
"""The setting, an entry for each string, and the strings plucked at this very time."""

Step = dict[State, tuple[int, State | None, int]]
"""For each state its cost, the state before, and the choice that led here."""


class Chain:
    """One group's dynamic program."""

    def __init__(self, group: Group, timetable: Timetable, most_states: int) -> None:
        self.group = group
        self.most_states = most_states
        self.dropped = NEVER
        self.visited = 0
        self._much = MUCH
        self._timetable = timetable
        self._moments = [
            tuple(self._moments_of(string, raised) for raised in (0, 1))
            for string in range(len(group.strings))
        ]
        self._least = tuple((down.lowest, up.lowest) for down, up in self._moments)
        self._notes: list[Joined] = []
        self._to_go: list[list[int]] = []

    def _moments_of(self, string: int, raised: int) -> PricedMoments:
        group = self.group
        if not group.movable >> string & 1:
            return PricedMoments(())
        extras = group.extras[string]
        return self._timetable.priced_moments(group.reaches[string], raised, extras)

    def answer(self) -> Answer | None:
        """Return the cheapest plan, None where there is none."""
        if not all(note.choices for note in self.group.notes):
            return None
        if all(pair == (NEVER, NEVER) for pair in self._least):
            return standing(self.group)
        self._notes = runs_of(self.group)
        quick, least = self._quickly()
        if least >= FAR:
            return None
        if quick is not None and quick.cost <= least + NEAR:
            return replace(quick, bound=least)
        timetable = self._timetable
        self._notes = exactly_joined(self.group, timetable.times, timetable.moves)
        quick, least = self._quickly()
        if quick is not None and quick.cost <= least + NEAR:
            return replace(quick, bound=least)
        return self._in_full(quick)

    def _quickly(self) -> tuple[Answer | None, int]:
        """Return some plan, if there is one, and what any plan costs at least."""
        self._look_ahead()
        ahead = self._to_go[0]
        least = min((cost + ahead[setting] for setting, cost in self.group.starts), default=NEVER)
        return (None if least >= FAR else self._in_the_gaps()), least

    def _in_full(self, quick: Answer | None) -> Answer | None:
        """Return the cheapest plan; *quick* is one that may be dearer."""
        most = FAR if quick is None else quick.cost - NEAR
        full = self._forward(most)
        while full is None and quick is None and self.dropped < NEVER:
            self._begin_anew()
            full = self._forward(most)
        if full is not None:
            return full
        return None if quick is None else replace(quick, bound=min(most, self.dropped))

    def _begin_anew(self) -> None:
        """Nothing was left of the states that were kept: keep more."""
        self.dropped = NEVER
        self.most_states = max(self.most_states, FEW_STATES) * MORE
        self._much *= MORE

    def _look_ahead(self) -> None:
        """Work out for each note and setting what is still to pay at least."""
        after = [0] * (1 << len(self.group.strings))
        self._to_go = [after]
        known: dict[Crossing, tuple[Row, ...]] = {}
        for note in reversed(self._notes):
            crossing, costs = note.kind.crossing, note.costs
            rows = known.get(crossing)
            if rows is None:
                rows = known[crossing] = cheapest_moves(crossing, self._least)
            after = [
                min([costs[pick] + price + after[new] for pick, new, price in row]) for row in rows
            ]
            self._to_go.append(after)
        self._to_go.reverse()

    def _in_the_gaps(self) -> Answer | None:
        """Return the best plan whose moves lie between neighbouring notes of their strings.

        No use is made of the time that a note would leave that is not played.
        """
        gaps = self._gaps()
        after = [0] * (1 << len(self.group.strings))
        taken: list[list[Way]] = []
        for note, prices in zip(reversed(self._notes), reversed(gaps), strict=True):
            costs = note.costs
            before, best_ways = [], []
            for ways in note.kind.crossing.ways:
                best, taking = FAR, ways[0]
                for way in ways:
                    total = costs[way[0]] + after[way[1]]
                    for moved in way[2]:
                        total += prices[moved]
                    if total < best:
                        best, taking = total, way
                before.append(best)
                best_ways.append(taking)
            after = before
            taken.append(best_ways)
        taken.reverse()
        cost, start = min((cost + after[setting], setting) for setting, cost in self.group.starts)
        return None if cost >= FAR else self._along(cost, start, taken, gaps)

    def _gaps(self) -> list[dict[tuple[int, int], int]]:
        """For each note and each lever that it may move: the price in the time before it.

        The longest lock so far holds: the note that has a shorter one may be left out.
        """
        last = [(LONG_AGO, LONG_AGO)] * len(self.group.strings)
        gaps = []
        for note in self._notes:
            time, crossing, locks = note.first, note.kind.crossing, note.locks
            gaps.append(
                {
                    moved: self._moments[moved[0]][moved[1]].within(*last[moved[0]], time)
                    for moved in crossing.moving
                }
            )
            for string, picks in crossing.plucking:
                lock = max([locks[pick] for pick in picks])
                last[string] = note.last, max(lock, last[string][1])
        return gaps

    def _along(
        self,
        cost: int,
        start: int,
        taken: list[list[Way]],
        gaps: list[dict[tuple[int, int], int]],
    ) -> Answer:
        setting = start
        picks, needs = [], []
        for note, row, prices in zip(self._notes, taken, gaps, strict=True):
            pick, reached, changed = row[setting]
            picks.append(pick)
            needs += [Need(*moved, untils=(note.first,), cost=prices[moved]) for moved in changed]
            setting = reached
        return Answer(cost, cost, start, each(self.group, self._notes, picks), tuple(needs))

    def _forward(self, most: int) -> Answer | None:
        """Return the cheapest plan under *most*."""
        now: Step = {
            (setting, self._entries(setting), 0): (cost, None, 0)
            for setting, cost in self.group.starts
        }
        steps = [now]
        for number in range(len(self._notes)):
            now = self._step(number, now, most)
            most_states = self.most_states if self.visited < self._much else FEW_STATES
            if len(now) > most_states:
                now = self._narrowed(now, number + 1, max(most_states, FEW_STATES))
            if not now:
                return None
            steps.append(now)
        return self._trace(steps)

    def _entries(self, setting: int) -> tuple[Entry, ...]:
        return tuple(
            pair[1 - (setting >> string & 1)].since(LONG_AGO, LONG_AGO)
            for string, pair in enumerate(self._moments)
        )

    def _step(self, number: int, before: Step, most: int) -> Step:
        note = self._notes[number]
        to_go = self._to_go[number + 1]
        time = note.first
        crossing = note.kind.crossing
        ways = list(zip(note.costs, crossing.masks, crossing.values, strict=True))
        after: Step = {}
        self.visited += len(before)
        for state, (cost, _, _) in before.items():
            setting, entries, fresh = state
            eased = self._eased(setting, entries, time)
            for pick, (price, mask, value) in enumerate(ways):
                total = cost + price
                wrong = (setting ^ value) & mask
                reached = setting ^ wrong
                if total + to_go[reached] >= most:
                    continue
                if wrong:
                    total += self._moved(wrong, reached, entries, time)
                    if total + to_go[reached] >= most:
                        continue
                entries_after = eased
                if mask:
                    entries_after = self._plucked(eased, note, pick, fresh)
                new = (reached, entries_after, (fresh | mask) & note.meets)
                known = after.get(new)
                if known is None or total < known[0]:
                    after[new] = (total, state, pick)
        return after

    def _eased(
        self, setting: int, entries: tuple[Entry, ...], now: Microseconds
    ) -> tuple[Entry, ...]:
        for string, entry in enumerate(entries):
            if entry and self._moments[string][1 - (setting >> string & 1)].is_eased(entry, now):
                entries = (*entries[:string], (), *entries[string + 1 :])
        return entries

    def _moved(
        self, wrong: int, reached: int, entries: tuple[Entry, ...], until: Microseconds
    ) -> int:
        return sum(
            self._moments[string][reached >> string & 1].price(entry, until)
            for string, entry in enumerate(entries)
            if wrong >> string & 1
        )

    def _plucked(
        self, entries: tuple[Entry, ...], note: Joined, pick: int, fresh: int
    ) -> tuple[Entry, ...]:
        """Return *entries* after the pluck of a note; of plucks at once the later lock holds."""
        crossing = note.kind.crossing
        mask, value, lock = crossing.masks[pick], crossing.values[pick], note.locks[pick]
        plucked = list(entries)
        for string in range(len(entries)):
            bit = 1 << string
            if mask & bit:
                moments = self._moments[string][0 if value & bit else 1]
                entry = moments.since(note.last, lock)
                if fresh & bit:
                    entry = tuple(map(max, entry, entries[string]))
                plucked[string] = entry
        return tuple(plucked)

    def _narrowed(self, step: Step, number: int, most_states: int) -> Step:
        to_go = self._to_go[number]
        ranked = sorted(step.items(), key=lambda one: one[1][0] + to_go[one[0][0]])
        if len(ranked) <= most_states:
            return step
        state, entry = ranked[most_states]
        self.dropped = min(self.dropped, entry[0] + to_go[state[0]])
        return dict(ranked[:most_states])

    def _trace(self, steps: list[Step]) -> Answer | None:
        state: State | None = min(steps[-1], key=lambda one: steps[-1][one][0])
        path = []
        for step in reversed(steps):
            if state is None:
                break
            path.append((state, *step[state]))
            state = step[state][1]
        path.reverse()
        cost = path[-1][1]
        if cost >= FAR:
            return None
        needs = []
        for number, (one, other) in enumerate(pairwise(path)):
            changed = one[0][0] ^ other[0][0]
            for string, entry in enumerate(one[0][1]):
                if changed >> string & 1:
                    raised = other[0][0] >> string & 1
                    until = self._notes[number].first
                    price = self._moments[string][raised].price(entry, until)
                    needs.append(Need(string, raised, (until,), price))
        picks = each(self.group, self._notes, [pick for _, _, _, pick in path[1:]])
        return Answer(cost, min(cost, self.dropped), path[0][0][0], picks, tuple(needs))
