"""The order in which a group's notes and slots are worked through, and what hangs together.

Columns are printed places, in the order of their first performed moment. A column's performed
moments belong to threads: stretches of the performance that have been worked through without
a gap. A thread that starts in the middle of the performance starts from a guess, which is
checked when the stretch before it is reached.
"""

from bisect import bisect_left
from dataclasses import dataclass

from arrange.levers.groups import Group
from arrange.levers.timetable import Timetable
from arrange.quick import quickly_made
from arrange.units import Microseconds

FOREVER: Microseconds = 1 << 61
"""Later than any moment."""


@dataclass(frozen=True, slots=True)
class Join:
    """A thread's end meets the guess of a later thread.

    Attributes:
        guess: cell of the later thread's guess; *end*: cell of its end.
        own: cell of the earlier thread's own guess, -1 where it has none.
    """

    guess: int
    end: int
    own: int


@quickly_made
@dataclass(frozen=True, slots=True)
class Place:
    """One performed moment of a column.

    Attributes:
        time: when it is; *rank*: its place among all events.
        end: the cell of the thread that reaches it.
        guess: the cell of that thread's guess, -1 where it starts at the beginning.
        opens: True where the thread starts here.
        horizon: a lock that ends by then bars no later move.
        is_struck_with_next: True where the next event is a note at the same time.
        is_last: True at the end of the performance; *goes_on*: True where the same column
            comes next again.
        join: what is reached, if anything.
    """

    time: Microseconds
    rank: int
    end: int
    guess: int
    opens: bool
    horizon: Microseconds
    is_struck_with_next: bool
    is_last: bool
    goes_on: bool
    join: Join | None


@quickly_made
@dataclass(frozen=True, slots=True)
class Column:
    """A printed note or slot.

    Attributes:
        note: index of the note in its group, -1 for a slot; *slot*: the slot, -1 for a note.
        strings: for a slot, which of the group's strings it may serve.
        places: its performed moments.
    """

    note: int
    slot: int
    strings: tuple[int, ...]
    places: tuple[Place, ...]


@dataclass(slots=True)
class _Thread:
    end: int
    guess: int


_Item = tuple[Microseconds, int, int, tuple[Microseconds, ...], tuple[int, ...]]


def columns_of(group: Group, timetable: Timetable) -> tuple[tuple[Column, ...], int]:
    """Return the columns of *group* in working order, and how many cells a state has."""
    items: list[_Item] = [
        (note.times[0], 1, index, note.times, ()) for index, note in enumerate(group.notes)
    ]
    for slot, strings in _useful_slots(group, timetable):
        times = tuple(moment.time for moment in timetable.slots[slot].times)
        items.append((times[0], 0, slot, times, strings))
    items.sort(key=lambda item: item[:3])
    axis = sorted(
        (time, item[1], order, place)
        for order, item in enumerate(items)
        for place, time in enumerate(item[3])
    )
    return _thread(items, axis, timetable.longest)


def _thread(
    items: list[_Item], axis: list[tuple[Microseconds, int, int, int]], longest: Microseconds
) -> tuple[tuple[Column, ...], int]:
    following = _next_moments(axis)
    ranks: list[list[int]] = [[0] * len(item[3]) for item in items]
    for rank, (_, _, order, place) in enumerate(axis):
        ranks[order][place] = rank
    ends: dict[int, _Thread] = {-1: _Thread(0, -1)}
    starts: dict[int, _Thread] = {}
    cells = _Cells()
    columns = []
    for order, (_, kind, number, _, strings) in enumerate(items):
        threads = []
        for rank in ranks[order]:
            thread = ends.pop(rank - 1, None)
            opens = thread is None
            if thread is None:
                thread = _Thread(cells.take(), cells.take())
                starts[rank] = thread
            ends[rank] = thread
            threads.append((rank, thread, thread.guess, opens))
        places = []
        freed: list[int] = []
        for rank, thread, guess, opens in threads:
            upcoming = axis[rank + 1] if rank + 1 < len(axis) else None
            later = starts.pop(rank + 1, None) if upcoming and upcoming[2] != order else None
            places.append(
                Place(
                    axis[rank][0],
                    rank,
                    thread.end,
                    guess,
                    opens,
                    following[rank] - longest,
                    upcoming is not None and upcoming[:2] == (axis[rank][0], 1),
                    upcoming is None,
                    upcoming is not None and upcoming[2] == order,
                    Join(later.guess, later.end, thread.guess) if later else None,
                )
            )
            if later:
                freed += [later.guess, thread.end]
                later.guess = thread.guess
                _move_start(starts, thread, later)
                del ends[rank]
        columns.append(
            Column(number if kind else -1, -1 if kind else number, strings, tuple(places))
        )
        cells.free(freed)
    return tuple(columns), cells.count


