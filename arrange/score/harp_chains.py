"""The chains of a whole harp, read once for all who ask."""

from collections import deque
from operator import is_

from arrange.memory import row_of_latest
from arrange.score.chains import Chain, Line, PartChains, damps, ticks_in_a_quarter
from arrange.score.model import Measure, Score, StaffHand

HarpChains = tuple[tuple[Line, tuple[Chain, ...]], ...]
"""Each part of a harp on its line, with its chains."""

_lately: deque[tuple[Score, tuple[StaffHand, ...], HarpChains]] = row_of_latest(2)


def chains_of(score: Score, harp: tuple[StaffHand, ...]) -> HarpChains:
    """The chains of a harp's parts: to be read, and left as they are.

    Where notes were only marked, those of one of the latest scores serve again.
    """
    for known, known_harp, chains in _lately:
        if known is score and known_harp == harp:
            return chains
    alike = (
        chains
        for known, known_harp, chains in _lately
        if known_harp == harp and _are_joined_alike(known, score, harp)
    )
    found = next(alike, None) or _read(score, harp)
    _lately.append((score, harp, found))
    return found


def _are_joined_alike(one: Score, other: Score, harp: tuple[StaffHand, ...]) -> bool:
    """Whether two scores have the very same notes for a harp, played by the same hands."""
    if one.reassigned != other.reassigned:
        return False
    pairs = [(one.by_part[part], other.by_part[part]) for part in {hand.part for hand in harp}]
    return all(
        len(part.measures) == len(counterpart.measures)
        and all(map(_are_alike, part.measures, counterpart.measures))
        for part, counterpart in pairs
    )


def _are_alike(one: Measure, other: Measure) -> bool:
    return one is other or (
        len(one.notes) == len(other.notes)
        and all(map(is_, one.notes, other.notes))
        and (one.length, one.stands_for, one.repeated_staves)
        == (other.length, other.stands_for, other.repeated_staves)
        and (one.marks is other.marks or damps(one) == damps(other))
    )


def _read(score: Score, harp: tuple[StaffHand, ...]) -> HarpChains:
    parts = [score.by_part[name] for name in dict.fromkeys(staff.part for staff in harp)]
    quarter = ticks_in_a_quarter(parts)
    reassigned = dict(score.reassigned)
    found = []
    for part in parts:
        hands = {staff.staff: staff.hand for staff in harp if staff.part == part.id}
        line = Line(part, quarter)
        found.append((line, tuple(PartChains(line, hands, reassigned).read())))
    return tuple(found)
