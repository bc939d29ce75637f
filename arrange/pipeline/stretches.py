"""How the levers of a result stand, pass by pass, where nothing is to be changed."""

from collections.abc import Iterator, Mapping
from itertools import groupby

from arrange.check import HarpInstructions, Instruction
from arrange.harp.harp import Position
from arrange.score.model import Score, StaffHand
from arrange.study.decided import HeldStretch
from arrange.units import Quarters

Moment = tuple[int, Quarters]
"""A measure's place in the order of play, and an offset in it."""
_AT_THE_BARLINE = Quarters(0)


def held_stretches(
    score: Score,
    staves: tuple[StaffHand, ...],
    told: HarpInstructions,
    window: frozenset[int],
) -> Iterator[HeldStretch]:
    """Yield how each lever of one harp stands outside the measures of *window*.

    Args:
        score: a result of ours.
        staves: of the harp.
        told: what its page says.
        window: the measures that are planned anew.
    """
    acts = _acts(score, told)
    places = range(len(score.performed))
    for is_open, row in groupby(places, lambda place: score.performed[place] in window):
        if not is_open:
            run = list(row)
            begin, end = (run[0], _AT_THE_BARLINE), (run[-1] + 1, _AT_THE_BARLINE)
            for string in told.initial:
                yield from _of_string(staves[0].part, string, acts, told.initial, (begin, end))


def _acts(score: Score, told: HarpInstructions) -> list[tuple[Moment, str, Position]]:
    """Each move that really turns a lever, in order."""
    moves: dict[int, list[Instruction]] = {}
    for move in told.moves:
        moves.setdefault(move.index, []).append(move)
    standing = dict(told.initial)
    times: dict[int, int] = {}
    found = []
    for place, index in enumerate(score.performed):
        times[index] = times.get(index, 0) + 1
        for move in sorted(moves.get(index, ()), key=lambda m: m.offset):
            is_meant = not move.passes or times[index] in move.passes
            if is_meant and standing.get(move.string) is not move.position:
                standing[move.string] = move.position
                found.append(((place, move.offset), move.string, move.position))
    return found


def _of_string(
    part: str,
    string: str,
    acts: list[tuple[Moment, str, Position]],
    initial: Mapping[str, Position],
    stretch: tuple[Moment, Moment],
) -> Iterator[HeldStretch]:
    """The stretch parted where the lever is moved in it."""
    begin, end = stretch
    standing = initial[string]
    since = begin
    for moment, name, position in acts:
        if name != string or moment >= end:
            continue
        if moment > since:
            yield HeldStretch(part, string, standing, *since, *moment)
            since = moment
        standing = position
    yield HeldStretch(part, string, standing, *since, *end)
