"""Where systems begin: the same music in both scores, so that they stand side by side."""

from collections.abc import Sequence
from dataclasses import dataclass

from arrange.score.model import Score

Columns = Sequence[tuple[int | None, int | None]]
"""Measures before and after that belong together, by index; None where a side has none."""

CAPACITY = 1250
"""How much a system holds (house judgement, as all widths here)."""
MOST = 6
"""Most measures in a system."""
_BARE, _ONSET, _SIGNATURES = 70, 38, 130


@dataclass(frozen=True, slots=True)
class Row:
    """One system of each score.

    Attributes:
        first, last: the columns that stand in it.
        before, after: indices of the measures of either side; empty where there are none.
    """

    first: int
    last: int
    before: tuple[int, ...]
    after: tuple[int, ...]


def widths(score: Score) -> list[int]:
    """How much room each measure takes, roughly."""
    count = max(len(part.measures) for part in score.parts)
    onsets: list[set[object]] = [set() for _ in range(count)]
    graces = [0] * count
    found = [_BARE] * count
    for part in score.parts:
        fifths: tuple[int, ...] = ()
        for measure in part.measures:
            onsets[measure.index].update(note.offset for note in measure.notes)
            graces[measure.index] += sum(note.is_grace for note in measure.notes)
            if measure.fifths != fifths:
                fifths = measure.fifths
                found[measure.index] = _SIGNATURES
    return [
        w + _ONSET * len(o) + _ONSET // 2 * g
        for w, o, g in zip(found, onsets, graces, strict=True)
    ]


def rows(columns: Columns, before: Sequence[int], after: Sequence[int]) -> list[Row]:
    """Part the columns into systems.

    A run of measures that only one side has, two or more, gets systems of its own, so that the
    other side shows a gap there.

    Args:
        columns: the measures that belong together.
        before: how much room each measure before takes.
        after: how much room each measure after takes.
    """
    alone = _long_runs(columns)
    found: list[Row] = []
    first, room = 0, 0
    for place, (one, two) in enumerate(columns):
        wide = max(before[one] if one is not None else 0, after[two] if two is not None else 0)
        is_edge = place and alone[place] != alone[place - 1]
        is_full = room + wide > CAPACITY or place - first >= MOST
        if place > first and (is_edge or is_full):
            found.append(_row(columns, first, place - 1))
            first, room = place, 0
        room += wide
    if columns:
        found.append(_row(columns, first, len(columns) - 1))
    return found


def _row(columns: Columns, first: int, last: int) -> Row:
    within = columns[first : last + 1]
    return Row(
        first,
        last,
        tuple(one for one, _ in within if one is not None),
        tuple(two for _, two in within if two is not None),
    )


def _long_runs(columns: Columns) -> list[int]:
    """For each column 1 or 2 where it lies in a run that only the one or the other side has."""
    sides = [0 if None not in pair else 1 if pair[1] is None else 2 for pair in columns]
    return [
        side
        if side and side in (sides[i - 1] if i else 0, sides[i + 1] if i + 1 < len(sides) else 0)
        else 0
        for i, side in enumerate(sides)
    ]
