"""What has to move, or be left out, so that every note lies between the outer strings.

Which phrases leave the compass is told by their ends; how each is folded is found by
``arrange.study.fold_search``.
"""

from dataclasses import dataclass
from functools import lru_cache

from arrange.pitch import Interval
from arrange.score.model import EventId, Score, StaffHand
from arrange.study.fold_search import Bounds, Fold, FoldSearch
from arrange.study.strands import texture
from arrange.study.terms import Terms

__all__ = ["Fold", "Folding", "folding", "folds"]


@dataclass(frozen=True)
class Folding:
    """What would move.

    Attributes:
        octaves: note to octaves that it moves, tied notes included.
        dropped: doublings left out; *open*: notes that stay outside the compass.
        altered: how many notes differ.
        cost: in hundredths of a move.
    """

    octaves: dict[EventId, int]
    dropped: frozenset[EventId]
    open: frozenset[EventId]
    altered: int
    cost: int


def folding(
    score: Score, staves: tuple[StaffHand, ...], terms: Terms, interval: Interval
) -> Folding:
    """Return what would have to move if the score were transposed by *interval*."""
    octaves: dict[EventId, int] = {}
    dropped: list[EventId] = []
    left: list[EventId] = []
    cost = 0
    for fold in folds(score, staves, terms, interval):
        for note, by in fold.moved:
            octaves.update(dict.fromkeys(note.ids, by))
        dropped.extend(i for note in fold.dropped for i in note.ids)
        left.extend(i for note in fold.open for i in note.ids)
        cost += fold.cost
    return Folding(octaves, frozenset(dropped), frozenset(left), len(octaves) + len(dropped), cost)


@lru_cache(maxsize=64)
def folds(
    score: Score, staves: tuple[StaffHand, ...], terms: Terms, interval: Interval
) -> tuple[Fold, ...]:
    """Return what happens to each phrase that leaves the compass."""
    strings = terms.harp.strings
    pitches = [p.midi for s in strings for p in (s.open, s.raised) if p is not None]
    semitones = interval.semitones
    bounds = Bounds(min(pitches) - semitones, max(pitches) - semitones, semitones)
    cloth = texture(score, staves)
    work = FoldSearch(cloth, bounds, terms.prices)
    return tuple(
        work.fold(movable.phrase, movable.ways)
        for movable in cloth.movables
        if movable.low < bounds.low or movable.high > bounds.high
    )
