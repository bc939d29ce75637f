"""Which notes may be played an octave away without asking anything of the levers."""

from collections.abc import Iterable
from dataclasses import replace

from arrange.harp.harp import Position
from arrange.levers.problem import Choice, PrintedNote
from arrange.study.keysignature import wanted_positions
from arrange.study.terms import Terms

Demand = tuple[int, Position]


def settled_octaves(notes: list[PrintedNote], terms: Terms) -> list[PrintedNote]:
    """Keep an octave only where its string always stands right, so that it asks for nothing.

    That keeps the strings of different octaves independent, and a note that is moved to spare
    a lever costs no lever elsewhere.
    """
    different = {id(note): note for note in notes}
    moving = {
        number: note
        for number, note in different.items()
        if any(choice.label == "octave" for choice in note.choices)
    }
    if not moving:
        return notes
    standing = _standing(different.values(), terms)
    alike: dict[tuple[Choice, ...], PrintedNote] = {}
    for number, note in moving.items():
        if note.choices not in alike:
            alike[note.choices] = PrintedNote(tuple(_settled(note.choices, standing)))
        different[number] = alike[note.choices]
    return [different[id(note)] for note in notes]


def _standing(notes: Iterable[PrintedNote], terms: Terms) -> frozenset[Demand]:
    """The strings and positions that no other note of the piece disturbs."""
    asked: dict[int, set[Position]] = {}
    for note in notes:
        for choice in note.choices:
            if choice.label == "home":
                for string, position in choice.demands:
                    asked.setdefault(string, set()).add(position)
    usual = wanted_positions(terms.harp, terms.fifths)
    return frozenset(
        (string, position)
        for string in range(len(terms.harp.strings))
        for position in Position
        if asked.get(string, {usual[string] or Position.DOWN}) == {position}
    )


def _settled(choices: tuple[Choice, ...], standing: frozenset[Demand]) -> Iterable[Choice]:
    for choice in choices:
        if choice.label != "octave":
            yield choice
        elif choice.demands[0] in standing:
            yield replace(choice, demands=(), elsewhere=choice.demands[0])
