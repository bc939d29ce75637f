"""Invented lever problems, small and tight, for hypothesis or from a numbered throw of dice."""

from collections.abc import Callable
from dataclasses import dataclass

from hypothesis import strategies as st

from arrange.harp.harp import Position
from arrange.levers.problem import (
    Choice,
    Hand,
    LeverProblem,
    LeverString,
    PrintedNote,
    Slot,
    SlotTime,
    Visit,
)

UNIT = 100_000
"""One step of time, a tenth of a second."""

Throw = Callable[[int], int]
"""Returns a whole number from 0 to below its argument."""

LAYOUTS = ("A", "A", "AA", "AAB", "ABA", "AABB", "ABAC", "AAA", "ABCAB")
"""Orders of playing: repeats, endings, da capo."""


@dataclass(frozen=True)
class Shape:
    """How big a problem is."""

    strings: int = 4
    events: int = 5
    hands: int = 2
    layouts: tuple[str, ...] = LAYOUTS
    is_tight: bool = True


def dice(seed: int) -> Throw:
    """Return a throw whose numbers follow from *seed* alone."""
    state = [(seed * 2654435761 + 12345) % (1 << 64)]

    def throw(sides: int) -> int:
        state[0] = (state[0] * 6364136223846793005 + 1442695040888963407) % (1 << 64)
        return (state[0] >> 33) % sides

    return throw


def numbered_problem(seed: int, shape: Shape = Shape()) -> LeverProblem:
    """Return the problem with this number."""
    return thrown_problem(dice(seed), shape)


@st.composite
def lever_problems(draw: st.DrawFn, shape: Shape = Shape()) -> LeverProblem:
    """Draw a lever problem; it shrinks towards few notes and plain choices."""
    return thrown_problem(lambda sides: draw(st.integers(0, sides - 1)), shape)


def thrown_problem(throw: Throw, shape: Shape) -> LeverProblem:
    """Return a problem made by *throw*."""
    strings = tuple(_string(throw, number) for number in range(2 + throw(shape.strings - 1)))
    hands = tuple(
        Hand(name, UNIT * (1 + throw(3)), 50 * number, _reaches(throw))
        for number, name in enumerate(("left", "right")[: 1 + throw(shape.hands)])
    )
    layout = shape.layouts[throw(len(shape.layouts))]
    notes: list[PrintedNote] = []
    slots: list[tuple[int, list[SlotTime]]] = []
    visits: list[Visit] = []
    passages: dict[str, tuple[list[tuple[int, int, int]], int]] = {}
    for letter in sorted(set(layout)):
        passages[letter] = _passage(throw, shape, strings, notes, slots)
    start = 0
    for letter in layout:
        events, length = passages[letter]
        for kind, number, offset in events:
            time = (start + offset) * UNIT
            if kind:
                slots[number][1].append(SlotTime(time, _slack(throw, shape, len(hands))))
            else:
                locks = tuple(
                    time + UNIT * throw(4 if shape.is_tight else 3) for _ in notes[number].choices
                )
                visits.append(Visit(number, time, locks))
        start += length
    visits.sort(key=lambda visit: visit.time)
    return LeverProblem(
        strings,
        tuple(notes),
        tuple(visits),
        tuple(Slot(tuple(times), price) for price, times in slots),
        hands,
        fixed_start=_fixed(throw, strings),
    )


def _string(throw: Throw, number: int) -> LeverString:
    has_lever = throw(8) != 7
    return LeverString(
        f"S{number}",
        60 + 2 * number,
        61 + 2 * number if has_lever else None,
        throw(8) != 7,
        throw(2),
        10 * throw(3),
        10 * throw(2),
    )


def _reaches(throw: Throw) -> frozenset[int]:
    return (frozenset((0, 1)), frozenset((0, 1)), frozenset((0,)), frozenset((1,)))[throw(4)]


def _fixed(throw: Throw, strings: tuple[LeverString, ...]) -> tuple[tuple[int, Position], ...]:
    if throw(3) != 2:
        return ()
    string = throw(len(strings))
    if strings[string].raised_midi is None:
        return ()
    return ((string, Position.UP if throw(2) else Position.DOWN),)


def _passage(
    throw: Throw,
    shape: Shape,
    strings: tuple[LeverString, ...],
    notes: list[PrintedNote],
    slots: list[tuple[int, list[SlotTime]]],
) -> tuple[list[tuple[int, int, int]], int]:
    events = []
    offset = 0
    for _ in range(1 + throw(shape.events)):
        if throw(2):
            slots.append((30 * throw(2), []))
            events.append((1, len(slots) - 1, offset))
        if throw(4) != 3:
            for _ in range(1 + (throw(4) == 3)):
                notes.append(PrintedNote(_choices(throw, len(strings))))
                events.append((0, len(notes) - 1, offset))
        offset += 1 + throw(3)
    return events, offset


def _choices(throw: Throw, strings: int) -> tuple[Choice, ...]:
    first = throw(strings)
    demands = [(first, Position.UP if throw(2) else Position.DOWN)]
    if throw(6) == 5:
        demands.extend(
            (string, Position.UP if throw(2) else Position.DOWN)
            for string in range(strings)
            if string != first and throw(2)
        )
    choices = [Choice(tuple(demands), 0 if throw(8) != 7 else 120)]
    for _ in range(throw(3)):
        other = ((throw(strings), Position.UP if throw(2) else Position.DOWN),)
        choices.append(Choice(other, (0, 100, 150)[throw(3)], "octave"))
    choices.append(Choice((), (1000, 200, 100)[throw(3)], "open"))
    return tuple(choices)


def _slack(throw: Throw, shape: Shape, hands: int) -> tuple[tuple[int, ...], ...]:
    ease = (9, 9, 3, 0, -1) if shape.is_tight else (9, 9, 9, 4, -1)
    return tuple(
        tuple(-1 if left < 0 else left * UNIT for left in (ease[throw(5)], ease[throw(5)]))
        for _ in range(hands)
    )