def _move_start(starts: dict[int, _Thread], old: _Thread, new: _Thread) -> None:
    """Let the start of *old* lead to *new*, which has swallowed it."""
    for rank, thread in starts.items():
        if thread is old:
            starts[rank] = new
            return


class _Cells:
    """Numbers cells, and uses freed ones again."""

    def __init__(self) -> None:
        self.count = 1
        self._unused: list[int] = []

    def take(self) -> int:
        if self._unused:
            return self._unused.pop()
        self.count += 1
        return self.count - 1

    def free(self, cells: list[int]) -> None:
        self._unused += cells


def _next_moments(axis: list[tuple[Microseconds, int, int, int]]) -> list[Microseconds]:
    following = [FOREVER] * len(axis)
    upcoming = FOREVER
    for rank in range(len(axis) - 1, -1, -1):
        following[rank] = upcoming
        if axis[rank][1] == 0:
            upcoming = axis[rank][0]
    return following


def _useful_slots(group: Group, timetable: Timetable) -> list[tuple[int, tuple[int, ...]]]:
    """Return the slots worth trying, each with the group's strings that it may serve."""
    serving: dict[int, list[int]] = {}
    for string in range(len(group.strings)):
        if group.movable >> string & 1:
            for slot in _slots_of_string(group, string, timetable):
                serving.setdefault(slot, []).append(string)
    return [(slot, tuple(strings)) for slot, strings in sorted(serving.items())]


def _slots_of_string(group: Group, string: int, timetable: Timetable) -> list[int]:
    """Return the slots worth trying for *string*.

    Of two slots between the same plucks in every pass, the later is the less locked; where it
    is no dearer, and hands are no less free, the earlier is not worth trying. Slots with
    surcharges stand for themselves.
    """
    bit = 1 << string
    plucks = sorted(
        {
            time
            for note in group.notes
            if any(choice.mask & bit for choice in note.choices)
            for time in note.times
        }
    )
    marked = {extra[1] for extra in group.extras[string]}
    kept: dict[tuple[int, ...], list[int]] = {}
    slots: list[int] = []
    last = len(plucks)
    for slot in timetable.by_first:
        gaps = tuple(bisect_left(plucks, moment.time) for moment in timetable.slots[slot].times)
        signature = timetable.signature(slot, group.reaches[string])
        if min(gaps) == last or not any(any(row) for row in signature[1]):
            continue
        if slot in marked:
            slots.append(slot)
            continue
        rivals = kept.setdefault(gaps, [])
        rivals[:] = [
            one for one in rivals if not _serves(timetable, slot, one, group.reaches[string])
        ]
        rivals.append(slot)
    return slots + [slot for rivals in kept.values() for slot in rivals]


def _serves(timetable: Timetable, slot: int, other: int, reach: int) -> bool:
    """Return True where *slot* serves wherever *other* does, at no higher price."""
    price, rows = timetable.signature(slot, reach)
    other_price, other_rows = timetable.signature(other, reach)
    if price > other_price:
        return False
    pairs = zip(timetable.slots[slot].times, timetable.slots[other].times, strict=True)
    return all(one.time >= earlier.time for one, earlier in pairs) and all(
        free >= before
        for row, other_row in zip(rows, other_rows, strict=True)
        for free, before in zip(row, other_row, strict=True)
    )
