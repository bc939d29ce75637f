"""How the levers stand where people restart: rehearsal marks, segnos, after double bars."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from arrange.harp.harp import Harp, Position
from arrange.harp.wording import ORDINALS, SHORT_LINE, state_in_words, wrapped
from arrange.score.model import MarkKind, Score
from arrange.study.levering import LeverPlan
from arrange.study.planning import PlannedMove


@dataclass(frozen=True, slots=True)
class Restart:
    """A place to start again from.

    Attributes:
        index: the measure; *text*: how the levers stand before its first note.
        moves: that bring them there.
    """

    index: int
    text: str
    moves: tuple[PlannedMove, ...] = ()


def restarts(score: Score, plan: LeverPlan, harp: Harp) -> Iterator[Restart]:
    """Yield a line for each place of the plan's score; none where no lever is ever moved.

    Where the levers stand otherwise when the place comes again, the line speaks of the first
    time only.
    """
    if not plan.moves:
        return
    standing = _standing(score, plan)
    for index in _places(score, plan.staves[0].part):
        states = standing.get(index, [])
        if states:
            time = "" if all(s == states[0] for s in states) else f" the {ORDINALS[1]} time"
            words = state_in_words(harp, plan.initial, states[0])
            text = wrapped(f"Levers{time} {words}.", SHORT_LINE)
            yield Restart(index, text, tuple(_before(score, plan, index)))


def _before(score: Score, plan: LeverPlan, index: int) -> Iterator[PlannedMove]:
    """The moves that are made before a measure is played for the last time."""
    last = len(score.performed) - 1 - score.performed[::-1].index(index)
    earlier = frozenset(score.performed[:last])
    for move in plan.moves:
        if move.index in earlier or (move.index == index and not move.offset):
            yield move


def _places(score: Score, part: str) -> Iterator[int]:
    measures = score.by_part[part].measures
    marks = {MarkKind.REHEARSAL, MarkKind.SEGNO}
    for before, measure in pairwise(measures):
        if (
            before.structure.double_bar
            or measure.structure.segno
            or any(mark.kind in marks for mark in measure.marks)
        ):
            yield measure.index


def _standing(score: Score, plan: LeverPlan) -> dict[int, list[Mapping[str, Position]]]:
    """Before the first note of each measure, pass by pass."""
    moves: dict[int, list[PlannedMove]] = {}
    for move in plan.moves:
        moves.setdefault(move.index, []).append(move)
    now = dict(plan.initial)
    standing: dict[int, list[Mapping[str, Position]]] = {}
    for index in score.performed:
        states = standing.setdefault(index, [])
        occurrence = len(states) + 1
        here = [m for m in moves.get(index, ()) if not m.passes or occurrence in m.passes]
        now |= {m.string: m.position for m in here if not m.offset}
        states.append(dict(now))
        now |= {m.string: m.position for m in here if m.offset}
    return standing
