"""The cheapest plan of one group: dynamic programming over printed places, all passes at once.

State: for every thread (see ``axis``) the setting of the group's levers at its end, until when
each string is still locked, and, where the thread starts from a guess, the guessed setting and
the latest release of each string that its moves can bear. A column is a note (every choice
that the settings allow, in all its passes) or a slot (every set of moves, each counted once
however many passes it acts in). States that agree keep the cheapest. All futures depend on the
state only, and every choice, start and useful move is tried, so the minimum is exact.

Useful moves: of two slots alike in price and in the hands that are free, between the same
plucks of the string in every pass, the later one serves wherever the earlier does.

The work is columns x states; states are at most exponential in (strings x passes) but plucks
keep them few. Beyond *most_states* only the cheapest are kept and the bound says so.
"""

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, replace
from operator import le

from arrange.levers.ahead import Ahead
from arrange.levers.axis import FOREVER, Column, Place, columns_of
from arrange.levers.cells import FREE, INHERITED, Cell, State, plucked, replaced, settled
from arrange.levers.groups import (
    ACT,
    FAR,
    NEAR,
    NEVER,
    SCALE,
    Answer,
    Extra,
    Group,
    Need,
    plucks_of,
)
from arrange.levers.standing import standing
from arrange.levers.timetable import Timetable
from arrange.quick import quickly_made

MUCH = 15_000
"""After so many states in all, fewer are kept at a time (house judgement)."""

FEW_STATES = 40
"""Below so many, it does not pay to look for states that others make needless."""

MORE = 3
"""So many times as many are kept where nothing came of those."""

QUICK_STATES = (4, 32)
"""How many states the quick searches follow (house judgement)."""


WORTH_MORE = 500 * SCALE
"""In haste, what must be in it to follow more states than the quick searches do (house
judgement)."""


@quickly_made
@dataclass(frozen=True, slots=True)
class Act:
    """One printed move with the moments at which it acts, as bits."""

    string: int
    raised: int
    slot: int
    hand: int
    acts: int


Decision = int | tuple[Act, ...]
Step = dict[State, tuple[int, State, Decision]]


