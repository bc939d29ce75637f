"""Which strings need planning, which of them together, and what each group has to pay.

A string is still where the notes as they are ask for one position only, and standing there
from the start is no dearer than any other way: nothing about it is left to decide. The others
are planned in groups. A note belongs to the groups of the strings that its first choice
plucks; its prices are shared out among these, so that the groups' optima add up to a lower
bound. What another choice asks of a foreign string is left out at first (which lowers the
bound, never raises it) and brought in when a group wants that choice.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence

from arrange.harp.harp import Position
from arrange.levers.group_ways import Shift, group_ways
from arrange.levers.groups import Extra, Group, GroupNote, group_starts
from arrange.levers.problem import Choice, Cost, LeverProblem
from arrange.units import Microseconds

DOWN_BIT, UP_BIT = 1, 2

MOST_TOGETHER = (4, 4, 3, 2, 2)
"""So many strings are planned together at most, by how often a note is played at most (house
judgement); notes that tie more of them are settled by branching."""

Plucked = tuple[tuple[Microseconds, ...], tuple[tuple[Microseconds, ...], ...]]
"""When a note is plucked, and the locks of its choices then."""

Allowed = dict[int, tuple[int, ...]]
Extras = dict[int, tuple[Extra, ...]]
Shifts = dict[int, tuple[Shift, ...]]
"""For notes: (choice, string, amount): that much more of the choice's price, scaled, falls on
the string's group. The amounts of a choice add up to nothing."""


