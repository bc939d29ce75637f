"""Notes of a group that are one to its program: they fare alike.

Notes that ask for the same strings in the same positions, and whose ways cost in the same
order, may as well be treated alike when

* no lever can be moved between them, and levers can be moved from the same moment on after
  each of them; then nothing is lost by it (*exactly* joined); or
* no other note between them concerns their strings; then nothing is lost as long as every move
  has its lowest price, since their levers need not move between them (joined as a *run*).

Other notes may stand between them, if they pluck other strings.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from arrange.levers.crossings import Kind, kind_of
from arrange.levers.groups import Group
from arrange.units import Microseconds


class Joined:
    """One or more notes that are treated alike.

    Attributes:
        kind: what tells the ways; *costs*: of each way, for all of the notes.
        first, last: when the first and the last of them is plucked.
        locks: for each way, until when its strings are locked by the last.
        members: the notes, by their places in the group.
        meets: the strings that a later note plucks at the very moment of the last.
    """

    __slots__ = ("costs", "first", "kind", "last", "locks", "meets", "members", "place")

    def __init__(self, kind: Kind, time: Microseconds, locks: list[Microseconds]) -> None:
        self.kind = kind
        self.costs = list(kind.costs)
        self.first = time
        self.last = time
        self.locks = locks
        self.members: list[int] = []
        self.meets = 0
        self.place: tuple[int, ...] = ()

    def join(self, kind: Kind, time: Microseconds, locks: list[Microseconds]) -> None:
        """Take in a note."""
        self.costs = [cost + more for cost, more in zip(self.costs, kind.costs, strict=True)]
        self.locks = list(map(max, self.locks, locks)) if time == self.last else locks
        self.last = time


def runs_of(group: Group) -> list[Joined]:
    """Return the notes of *group* joined as runs."""
    return _joined(group, None)


def exactly_joined(
    group: Group, moments: Sequence[Microseconds], moves: Sequence[Microseconds]
) -> list[Joined]:
    """Return the notes of *group*, those joined that can be without any loss.

    Args:
        group: strings and notes.
        moments: all moments at which a lever can be moved, sorted.
        moves: how long a move may take.
    """
    return _joined(group, (moments, moves))


_When = tuple[Sequence[Microseconds], Sequence[Microseconds]]


def _joined(group: Group, when: _When | None) -> list[Joined]:
    strings = len(group.strings)
    kinds: dict[int, Kind] = {}
    latest: list[Joined | None] = [None] * strings
    found: list[Joined] = []
    for number, note in enumerate(group.notes):
        kind = kinds.get(id(note.choices))
        if kind is None:
            kind = kinds[id(note.choices)] = kind_of(note.choices, strings)
        time = note.times[0]
        locks = [note.locks[0][pick] for pick in kind.picks]
        place = () if when is None else _place(time, locks, when)
        one = _former(latest, kind)
        if one is not None and one.place == place and one.kind.is_like(kind):
            one.join(kind, time, locks)
        else:
            one = Joined(kind, time, locks)
            one.place = place
            found.append(one)
            for string, _ in kind.crossing.plucking:
                latest[string] = one
        one.members.append(number)
    _tell_meetings(found, strings)
    return found


def _former(latest: list[Joined | None], kind: Kind) -> Joined | None:
    """What all the strings of a note were last asked for by, if it is one."""
    former = None
    for place, (string, _) in enumerate(kind.crossing.plucking):
        if place and latest[string] is not former:
            return None
        former = latest[string]
    return former


def _place(time: Microseconds, locks: list[Microseconds], when: _When) -> tuple[int, ...]:
    """Between which moments a note lies, and from which on its strings' levers can be moved."""
    moments, moves = when
    cell = bisect_right(moments, time)
    if cell == len(moments):
        return (cell,)
    upcoming = moments[cell]
    return (
        cell,
        *[
            cell if lock + move <= upcoming else bisect_left(moments, lock + move, cell)
            for lock in locks
            for move in moves
        ],
    )


def _tell_meetings(found: list[Joined], strings: int) -> None:
    upcoming: list[Microseconds | None] = [None] * strings
    nexts: list[list[Microseconds | None]] = []
    for one in reversed(found):
        nexts.append(list(upcoming))
        for string, _ in one.kind.crossing.plucking:
            upcoming[string] = one.first
    struck: list[Microseconds | None] = [None] * strings
    for one, following in zip(found, reversed(nexts), strict=True):
        for string, _ in one.kind.crossing.plucking:
            struck[string] = one.last
        for string in range(strings):
            if following[string] is not None and following[string] == struck[string]:
                one.meets |= 1 << string


def each(group: Group, joined: Sequence[Joined], picks: Sequence[int]) -> tuple[int, ...]:
    """Return the way that each note of *group* takes, *picks* telling it for what is joined."""
    found = [0] * len(group.notes)
    for one, pick in zip(joined, picks, strict=True):
        for member in one.members:
            found[member] = pick
    return tuple(found)
