"""Which strings need planning, which of them together, and what each group has to pay.

A string is still where the notes as they are ask for one position only, and standing there
from the start is no dearer than any other way: nothing about it is left to decide. The others
are planned in groups. A note belongs to the groups of the strings that its first choice
plucks; its prices are shared out among these, so that the groups' optima add up to a lower
bound. What another choice asks of a foreign string is left out at first (which lowers the
bound, never raises it) and brought in when a group wants that choice.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from functools import cached_property

from arrange.harp.harp import Position
from arrange.levers.groups import (
    SCALE,
    Extra,
    Group,
    GroupChoice,
    GroupNote,
    group_starts,
)
from arrange.levers.problem import Choice, Cost, LeverProblem
from arrange.units import Microseconds

DOWN_BIT, UP_BIT = 1, 2

MOST_TOGETHER = (4, 4, 3, 2, 2)
"""So many strings are planned together at most, by how often a note is played at most (house
judgement); notes that tie more of them are settled by branching."""

Allowed = dict[int, tuple[int, ...]]
Extras = dict[int, tuple[Extra, ...]]
Shifts = dict[int, tuple[tuple[int, int, int], ...]]
"""For notes: (choice, string, amount): that much more of the choice's price, scaled, falls on
the string's group. The amounts of a choice add up to nothing."""


