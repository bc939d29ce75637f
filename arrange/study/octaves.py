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
    standing = _standing(notes, terms)
    found: dict[tuple[Choice, ...], PrintedNote] = {}
    kept = []
    for note in notes:
        if any(choice.label == "octave" for choice in note.choices):
            if note.choices not in found:
                found[note.choices] = PrintedNote(tuple(_settled(note.choices, standing)))
            kept.append(found[note.choices])
        else:
            kept.append(note)
    return kept


def _standing(notes: list[PrintedNote], terms: Terms) -> frozenset[Demand]:
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
