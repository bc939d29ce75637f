"""A group whose notes are joined where nothing can be lost, repeats included.

Notes are joined if they ask for the same strings in the same positions, if their ways cost in
the same order, and if every time they are played one comes right after the other on their
strings, no lever can be moved between them, and levers can be moved from the same moment on
after each (``joining`` says why).
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace

from arrange.levers.crossings import Kind, kind_of
from arrange.levers.groups import Group, GroupChoice, GroupNote
from arrange.units import Microseconds

_Event = tuple[int, int]
"""A note and which of its plucks."""


@dataclass(frozen=True, slots=True)
class Gathered:
    """A group with fewer notes.

    Attributes:
        group: where each note stands for others too.
        members: for each of its notes, those that it stands for, by their places.
        size: how many notes there were.
    """

    group: Group
    members: tuple[tuple[int, ...], ...]
    size: int

    def each(self, picks: Sequence[int]) -> tuple[int, ...]:
        """Return the way that each note takes, *picks* telling it for what is joined."""
        found = [0] * self.size
        for pick, members in zip(picks, self.members, strict=True):
            for member in members:
                found[member] = pick
        return tuple(found)


def gathered(
    group: Group, moments: Sequence[Microseconds], moves: Sequence[Microseconds]
) -> Gathered:
    """Return *group* with its notes joined.

    Args:
        group: strings and notes.
        moments: all moments at which a lever can be moved, sorted.
        moves: how long a move may take.
    """
    kinds = _kinds(group)
    former = _former(group, kinds)
    places: list[tuple[int, ...]] = [_places(note, moments, moves) for note in group.notes]
    heads: list[int] = []
    joined: dict[int, list[int]] = {}
    for number, kind in enumerate(kinds):
        before = former[number]
        if (
            before is not None
            and kind.is_like(kinds[before])
            and places[before] == places[number]
            and len(group.notes[before].times) == len(group.notes[number].times)
        ):
            heads.append(heads[before])
            joined[heads[before]].append(number)
        else:
            heads.append(number)
            joined[number] = [number]
    notes = tuple(_as_one(group, members, kinds) for members in joined.values())
    return Gathered(
        replace(group, notes=notes), tuple(map(tuple, joined.values())), len(group.notes)
    )


def _kinds(group: Group) -> list[Kind]:
    known: dict[int, Kind] = {}
    found = []
    for note in group.notes:
        kind = known.get(id(note.choices))
        if kind is None:
            kind = known[id(note.choices)] = kind_of(note.choices, len(group.strings))
        found.append(kind)
    return found


def _former(group: Group, kinds: list[Kind]) -> list[int | None]:
    """For each note the one that comes right before it on all its strings, every time."""
    before: list[set[int | None]] = [set() for _ in kinds]
    for string in range(len(group.strings)):
        row = sorted(
            (time, number, place)
            for number, (note, kind) in enumerate(zip(group.notes, kinds, strict=True))
            if any(one == string for one, _ in kind.crossing.plucking)
            for place, time in enumerate(note.times)
        )
        last_time, last, last_place = None, None, -1
        for time, number, place in row:
            if time == last_time or last_place != place:
                before[number].add(None)
            else:
                before[number].add(last)
            if time == last_time and last is not None:
                before[last].add(None)
            last_time, last, last_place = time, number, place
    return [next(iter(one)) if len(one) == 1 else None for one in before]


def _places(
    note: GroupNote, moments: Sequence[Microseconds], moves: Sequence[Microseconds]
) -> tuple[int, ...]:
    """Between which moments a note lies, and from which on its strings' levers can be moved."""
    found: list[int] = []
    for time, locks in zip(note.times, note.locks, strict=True):
        cell = bisect_right(moments, time)
        found.append(cell)
        found += [
            bisect_left(moments, locks[choice.picks[0]] + move, cell)
            for choice in note.choices
            if choice.mask
            for move in moves
        ]
    return tuple(found)


def _as_one(group: Group, members: list[int], kinds: list[Kind]) -> GroupNote:
    first = group.notes[members[0]]
    if len(members) == 1:
        return first
    last = group.notes[members[-1]]
    kind = kinds[members[0]]
    costs = [sum(one) for one in zip(*(kinds[member].costs for member in members), strict=True)]
    locks = tuple(tuple(locks[choice.picks[0]] for choice in last.choices) for locks in last.locks)
    crossing = kind.crossing
    ways = tuple(
        GroupChoice(cost, mask, value, (pick,))
        for pick, (cost, mask, value) in enumerate(
            zip(costs, crossing.masks, crossing.values, strict=True)
        )
    )
    return GroupNote(first.note, first.times, locks, ways)
