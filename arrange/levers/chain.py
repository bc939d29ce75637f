"""The cheapest plan of one group in a piece without repeats: dynamic programming by plucks.

State after a note: the setting of the group's levers and, for each string, the moments since
its last pluck at which its lever can be moved. A choice of the next note lets the strings
that it plucks stay, or moves them at the lowest price that these moments offer. The future
depends on the state only, so keeping the cheapest of equal states is exact.

Three passes: backward, with every move at the lowest price of all, for what is still to pay at
least; forward with one state a setting, for some good plan; and only where these differ,
forward with all states that may still beat it. The work is plucks x states; states are at most
exponential in the group's strings. Beyond *most_states* the most promising are kept, and the
bound says so.
"""

from dataclasses import replace
from itertools import pairwise

from arrange.levers.crossings import Crossing, Way, cheapest_ways, crossing_of
from arrange.levers.groups import (
    FAR,
    LONG_AGO,
    NEAR,
    NEVER,
    Answer,
    Group,
    GroupNote,
    Need,
)
from arrange.levers.priced_moments import Entry, PricedMoments
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
        self._moments = [
            (
                PricedMoments(group, string, 0, timetable),
                PricedMoments(group, string, 1, timetable),
            )
            for string in range(len(group.strings))
        ]
        self._least = tuple((_lowest(down), _lowest(up)) for down, up in self._moments)
        self._across = self._crossings()
        self._to_go: list[list[int]] = []

    def answer(self) -> Answer | None:
        """Return the cheapest plan, None where there is none."""
        if not all(note.choices for note in self.group.notes):
            return None
        self._look_ahead()
        least = min(
            (cost + self._to_go[0][setting] for setting, cost in self.group.starts), default=NEVER
        )
        if least >= FAR:
            return None
        quick = self._in_the_gaps()
        if quick is not None and quick.cost <= least + NEAR:
            return replace(quick, bound=least)
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
        known: dict[Crossing, tuple[tuple[tuple[int, int], ...], ...]] = {}
        for crossing in reversed(self._across):
            rows = known.get(crossing)
            if rows is None:
                rows = known[crossing] = cheapest_ways(crossing, self._least)
            after = [min([cost + after[new] for new, cost in row]) for row in rows]
            self._to_go.append(after)
        self._to_go.reverse()

    def _crossings(self) -> list[Crossing]:
        known: dict[int, Crossing] = {}
        found = []
        for note in self.group.notes:
            crossing = known.get(id(note.choices))
            if crossing is None:
                crossing = crossing_of(note.choices, len(self.group.strings))
                known[id(note.choices)] = crossing
            found.append(crossing)
        return found

    def _in_the_gaps(self) -> Answer | None:
        """Return the best plan whose moves lie between neighbouring notes of their strings.

        No use is made of the time that a note would leave that is not played.
        """
        gaps = self._gaps()
        after = [0] * (1 << len(self.group.strings))
        taken: list[list[Way]] = []
        for crossing, prices in zip(reversed(self._across), reversed(gaps), strict=True):
            before, best_ways = [], []
            for ways in crossing.ways:
                best, taking = FAR, ways[0]
                for way in ways:
                    total = way[0] + after[way[2]]
                    for moved in way[3]:
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
        """For each note and each lever that it may move: the price in the time before it."""
        last = [(LONG_AGO, LONG_AGO)] * len(self.group.strings)
        gaps = []
        for note, crossing in zip(self.group.notes, self._across, strict=True):
            time, locks = note.times[0], note.locks[0]
            gaps.append(
                {
                    moved: self._moments[moved[0]][moved[1]].within(*last[moved[0]], time)
                    for moved in crossing.moving
                }
            )
            for string, picks in crossing.plucking:
                lock = max([locks[pick] for pick in picks])
                struck, former = last[string]
                last[string] = time, max(lock, former) if struck == time else lock
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
        for note, row, prices in zip(self.group.notes, taken, gaps, strict=True):
            _, pick, reached, changed = row[setting]
            picks.append(pick)
            needs += [
                Need(*moved, untils=(note.times[0],), cost=prices[moved]) for moved in changed
            ]
            setting = reached
        return Answer(cost, cost, start, tuple(picks), tuple(needs))

    def _forward(self, most: int) -> Answer | None:
        """Return the cheapest plan under *most*."""
        now: Step = {
            (setting, self._entries(setting), 0): (cost, None, 0)
            for setting, cost in self.group.starts
        }
        steps = [now]
        for number in range(len(self.group.notes)):
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
        note = self.group.notes[number]
        to_go = self._to_go[number + 1]
        time = note.times[0]
        is_struck_with_next = (
            number + 1 < len(self.group.notes) and self.group.notes[number + 1].times[0] == time
        )
        after: Step = {}
        self.visited += len(before)
        for state, (cost, _, _) in before.items():
            setting, entries, fresh = state
            eased = self._eased(setting, entries, time)
            for pick, way in enumerate(note.choices):
                total = cost + way.cost
                wrong = (setting ^ way.value) & way.mask
                reached = setting ^ wrong
                if total + to_go[reached] >= most:
                    continue
                if wrong:
                    total += self._moved(wrong, reached, entries, time)
                    if total + to_go[reached] >= most:
                        continue
                entries_after = eased
                if way.mask:
                    entries_after = self._plucked(eased, note, pick, fresh)
                left = fresh | way.mask if is_struck_with_next else 0
                new = (reached, entries_after, left)
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
        self, entries: tuple[Entry, ...], note: GroupNote, pick: int, fresh: int
    ) -> tuple[Entry, ...]:
        """Return *entries* after the pluck of a note; of plucks at once the later lock holds."""
        way = note.choices[pick]
        time, lock = note.times[0], note.locks[0][way.picks[0]]
        plucked = list(entries)
        for string in range(len(entries)):
            bit = 1 << string
            if way.mask & bit:
                moments = self._moments[string][0 if way.value & bit else 1]
                entry = moments.since(time, lock)
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
                    until = self.group.notes[number].times[0]
                    price = self._moments[string][raised].price(entry, until)
                    needs.append(Need(string, raised, (until,), price))
        picks = tuple(pick for _, _, _, pick in path[1:])
        return Answer(cost, min(cost, self.dropped), path[0][0][0], picks, tuple(needs))


def _lowest(moments: PricedMoments) -> int:
    return moments.levels[0][0] if moments.levels else NEVER
