"""What has to move, or be left out, so that every note lies between the outer strings.

Which phrases leave the compass is told by their ends; how each is folded is found by
``arrange.study.fold_search``.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

from arrange.changes import Refusal
from arrange.hands.player import Player
from arrange.harp.harp import Harp, HarpString
from arrange.pitch import Interval, Pitch
from arrange.score.model import EventId, Score, StaffHand
from arrange.study.decided import Decided
from arrange.study.fold_search import FOLDING, Bounds, Fold, FoldSearch
from arrange.study.strands import texture
from arrange.study.terms import Terms

__all__ = ["Fold", "Folding", "folding", "folds", "refusals", "used_strings"]


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


def used_strings(harp: Harp, player: Player) -> tuple[HarpString, ...]:
    """The strings of *harp* that a piece for *player* uses; all, unless the player has a range.

    A range that the harp has no string of is none.
    """
    if not player.lowest and not player.highest:
        return harp.strings
    low = Pitch.parse(player.lowest).line if player.lowest else 0
    high = Pitch.parse(player.highest).line if player.highest else 1 << 10
    used = tuple(s for s in harp.strings if low <= s.open.line <= high)
    return used or harp.strings


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
    score: Score,
    staves: tuple[StaffHand, ...],
    terms: Terms,
    interval: Interval,
    *,
    weighs: bool = False,
) -> tuple[Fold, ...]:
    """Return what happens to each phrase that leaves the compass.

    *weighs* asks for the ways beside the one that is taken as well.
    """
    strings = used_strings(terms.harp, terms.player)
    pitches = [p.midi for s in strings for p in (s.open, s.raised) if p is not None]
    semitones = interval.semitones
    bounds = Bounds(min(pitches) - semitones, max(pitches) - semitones, semitones)
    cloth = texture(score, staves)
    work = FoldSearch(cloth, bounds, terms, weighs=weighs)
    return tuple(
        work.fold(movable.phrase, movable.ways)
        for movable in cloth.movables
        if movable.low < bounds.low or movable.high > bounds.high
    )


def refusals(
    found: Iterable[Fold], score: Score, staves: tuple[StaffHand, ...], decided: Decided
) -> Iterator[Refusal]:
    """Yield the chosen ways of one harp that could not be taken."""
    chosen = decided.chosen(FOLDING)
    if not chosen:
        return
    taken = {i: f.weighed[0].key for f in found for n in f.phrase.notes for i in n.ids}
    printed = {(staff.part, staff.staff) for staff in staves}
    for event, key in chosen.items():
        note = score.notes_by_id.get(event)
        if note is None or (event.part, note.staff) not in printed or taken.get(event) == key:
            continue
        reason = "its phrase needs no folding" if event not in taken else "it cannot be done here"
        yield Refusal(FOLDING, event, key, reason)