class Coupling:
    """A problem's strings in groups.

    Attributes:
        base: the cost of what is not planned: still strings, notes without lever strings.
        settled: for each note that belongs to no group, its choice where it is not the first.
        still: for each string the bit of its position, 0 where it is planned.
        anchors: for each planned note the strings that share its price.
        changes: counts changes of the groups; *versions*: of what strings have to pay.
    """

    def __init__(self, problem: LeverProblem) -> None:
        self.problem = problem
        self.base: Cost = 0
        self.settled: dict[int, int] = {}
        self.anchors: dict[int, tuple[int, ...]] = {}
        self.weights: dict[int, tuple[int, ...]] = {}
        self.pinned: list[Position | None] = [None] * len(problem.strings)
        for string, position in problem.fixed_start:
            self.pinned[string] = position
        self.still = [0] * len(problem.strings)
        self._homes: list[list[int]] = [[] for _ in problem.strings]
        self._group: list[tuple[int, ...]] = [()] * len(problem.strings)
        self._alike: dict[tuple[object, ...], tuple[GroupChoice, ...]] = {}
        self._is_shared_out = False
        played = Counter(visit.note for visit in problem.visits)
        passes = max(played.values(), default=1)
        self._most_together = MOST_TOGETHER[min(passes, len(MOST_TOGETHER) - 1)]
        self.changes = 0
        self.versions = [0] * len(problem.strings)
        self._survey()

    # What is still

    def _survey(self) -> None:
        asked, odd = self._first_wishes()
        planned: set[int] = set()
        for index in odd:
            strings = self._strings_of(index)
            for string in strings:
                self._homes[string].append(index)
            planned.update(strings)
            if not strings:
                self._settle(index)
        for string in range(len(self.problem.strings)):
            if string not in planned:
                self.still[string] = self._still_position(string, asked[string])
        self._pair_up()
        self._share_out(odd)

    def _first_wishes(self) -> tuple[list[int], list[int]]:
        """What first choices ask of each string, and the notes for which another is cheaper."""
        asked = [0] * len(self.problem.strings)
        odd = []
        for index, note in enumerate(self.problem.notes):
            first = note.choices[0]
            if first.cost:
                cheapest = min(choice.cost for choice in note.choices)
                self.base += cheapest
                if first.cost > cheapest:
                    odd.append(index)
                    continue
            for string, position in first.demands:
                asked[string] |= UP_BIT if position is Position.UP else DOWN_BIT
                self._homes[string].append(index)
        return asked, odd

    def _settle(self, index: int) -> None:
        choices = self.problem.notes[index].choices
        best = min(range(len(choices)), key=lambda choice: choices[choice].cost)
        self.settled[index] = best

    def _strings_of(self, index: int) -> list[int]:
        return sorted(
            {
                string
                for choice in self.problem.notes[index].choices
                for string, _ in choice.demands
            }
        )

    def _still_position(self, string: int, asked: int) -> int:
        """Return the bit of the position that *string* keeps, 0 where it must be planned."""
        lever = self.problem.strings[string]
        pinned = self.pinned[string]
        if lever.raised_midi is None:
            return DOWN_BIT if asked <= DOWN_BIT and pinned is not Position.UP else 0
        free = _cheaper(lever.preset_cost_down, lever.preset_cost_up)
        start = free if pinned is None else UP_BIT if pinned is Position.UP else DOWN_BIT
        if asked not in {0, start}:
            if asked == DOWN_BIT | UP_BIT or pinned is not None:
                return 0
            dearer = abs(lever.preset_cost_up - lever.preset_cost_down)
            if not self._holds(string, dearer):
                return 0
            start = asked
        return start

    def _holds(self, string: int, price: Cost) -> bool:
        """Return True where one note alone makes it worth *price* to start as it asks."""
        if price > self.problem.prices.move:
            return False
        for index in self._homes[string]:
            first, *others = self.problem.notes[index].choices
            if len(first.demands) == 1 and all(
                choice.cost - first.cost >= price for choice in others
            ):
                return True
        return False

    # Which go together

    def _pair_up(self) -> None:
        for string, still in enumerate(self.still):
            if not still:
                self._group[string] = (string,)
        near = self.problem.prices.move
        for string in [string for string, still in enumerate(self.still) if not still]:
            for index in self._homes[string]:
                first, *others = self.problem.notes[index].choices
                if len(first.demands) != 1:
                    continue
                for choice in others:
                    if choice.cost - first.cost < near and len(choice.demands) == 1:
                        self.join((string, choice.demands[0][0]))

    def join(self, strings: Iterable[int]) -> bool:
        """Plan *strings* together from now on; False where they would be too many."""
        members: set[int] = set()
        for string in strings:
            members.update(self._group[string] or (string,))
        together = tuple(sorted(members))
        if len(together) > self._most_together or self._group[together[0]] == together:
            return False
        self.changes += 1
        for string in together:
            self._group[string] = together
        fresh = [string for string in together if self.still[string]]
        for string in fresh:
            self.still[string] = 0
        if fresh and self._is_shared_out:
            self._share_out(sorted({index for string in fresh for index in self._homes[string]}))
        return True

    def _share_out(self, odd: Sequence[int]) -> None:
        """Say which strings share the price of each planned note."""
        self._is_shared_out = True
        touched = dict.fromkeys(odd, None)
        for string, still in enumerate(self.still):
            if not still:
                touched.update(dict.fromkeys(self._homes[string], None))
        for index in touched:
            first = self.problem.notes[index].choices[0]
            cheapest = min(choice.cost for choice in self.problem.notes[index].choices)
            strings = (
                [string for string, _ in first.demands]
                if first.cost == cheapest
                else self._strings_of(index)
            )
            anchors = tuple(sorted({one for one in strings if not self.still[one]}))
            if anchors and self.anchors.get(index) != anchors:
                for string in (*self.anchors.get(index, ()), *anchors):
                    self.versions[string] += 1
                self.anchors[index] = anchors
                self.weights[index] = (1,) * len(anchors)

    # What a group sees

    def partition(self) -> list[tuple[int, ...]]:
        """Return the groups."""
        return list(dict.fromkeys(group for group in self._group if group))

    def group_of(self, string: int) -> tuple[int, ...]:
        """Return the group of *string*; itself alone where it is still."""
        return self._group[string] or (string,)

    def still_cost(self, string: int) -> Cost:
        """Return what a still string costs."""
        lever = self.problem.strings[string]
        if lever.raised_midi is None:
            return 0
        up = self.still[string] == UP_BIT
        return lever.preset_cost_up if up else lever.preset_cost_down

    def notes_of(self, strings: tuple[int, ...], allowed: Allowed, shifts: Shifts) -> list[int]:
        """Return the notes that a group plans, those that others bring in included."""
        notes = {index for string in strings for index in self._homes[string]}
        for index, choices in allowed.items():
            if len(choices) == 1:
                demands = self.problem.notes[index].choices[choices[0]].demands
                if any(string in strings for string, _ in demands):
                    notes.add(index)
        for index, terms in shifts.items():
            if any(string in strings for _, string, _ in terms):
                notes.add(index)
        return sorted(notes)

    def group(
        self, strings: tuple[int, ...], allowed: Allowed, extras: Extras, shifts: Shifts
    ) -> Group:
        """Return *strings* with all that concerns them."""
        levers = tuple(self.problem.strings[string] for string in strings)
        pinned = tuple(self.pinned[string] for string in strings)
        notes = self.notes_of(strings, allowed, shifts)
        seen = [
            self._note(index, strings, allowed.get(index), shifts.get(index, ()))
            for index in notes
        ]
        return Group(
            strings,
            group_starts(levers, pinned),
            sum(1 << bit for bit, one in enumerate(levers) if one.raised_midi is not None),
            sum(
                1 << bit
                for bit, one in enumerate(levers)
                if one.movable and one.raised_midi is not None
            ),
            tuple(one.reach for one in levers),
            tuple(sorted((one for one in seen if one.times), key=lambda one: one.times[0])),
            tuple(extras.get(string, ()) for string in strings),
        )

    @cached_property
    def _visits(self) -> list[tuple[tuple[Microseconds, ...], tuple[tuple[int, ...], ...]]]:
        """For each note, when it is plucked, and the locks of its choices then."""
        times: list[list[Microseconds]] = [[] for _ in self.problem.notes]
        locks: list[list[tuple[int, ...]]] = [[] for _ in self.problem.notes]
        for visit in self.problem.visits:
            times[visit.note].append(visit.time)
            locks[visit.note].append(visit.locks)
        return [(tuple(t), tuple(k)) for t, k in zip(times, locks, strict=True)]

    @cached_property
    def _cheapest(self) -> list[int]:
        return [min(choice.cost for choice in note.choices) for note in self.problem.notes]

    def _note(
        self,
        index: int,
        strings: tuple[int, ...],
        allowed: tuple[int, ...] | None,
        shifts: tuple[tuple[int, int, int], ...],
    ) -> GroupNote:
        times, locks = self._visits[index]
        if allowed or shifts:
            return GroupNote(index, times, locks, self._ways(index, strings, allowed, shifts))
        choices = self.problem.notes[index].choices
        key = (id(choices), strings, self.anchors.get(index, ()), self.weights.get(index, ()))
        ways = self._alike.get(key)
        if ways is None:
            ways = self._alike[key] = self._ways(index, strings, None, ())
        return GroupNote(index, times, locks, ways)

    def _ways(
        self,
        index: int,
        strings: tuple[int, ...],
        allowed: tuple[int, ...] | None,
        shifts: tuple[tuple[int, int, int], ...],
    ) -> tuple[GroupChoice, ...]:
        """Return the ways to treat a note; what plucks none of *strings* is one way."""
        choices = self.problem.notes[index].choices
        ways: list[GroupChoice] = []
        silent: tuple[int, list[int]] | None = None
        for number in allowed or range(len(choices)):
            plucked = _plucked(choices[number], strings)
            if plucked is None:
                continue
            share = self._share(index, strings, number)
            share += sum(
                amount for one, string, amount in shifts if one == number and string in strings
            )
            if plucked[0]:
                ways.append(GroupChoice(share, *plucked, (number,)))
            elif silent is None or share < silent[0]:
                silent = (share, [number])
            elif share == silent[0]:
                silent[1].append(number)
        if silent is not None:
            ways.append(GroupChoice(silent[0], 0, 0, tuple(silent[1])))
        return tuple(ways)

    def _share(self, index: int, strings: tuple[int, ...], number: int) -> int:
        anchors = self.anchors.get(index, ())
        choice = self.problem.notes[index].choices[number]
        price = (choice.cost - self._cheapest[index]) * SCALE + number
        weights = self.weights.get(index, ())
        whole = sum(weights)
        before = total = 0
        for anchor, weight in zip(anchors, weights, strict=True):
            after = before + weight
            if anchor in strings:
                total += price * after // whole - price * before // whole
            before = after
        return total


def _cheaper(down: Cost, up: Cost) -> int:
    return UP_BIT if up < down else DOWN_BIT


def _plucked(choice: Choice, strings: tuple[int, ...]) -> tuple[int, int] | None:
    """Return which of *strings* a choice plucks, and which raised; None where it contradicts."""
    mask = value = 0
    for string, position in choice.demands:
        if string in strings:
            bit = 1 << strings.index(string)
            up = bit if position is Position.UP else 0
            if mask & bit and value & bit != up:
                return None
            mask |= bit
            value |= up
    return mask, value