class Passes:
    """One group's dynamic program."""

    def __init__(self, group: Group, timetable: Timetable, most_states: int) -> None:
        self.group = group
        self.most_states = most_states
        self.is_hasty = most_states <= QUICK_STATES[-1]
        self.timetable = timetable
        self.columns, self.width = columns_of(group, timetable)
        self.ahead = Ahead(group, timetable, self.columns)
        self.dropped = NEVER
        self.visited = 0
        self._much = MUCH
        self._prices: dict[tuple[int, int, int, int, int], int] = {}
        self._extras = [_by_slot(extras) for extras in group.extras]
        self._unknown = self._guesses()

    def answer(self) -> Answer | None:
        """Return the cheapest plan, None where there is none."""
        if self.ahead.least >= FAR:
            return None
        still = standing(self.group)
        if still is not None and still.cost == self.ahead.least:
            return still
        quick: Answer | None = None
        for width in QUICK_STATES:
            found = self._forward(FAR if quick is None else quick.cost, width)
            quick = found or quick
            if quick is not None and quick.cost <= self.ahead.least + NEAR:
                return replace(quick, bound=self.ahead.least)
        most = FAR if quick is None else quick.cost - NEAR
        if quick is not None and self.is_hasty and quick.cost - self.ahead.least < WORTH_MORE:
            return replace(quick, bound=self.ahead.least)
        full = self._forward(most, 0)
        while full is None and quick is None and self.dropped < NEVER:
            self._begin_anew()
            full = self._forward(most, 0)
        if full is not None:
            return full
        return None if quick is None else replace(quick, bound=min(most, self.dropped))

    def _begin_anew(self) -> None:
        """Nothing was left of the states that were kept: keep more."""
        self.dropped = NEVER
        self.most_states = max(self.most_states, QUICK_STATES[-1]) * MORE
        self._much *= MORE

    def _forward(self, most: int, quick_states: int) -> Answer | None:
        """Return the cheapest plan under *most*; quick: follow so many states, if not 0."""
        free = (FREE,) * len(self.group.strings)
        rest: State = (None,) * (self.width - 1)
        first: Step = {}
        for setting, cost in self.group.starts:
            first[((setting, free, 0), *rest)] = (cost, (), 0)
        steps = [first]
        much = self.visited + self._much
        for number in range(len(self.columns)):
            after = self._advance(steps[-1], number, most)
            if quick_states:
                after = dict(self._ranked(_one_a_setting(after), number + 1)[:quick_states])
            else:
                most_states = self.most_states if self.visited < much else 0
                most_states = max(most_states, QUICK_STATES[-1])
                if len(after) > most_states:
                    after = self._narrowed(after, number + 1, most_states)
            if not after:
                return None
            steps.append(after)
        return self._trace(steps)

    def _advance(self, before: Step, number: int, most: int) -> Step:
        after: Step = {}
        column = self.columns[number]
        expand = self._note if column.slot < 0 else self._slot
        floor = self.ahead.floors[number + 1]
        for state, (cost, _, _) in before.items():
            for opened in self._opened(state, column):
                for cells, extra, decision in expand(opened, column, most - cost - floor):
                    self.visited += 1
                    state_after = settled(cells, column)
                    if state_after is None:
                        continue
                    total = cost + extra
                    known = after.get(state_after)
                    if known is not None and total >= known[0]:
                        continue
                    if total + self.ahead.still(number + 1, state_after) < most:
                        after[state_after] = (total, state, decision)
        return _undominated(after)

    def _narrowed(self, step: Step, number: int, most_states: int) -> Step:
        ranked = self._ranked(step, number)
        state, (cost, _, _) = ranked[most_states]
        self.dropped = min(self.dropped, cost + self.ahead.still(number, state))
        return dict(ranked[:most_states])

    def _ranked(self, step: Step, number: int) -> list[tuple[State, tuple[int, State, Decision]]]:
        """Return the states, the most promising first."""
        still = self.ahead.still
        return sorted(step.items(), key=lambda entry: entry[1][0] + still(number, entry[0]))

    def _guesses(self) -> list[int]:
        settings = [0]
        for bit in range(len(self.group.strings)):
            if self.group.can_rise >> bit & 1:
                settings += [one | 1 << bit for one in settings]
        return settings

    def _opened(self, state: State, column: Column) -> Iterator[State]:
        states = [state]
        strings = len(self.group.strings)
        for place in column.places:
            if place.opens:
                widened = []
                for one in states:
                    for setting in self._unknown:
                        cells = list(one)
                        cells[place.end] = (setting, (INHERITED,) * strings, 0)
                        cells[place.guess] = (setting, (FOREVER,) * strings, -1)
                        widened.append(tuple(cells))
                states = widened
        yield from states

    def _note(
        self, state: State, column: Column, budget: int
    ) -> Iterator[tuple[list[Cell], int, Decision]]:
        note = self.group.notes[column.note]
        for index, choice in enumerate(note.choices):
            if choice.cost >= budget:
                continue
            cells = list(state)
            for place, locks in zip(column.places, note.locks, strict=True):
                end = cells[place.end]
                if end is None or end[0] & choice.mask != choice.value:
                    break
                if choice.mask:
                    cells[place.end] = plucked(end, choice.mask, locks[choice.picks[0]])
            else:
                yield cells, choice.cost, index

    def _slot(
        self, state: State, column: Column, budget: int
    ) -> Iterator[tuple[list[Cell], int, Decision]]:
        ways: list[tuple[list[Cell], int, tuple[Act, ...]]] = [(list(state), 0, ())]
        for string in column.strings:
            widened: dict[State, tuple[list[Cell], int, tuple[Act, ...]]] = {}
            for cells, cost, acts in ways:
                for moved, extra, more in self._moves(cells, column, string):
                    total = cost + extra
                    if total >= budget:
                        continue
                    known = widened.get(tuple(moved))
                    if known is None or total < known[1]:
                        widened[tuple(moved)] = (moved, total, acts + more)
            ways = list(widened.values())
        yield from ways

    def _moves(
        self, cells: list[Cell], column: Column, string: int
    ) -> Iterator[tuple[list[Cell], int, tuple[Act, ...]]]:
        ways: list[tuple[list[Cell], dict[tuple[int, int], int]]] = [(cells, {})]
        slack = self.timetable.slack(column.slot, self.group.reaches[string])
        for number, place in enumerate(column.places):
            for base, keys in list(ways):
                for hand, left in enumerate(slack[number]):
                    if left < 0:
                        continue
                    moved = self._moved(base, place, string, hand)
                    if moved is None:
                        continue
                    end = moved[place.end]
                    assert end is not None  # noqa: S101 - a thread that was moved has an end
                    key = (end[0] >> string & 1, hand)
                    ways.append((moved, {**keys, key: keys.get(key, 0) | 1 << number}))
        for moved, keys in ways:
            cost = 0
            for (raised, hand), acts in keys.items():
                cost += self._price(column.slot, string, raised, hand, acts)
            yield (
                moved,
                cost,
                tuple(
                    Act(string, raised, column.slot, hand, acts)
                    for (raised, hand), acts in sorted(keys.items())
                ),
            )

    def _moved(self, cells: list[Cell], place: Place, string: int, hand: int) -> list[Cell] | None:
        end = cells[place.end]
        if end is None:
            return None
        setting, releases, fresh = end
        if not setting >> string & 1 and not self.group.can_rise >> string & 1:
            return None
        begin = place.time - self.timetable.hands[hand].move
        release = releases[string]
        if release > begin:
            return None
        moved = list(cells)
        moved[place.end] = (setting ^ 1 << string, replaced(releases, string, FOREVER), fresh)
        if release == INHERITED:
            guess = moved[place.guess]
            if guess is not None and begin < guess[1][string]:
                moved[place.guess] = (guess[0], replaced(guess[1], string, begin), -1)
        return moved

    def _price(self, slot: int, string: int, raised: int, hand: int, acts: int) -> int:
        key = (slot, string, raised, hand, acts)
        known = self._prices.get(key)
        if known is None:
            price = self.timetable.price(slot, self.group.reaches[string], hand, acts)
            assert price is not None  # noqa: S101 - only free hands come here
            extra = sum(
                surcharge
                for up, _, other, moments, surcharge in self._extras[string].get(slot, ())
                if up == raised and other == hand and moments & acts == moments
            )
            known = self._prices[key] = price * SCALE + extra + ACT * acts.bit_count()
        return known

    def _trace(self, steps: list[Step]) -> Answer | None:
        state, (cost, _, _) = min(steps[-1].items(), key=lambda entry: entry[1][0])
        if cost >= FAR:
            return None
        picks = [0] * len(self.group.notes)
        acts: list[Act] = []
        for number in range(len(self.columns) - 1, -1, -1):
            _, previous, decision = steps[number + 1][state]
            if isinstance(decision, tuple):
                acts += decision
            else:
                picks[self.columns[number].note] = decision
            state = previous
        end = state[0]
        start = end[0] if end is not None else 0
        needs, spared = self._needs(tuple(picks), acts)
        cost -= spared
        return Answer(cost, min(cost, self.dropped), start, tuple(picks), needs)

    def _needs(self, picks: tuple[int, ...], acts: list[Act]) -> tuple[tuple[Need, ...], int]:
        """Return the moves, and what is spared by leaving out those that no pluck follows."""
        plucks: dict[int, list[int]] = {}
        needs = []
        spared = 0
        for act in acts:
            if act.string not in plucks:
                plucks[act.string] = sorted(plucks_of(self.group, picks, act.string))
            times = plucks[act.string]
            untils = []
            kept = 0
            for place, moment in enumerate(self.timetable.slots[act.slot].times):
                following = bisect_left(times, moment.time)
                if act.acts >> place & 1 and following < len(times):
                    untils.append(times[following])
                    kept |= 1 << place
            spared += self._act_price(act, act.acts)
            if kept:
                cost = self._act_price(act, kept)
                spared -= cost
                needs.append(Need(act.string, act.raised, tuple(untils), cost))
        return tuple(needs), spared

    def _act_price(self, act: Act, moments: int) -> int:
        return self._price(act.slot, act.string, act.raised, act.hand, moments)


