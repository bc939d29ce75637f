"""When a hand holds strings that it has placed ahead, and what a lever move then costs.

A hand that has time enough for a lever may still be in the midst of a placing: its fingers lie on
the strings that come next, and to leave would be to place them anew. Placings that are joined by
a crossing, a change of finger or a finger that stays are one group. Among the places that a
move may have, one between two groups is cheaper by a price. Neither cues nor printed fingerings
count here, so that a plan stays the same when they are written.
"""

from collections.abc import Iterator
from dataclasses import replace

from arrange.hands.fingering.placings import HandFingering, bare_fingering
from arrange.hands.fingering.ways import Joining
from arrange.hands.player import Player
from arrange.levers.problem import Cost, Slot
from arrange.score.model import HandName
from arrange.study.grounds import Ground
from arrange.units import Quarters

APART = frozenset({Joining.ANEW, Joining.JUMP})
"""How a placing begins that nothing joins to the one before."""

_Spot = tuple[int, Quarters]
"""A printed place: measure and offset."""


def between_placings(basis: Ground, player: Player, price: Cost) -> Ground:
    """Return *basis* with *price* added to each slot that parts a group of every free hand."""
    fingered = bare_fingering(basis.score, basis.staves, player)
    groups = {one.hand: list(_groups(one)) for one in fingered if one.hand in basis.hands}
    inside = {hand: _inside(basis, spans) for hand, spans in groups.items()}
    slots = tuple(
        replace(slot, price=slot.price + price)
        if all(number in inside[hand] for hand in _free(basis.hands, slot))
        else slot
        for number, slot in enumerate(basis.slots)
    )
    return replace(basis, slots=slots)


def _groups(fingered: HandFingering) -> Iterator[tuple[_Spot, _Spot]]:
    """First and last handful of each group."""
    begin: _Spot | None = None
    last: _Spot = (0, Quarters(0))
    for placing in fingered.placings:
        first = placing.row[0].handful
        if begin is None or placing.joining in APART:
            if begin is not None and begin < last:
                yield begin, last
            begin = (first.index, first.offset)
        end = placing.row[-1].handful
        last = (end.index, end.offset)
    if begin is not None and begin < last:
        yield begin, last


def _inside(basis: Ground, groups: list[tuple[_Spot, _Spot]]) -> frozenset[int]:
    """The slots that lie after the first handful of a group and no later than its last."""
    found: set[int] = set()
    number = 0
    for begin, end in groups:
        while number < len(basis.places) and _spot(basis, number) <= begin:
            number += 1
        while number < len(basis.places) and _spot(basis, number) <= end:
            found.add(number)
            number += 1
    return frozenset(found)


def _spot(basis: Ground, number: int) -> _Spot:
    place = basis.places[number]
    return place.index, place.offset


def _free(hands: tuple[HandName, ...], slot: Slot) -> Iterator[HandName]:
    """The hands that could move a lever there."""
    for number, hand in enumerate(hands):
        if any(left >= 0 for moment in slot.times for left in moment.slack[number]):
            yield hand
