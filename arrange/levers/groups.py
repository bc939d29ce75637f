"""Groups of strings that are planned together, and the notes as a group sees them."""

from dataclasses import dataclass
from typing import NamedTuple

from arrange.harp.harp import Position
from arrange.levers.problem import LeverString
from arrange.units import Microseconds

SCALE = 1 << 24
"""Inside the planner a cost of one is this much; what is smaller only breaks ties."""

TIES = SCALE >> 4
"""What all tie-breaking weights of a plan stay below."""

NEAR = SCALE >> 8
"""What a group does not care about: far below one, and still so for all groups together."""

ACT = 64
"""The tie-breaking weight of one move made; a later choice or a raised start weighs less."""

NEVER = 1 << 60
"""A surcharge that forbids."""

FAR = NEVER >> 1
"""What no sum of real costs reaches; a sum with ``NEVER`` in it always does."""

LONG_AGO: Microseconds = -(1 << 61)
"""Before any moment."""

Extra = tuple[int, int, int, int, int]
"""A surcharge on a printed move: (raised, slot, hand, moments, scaled cost).

It is due when the move acts in all these moments."""


class GroupChoice(NamedTuple):
    """A way to treat a note, as far as one group is concerned.

    Attributes:
        cost: the group's share of the price, scaled.
        mask: the group's strings that it plucks, one bit each; *value*: those raised.
        picks: the choices of the note that this may stand for.
    """

    cost: int
    mask: int
    value: int
    picks: tuple[int, ...]


class GroupNote(NamedTuple):
    """A printed note in one group.

    Attributes:
        note: its number in the problem; *times*: when it is plucked.
        locks: for each pluck, the locks of the note's choices.
        choices: the ways to treat it.
    """

    note: int
    times: tuple[Microseconds, ...]
    locks: tuple[tuple[Microseconds, ...], ...]
    choices: tuple[GroupChoice, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """Strings to plan together.

    Attributes:
        strings: their numbers in the problem; bit i of a setting is string i of these.
        starts: (setting, scaled cost) of every start that is allowed.
        can_rise: the strings that may stand raised at all; *movable*: those that may move.
        reaches: their reach classes.
        notes: the notes that concern them, by the first time that they are plucked.
        extras: for each string its surcharges.
    """

    strings: tuple[int, ...]
    starts: tuple[tuple[int, int], ...]
    can_rise: int
    movable: int
    reaches: tuple[int, ...]
    notes: tuple[GroupNote, ...]
    extras: tuple[tuple[Extra, ...], ...]


@dataclass(frozen=True, slots=True)
class Need:
    """One printed move that a group's plan needs.

    Attributes:
        string: which of the group's strings; *raised*: 1 where it goes up.
        untils: for each moment at which it acts, the string's next pluck.
        cost: its scaled price, surcharges included.
    """

    string: int
    raised: int
    untils: tuple[Microseconds, ...]
    cost: int


@dataclass(frozen=True, slots=True)
class Answer:
    """The cheapest plan of one group by itself.

    Attributes:
        cost: its scaled cost; *bound*: what is proven; equal unless states were dropped.
        start: the setting before the first note.
        picks: for each of the group's notes, the index into its ``choices``.
        needs: the moves.
    """

    cost: int
    bound: int
    start: int
    picks: tuple[int, ...]
    needs: tuple[Need, ...]


def plucks_of(
    group: Group, picks: tuple[int, ...], string: int
) -> dict[Microseconds, Microseconds]:
    """Return when *string* is plucked under the choices *picks*, and until when it is locked."""
    plucks: dict[Microseconds, Microseconds] = {}
    for note, pick in zip(group.notes, picks, strict=True):
        choice = note.choices[pick]
        if choice.mask >> string & 1:
            for time, locks in zip(note.times, note.locks, strict=True):
                lock = locks[choice.picks[0]]
                plucks[time] = max(lock, plucks.get(time, lock))
    return plucks


def whole(bound: int) -> int:
    """Return the least whole cost of a plan whose scaled cost, ties included, is *bound*."""
    return -((TIES - bound) // SCALE)


def group_starts(
    strings: tuple[LeverString, ...], fixed: tuple[Position | None, ...]
) -> tuple[tuple[int, int], ...]:
    """Return every start setting of *strings* with its scaled cost."""
    starts = [(0, 0)]
    for bit, (string, pinned) in enumerate(zip(strings, fixed, strict=True)):
        options = []
        if pinned is not Position.UP:
            options.append((0, string.preset_cost_down * SCALE))
        if pinned is not Position.DOWN and string.raised_midi is not None:
            options.append((1 << bit, string.preset_cost_up * SCALE + 1))
        if string.raised_midi is None:
            options = [(0, 0)] if pinned is not Position.UP else []
        starts = [(one | up, cost + extra) for one, cost in starts for up, extra in options]
    return tuple(starts)