def _undominated(step: Step) -> Step:
    """Drop states that are no cheaper than one with the same settings and no later release."""
    if len(step) < FEW_STATES:
        return step
    kept: dict[tuple[object, ...], list[tuple[int, ...]]] = {}
    left: Step = {}
    for state, entry in sorted(step.items(), key=lambda one: one[1][0]):
        settings: list[object] = []
        locks: list[int] = []
        for cell in state:
            if cell is None:
                settings.append(None)
            else:
                settings.append((cell[0], cell[2], INHERITED in cell[1] and cell[1]))
                locks += cell[1] if cell[2] >= 0 else [-release for release in cell[1]]
        rivals = kept.setdefault(tuple(settings), [])
        if any(all(map(le, rival, locks)) for rival in rivals):
            continue
        rivals.append(tuple(locks))
        left[state] = entry
    return left


def _one_a_setting(step: Step) -> Step:
    best: dict[tuple[int, ...], tuple[int, State]] = {}
    for state, entry in step.items():
        settings = tuple(-1 if cell is None else cell[0] for cell in state)
        known = best.get(settings)
        if known is None or entry[0] < known[0]:
            best[settings] = (entry[0], state)
    return {state: step[state] for _, state in best.values()}


def _by_slot(extras: tuple[Extra, ...]) -> dict[int, tuple[Extra, ...]]:
    table: dict[int, tuple[Extra, ...]] = {}
    for extra in extras:
        table[extra[1]] = (*table.get(extra[1], ()), extra)
    return table