class Coupling:
    """A problem's strings in groups.

    Attributes:
        base: the cost of what is not planned: still strings, notes without lever strings.
        settled: for each note that belongs to no group, its choice where it is not the first.
        still: for each string the bit of its position, 0 where it is planned.
        changes: counts changes of the groups; *versions*: of what strings have to pay.
    """

    def __init__(self, problem: LeverProblem, moments: Sequence[Microseconds]) -> None:
        self.problem = problem
        self._moments = moments
        self.base: Cost = 0
        self.settled: dict[int, int] = {}
        self.pinned: list[Position | None] = [None] * len(problem.strings)
        for string, position in problem.fixed_start:
            self.pinned[string] = position
        self.still = [0] * len(problem.strings)
        self._homes: list[list[_Kind]] = [[] for _ in problem.strings]
        self._group: list[tuple[int, ...]] = [()] * len(problem.strings)
        self._kinds, self._kind_of = _kinds(problem)
        self._visits = self._as_plucked()
        passes = max((len(times) for times, _ in self._visits), default=1)
        self._most_together = MOST_TOGETHER[min(passes, len(MOST_TOGETHER) - 1)]
        self.changes = 0
        self.versions = [0] * len(problem.strings)
        self._survey()

    # What is still

    def _survey(self) -> None:
        asked = [0] * len(self.problem.strings)
        planned: set[int] = set()
        for kind in self._kinds:
            self.base += kind.cheapest * len(kind.notes)
            if kind.is_odd:
                planned.update(self._odd_home(kind))
                continue
            for string, position in kind.choices[0].demands:
                asked[string] |= UP_BIT if position is Position.UP else DOWN_BIT
                self._homes[string].append(kind)
        for string in range(len(self.problem.strings)):
            if string not in planned:
                self.still[string] = self._still_position(string, asked[string])
        self._pair_up()
        for kind in self._kinds:
            kind.anchors = self._anchors(kind)

    def _odd_home(self, kind: "_Kind") -> set[int]:
        """Settle a kind that plucks nothing; return the strings of another, its homes."""
        for string in kind.strings:
            self._homes[string].append(kind)
        if not kind.strings:
            best = min(range(len(kind.choices)), key=lambda one: kind.choices[one].cost)
            self.settled.update(dict.fromkeys(kind.notes, best))
        return kind.strings

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
        for kind in self._homes[string]:
            first, *others = kind.choices
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
            for kind in self._homes[string]:
                first, *others = kind.choices
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
        for string in [string for string in together if self.still[string]]:
            self.still[string] = 0
            self._share_anew(string)
        return True

    def _share_anew(self, woken: int) -> None:
        """Let *woken*, which is planned now, share the prices of its notes."""
        for kind in self._homes[woken]:
            anchors = self._anchors(kind)
            if anchors != kind.anchors:
                for string in (*kind.anchors, *anchors):
                    self.versions[string] += 1
                kind.anchors = anchors

    def _anchors(self, kind: "_Kind") -> tuple[int, ...]:
        """The planned strings that share the price of notes of a kind."""
        first = kind.choices[0]
        strings = kind.strings if kind.is_odd else {string for string, _ in first.demands}
        return tuple(sorted(one for one in strings if not self.still[one]))

    def anchors_of(self, note: int) -> tuple[int, ...]:
        """Return the planned strings that share the price of *note*."""
        return self._kind_of[note].anchors

    # What a group sees

    def partition(self) -> list[tuple[int, ...]]:
        """Return the groups."""
        return list(dict.fromkeys(group for group in self._group if group))

    def still_cost(self, string: int) -> Cost:
        """Return what a still string costs."""
        lever = self.problem.strings[string]
        if lever.raised_midi is None:
            return 0
        up = self.still[string] == UP_BIT
        return lever.preset_cost_up if up else lever.preset_cost_down

    def _special(self, strings: tuple[int, ...], allowed: Allowed, shifts: Shifts) -> set[int]:
        """Return the notes that a group sees otherwise than usual, those brought in included."""
        kinds = {kind for string in strings for kind in self._homes[string]}
        found = {i for i in (*allowed, *shifts) if self._kind_of[i] in kinds}
        for index, choices in allowed.items():
            if len(choices) == 1:
                demands = self.problem.notes[index].choices[choices[0]].demands
                if any(string in strings for string, _ in demands):
                    found.add(index)
        for index, terms in shifts.items():
            if any(string in strings for _, string, _ in terms):
                found.add(index)
        return found

    def group(
        self, strings: tuple[int, ...], allowed: Allowed, extras: Extras, shifts: Shifts
    ) -> Group:
        """Return *strings* with all that concerns them."""
        levers = tuple(self.problem.strings[string] for string in strings)
        pinned = tuple(self.pinned[string] for string in strings)
        seen = self._notes(strings, allowed, shifts)
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
            tuple(sorted(seen, key=lambda one: (one.times[0], one.note))),
            tuple(extras.get(string, ()) for string in strings),
        )

    def _as_plucked(self) -> list[Plucked]:
        """For each note, when it is plucked, and the locks of its choices then.

        Plucks between which no lever can be moved anyhow are one, locked as long as any. Where
        another note comes between on a string, its lock counts, so they stay apart.
        """
        found: list[Plucked] = [((), ())] * len(self.problem.notes)
        latest: dict[int, int] = {}
        for visit in self.problem.visits:
            times, locks = found[visit.note]
            strings = self._kind_of[visit.note].strings
            is_alone = all(latest.get(string) == visit.note for string in strings)
            latest |= dict.fromkeys(strings, visit.note)
            if times and is_alone and not self._may_move(times[-1], visit.time):
                later = tuple(map(max, locks[-1], visit.locks))
                found[visit.note] = times, (*locks[:-1], later)
            else:
                found[visit.note] = (*times, visit.time), (*locks, visit.locks)
        return found

    def _may_move(self, after: Microseconds, until: Microseconds) -> bool:
        place = bisect_right(self._moments, after)
        return place < len(self._moments) and self._moments[place] <= until

    def _notes(
        self, strings: tuple[int, ...], allowed: Allowed, shifts: Shifts
    ) -> list[GroupNote]:
        """The notes that a group plans, those that others bring in included."""
        special = self._special(strings, allowed, shifts) if allowed or shifts else set()
        seen = []
        for kind in dict.fromkeys(kind for string in strings for kind in self._homes[string]):
            ways = group_ways(kind.choices, strings, kind.anchors)
            for index in kind.notes:
                times, locks = self._visits[index]
                if times and index not in special:
                    seen.append(GroupNote(index, times, locks, ways))
        for index in special:
            times, locks = self._visits[index]
            kind = self._kind_of[index]
            limits = allowed.get(index), shifts.get(index, ())
            ways = group_ways(kind.choices, strings, kind.anchors, *limits)
            if times:
                seen.append(GroupNote(index, times, locks, ways))
        return seen


def _kinds(problem: LeverProblem) -> tuple[list["_Kind"], list["_Kind"]]:
    """The kinds of notes, and the kind of each note."""
    known: dict[int, _Kind] = {}
    kind_of = []
    for index, note in enumerate(problem.notes):
        kind = known.get(id(note.choices))
        if kind is None:
            kind = known[id(note.choices)] = _Kind(note.choices)
        kind.notes.append(index)
        kind_of.append(kind)
    return list(known.values()), kind_of


class _Kind:
    """Notes that have the same choices.

    Attributes:
        notes: in order; *cheapest*: the cost of the cheapest choice.
        is_odd: the first choice is not the cheapest.
        strings: all that any choice plucks.
        anchors: the planned strings that share the price.
    """

    __slots__ = ("anchors", "cheapest", "choices", "is_odd", "notes", "strings")

    def __init__(self, choices: tuple[Choice, ...]) -> None:
        self.choices = choices
        self.notes: list[int] = []
        self.cheapest = min(choice.cost for choice in choices)
        self.is_odd = choices[0].cost > self.cheapest
        self.strings = {string for choice in choices for string, _ in choice.demands}
        self.anchors: tuple[int, ...] = ()


def _cheaper(down: Cost, up: Cost) -> int:
    return UP_BIT if up < down else DOWN_BIT
