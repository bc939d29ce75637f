"""Ties that lead nowhere: a note is tied only where its partner is there."""

from collections.abc import Sequence
from dataclasses import dataclass

from arrange.score.course import Structure
from arrange.score.model import EventId, Note
from arrange.score.reading.inherited import ZERO
from arrange.units import Quarters

LooseTie = tuple[EventId, bool]
"""A note, and whether its tie arrives (or leaves)."""

TieEnd = tuple[EventId, int, bool]
"""A note, its key number, and whether its tie may go over the barline."""


@dataclass(frozen=True, slots=True)
class TieEnds:
    """The ties of one measure whose partner is not in it.

    Attributes:
        arriving, leaving: the notes.
        entering: key numbers of those that may come over its first barline.
        crossing: key numbers of those that may leave over its last.
    """

    arriving: tuple[TieEnd, ...] = ()
    leaving: tuple[TieEnd, ...] = ()
    entering: frozenset[int] = frozenset()
    crossing: frozenset[int] = frozenset()


NO_ENDS = TieEnds()


def tie_ends(notes: Sequence[Note], length: Quarters) -> TieEnds:
    """Return the open ends of the ties of a measure."""
    tied = [note for note in notes if note.tied_from or note.tied_to]
    if not tied:
        return NO_ENDS
    begins = {(n.offset, n.pitch.midi) for n in tied if n.tied_from}
    stops = [(n, (n.offset + n.duration, n.pitch.midi)) for n in tied if n.tied_to]
    ends = {spot for _, spot in stops}
    arriving = tuple(
        (n.id, n.pitch.midi, _is_first(n, notes))
        for n in tied
        if n.tied_from and (n.offset, n.pitch.midi) not in ends
    )
    leaving = tuple(
        (n.id, n.pitch.midi, end >= length or _is_last(n, end, notes))
        for n, (end, midi) in stops
        if (end, midi) not in begins
    )
    return TieEnds(
        arriving,
        leaving,
        frozenset(midi for _, midi, enters in arriving if enters),
        frozenset(midi for _, midi, crosses in leaving if crosses),
    )


def _is_first(note: Note, notes: Sequence[Note]) -> bool:
    """Whether its pitch is not heard before it in the measure."""
    if note.offset == ZERO:
        return True
    midi = note.pitch.midi
    return all(n.pitch.midi != midi or n.offset >= note.offset for n in notes)


def _is_last(note: Note, end: Quarters, notes: Sequence[Note]) -> bool:
    """Whether its pitch is not heard after it in the measure."""
    midi = note.pitch.midi
    return all(n.pitch.midi != midi or n is note or n.offset < end for n in notes)


def loose_ties(
    ends: Sequence[TieEnds], repeats: Sequence[bool], structures: Sequence[Structure]
) -> dict[int, frozenset[LooseTie]]:
    """Return the notes of a part with a tie that has no partner, by measure index.

    A tie over a place where play may come from, or go, elsewhere (an ending, a repeat, a leap,
    a measure-repeat) is believed.

    Args:
        ends: of every measure.
        repeats: whether a measure stands for another.
        structures: of every measure.
    """
    found: dict[int, frozenset[LooseTie]] = {}
    last = len(ends) - 1
    for i, here in enumerate(ends):
        loose: list[LooseTie] = []
        if here.arriving:
            comes = i > 0 and (repeats[i - 1] or _is_open(structures[i - 1], structures[i]))
            known = ends[i - 1].crossing if i else frozenset()
            loose += [
                (event, True)
                for event, midi, at_start in here.arriving
                if not (at_start and (comes or midi in known))
            ]
        if here.leaving:
            goes = i < last and (repeats[i + 1] or _is_open(structures[i], structures[i + 1]))
            known = ends[i + 1].entering if i < last else frozenset()
            loose += [
                (event, False)
                for event, midi, crosses in here.leaving
                if not (crosses and (goes or midi in known))
            ]
        if loose:
            found[i] = frozenset(loose)
    return found


def _is_open(left: Structure, right: Structure) -> bool:
    """Whether something else may be played before or after the barline between two measures."""
    return (
        left.backward
        or bool(left.jump)
        or left.to_coda
        or right.forward
        or right.segno
        or right.coda
        or left.endings != right.endings
    )
