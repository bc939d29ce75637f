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

from bisect import bisect_left
from dataclasses import replace
from itertools import pairwise

from arrange.levers.groups import (
    ACT,
    FAR,
    LONG_AGO,
    NEAR,
    NEVER,
    SCALE,
    Answer,
    Group,
    GroupChoice,
    GroupNote,
    Need,
)
from arrange.levers.timetable import Timetable
from arrange.units import Microseconds

MUCH = 30_000
"""After so many states in all, fewer are kept at a time (house judgement)."""

FEW_STATES = 50
"""So many are kept in any case."""

Entry = tuple[int, ...]
"""Where the moments begin at which a lever can be moved, price by price; empty where one at
the lowest price is past."""

State = tuple[int, tuple[Entry, ...], int]
"""The setting, an entry for each string, and the strings plucked at this very time."""

Step = dict[State, tuple[int, State | None, int]]
"""For each state its cost, the state before, and the choice that led here."""


class PricedMoments:
    """The moments at which one lever can be moved one way, price by price."""

    __slots__ = ("_known", "levels")

    def __init__(self, group: Group, string: int, raised: int, timetable: Timetable) -> None:
        extras: dict[tuple[int, int], int] = {}
        for up, slot, hand, _, surcharge in group.extras[string]:
            if up == raised:
                extras[slot, hand] = extras.get((slot, hand), 0) + surcharge
        rows: dict[tuple[int, int, Microseconds], list[Microseconds]] = {}
        self.levels: list[tuple[int, Microseconds, list[Microseconds]]] = []
        self._known: dict[tuple[Microseconds, Microseconds], Entry] = {}
        if not group.movable >> string & 1:
            return
        for level in timetable.levels(group.reaches[string]):
            price = level.price * SCALE + ACT
            if not extras:
                self.levels.append((price, level.move, list(level.times)))
                continue
            for time, (slot, _) in zip(level.times, level.places, strict=True):
                total = price + extras.get((slot, level.hand), 0)
                if total < NEVER:
                    rows.setdefault((total, level.hand, level.move), []).append(time)
        self.levels += [(key[0], key[2], rows[key]) for key in sorted(rows)]

    def since(self, struck: Microseconds, lock: Microseconds) -> Entry:
        """Return where the moments begin after a pluck."""
        key = (struck, lock)
        entry = self._known.get(key)
        if entry is None:
            entry = tuple(
                bisect_left(times, max(struck + 1, lock + move)) for _, move, times in self.levels
            )
            self._known[key] = entry
        return entry

    def price(self, entry: Entry, until: Microseconds) -> int:
        """Return the lowest price of a move from *entry* on, no later than *until*."""
        if not entry:
            return self.levels[0][0] if self.levels else NEVER
        for start, (price, _, times) in zip(entry, self.levels, strict=True):
            if start < len(times) and times[start] <= until:
                return price
        return NEVER

    def is_eased(self, entry: Entry, now: Microseconds) -> bool:
        """Return True where a moment at the lowest price is past."""
        times = self.levels[0][2]
        return entry[0] < len(times) and times[entry[0]] <= now


class Chain:
    """One group's dynamic program."""

    def __init__(self, group: Group, timetable: Timetable, most_states: int) -> None:
        self.group = group
        self.most_states = most_states
        self.dropped = NEVER
        self.visited = 0
        self._moments = [
            tuple(PricedMoments(group, string, raised, timetable) for raised in (0, 1))
            for string in range(len(group.strings))
        ]
        self._least = [
            tuple(one.levels[0][0] if one.levels else NEVER for one in pair)
            for pair in self._moments
        ]
        self._to_go: list[list[int]] = []

    def answer(self) -> Answer | None:
        """Return the cheapest plan, None where there is none."""
        self._look_ahead()
        least = min(
            (cost + self._to_go[0][setting] for setting, cost in self.group.starts), default=NEVER
        )
        if least >= FAR:
            return None
        quick = self._forward(FAR, is_quick=True)
        if quick is not None and quick.cost <= least + NEAR:
            return replace(quick, bound=least)
        most = FAR if quick is None else quick.cost - NEAR
        full = self._forward(most, is_quick=False)
        if full is not None:
            return full
        return None if quick is None else replace(quick, bound=min(most, self.dropped))

    def _look_ahead(self) -> None:
        """Work out for each note and setting what is still to pay at least."""
        settings = range(1 << len(self.group.strings))
        changes = [[self._change(old, new) for new in settings] for old in settings]
        after = [0] * len(settings)
        self._to_go = [after]
        for note in reversed(self.group.notes):
            after = self._ahead(note.choices, after, changes)
            self._to_go.append(after)
        self._to_go.reverse()

    def _ahead(
        self, choices: tuple[GroupChoice, ...], after: list[int], changes: list[list[int]]
    ) -> list[int]:
        before = [NEVER] * len(after)
        for way in choices:
            keep, value, cost = ~way.mask, way.value, way.cost
            for setting, row in enumerate(changes):
                reached = setting & keep | value
                total = cost + after[reached] + row[reached]
                before[setting] = min(before[setting], total)
        return before

    def _change(self, old: int, new: int) -> int:
        return sum(
            self._least[string][new >> string & 1]
            for string in range(len(self.group.strings))
            if (old ^ new) >> string & 1
        )

    def _forward(self, most: int, *, is_quick: bool) -> Answer | None:
        """Return the cheapest plan under *most*; quick: follow one state a setting."""
        now: Step = {
            (setting, self._entries(setting), 0): (cost, None, 0)
            for setting, cost in self.group.starts
        }
        steps = [now]
        for number in range(len(self.group.notes)):
            now = self._step(number, now, most)
            if is_quick:
                now = _one_a_setting(now)
            else:
                most_states = self.most_states if self.visited < MUCH else FEW_STATES
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


def _one_a_setting(step: Step) -> Step:
    best: dict[int, tuple[int, State]] = {}
    for state, entry in step.items():
        known = best.get(state[0])
        if known is None or entry[0] < known[0]:
            best[state[0]] = (entry[0], state)
    return {state: step[state] for _, state in best.values()}
