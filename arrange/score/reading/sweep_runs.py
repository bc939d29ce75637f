"""The small or written-out notes of a glissando: runs that go from string to string."""

from collections.abc import Iterable, Iterator
from itertools import pairwise

from arrange.score.reading.harp_notes import HarpNotes, Placed
from arrange.units import Quarters

RUN_NOTES = 5
"""Fewer notes are a turn or an upbeat, not an octave spelled out (house judgement)."""
LONGEST_WRITTEN = Quarters(1, 2)
"""The longest notes of a written-out glissando, in quarters (house judgement)."""
LONGEST_SMALL = Quarters(1, 4)
"""Ordinary notes that lead into a line belong to it if they are shorter (house judgement)."""


def direction(one: Placed, other: Placed) -> int:
    """1 where *other* lies higher on the strings, -1 lower, 0 on the same."""
    lines = other.note.pitch.line - one.note.pitch.line
    return (lines > 0) - (lines < 0)


def is_step(one: Placed, other: Placed, way: int = 0) -> bool:
    """Whether *other* is the next string, in the direction *way* where that is not 0."""
    lines = other.note.pitch.line - one.note.pitch.line
    return lines == way if way else abs(lines) == 1


def small_run(harp: HarpNotes, start: Placed, end: Placed | None) -> tuple[Placed, ...]:
    """The cue and grace notes between, if they go step by step in one direction."""
    small = []
    for placed in harp.onward(start, 2):
        if end is not None and placed.moment >= end.moment:
            break
        if placed.note.is_cue or not placed.is_main:
            small.append(placed)
    if small and small[0].note.pitch.line == start.note.pitch.line:
        small = small[1:] if len(small) > RUN_NOTES else small
    return tuple(small) if _is_run([start, *small]) or _is_run(small) else ()


def written_run(harp: HarpNotes, start: Placed, end: Placed | None) -> tuple[Placed, ...]:
    """The short notes that follow *start* in its voice, step by step in one direction."""
    run: list[Placed] = []
    last, way = start, 0
    for placed in _voice(harp.onward(start, 2), start):
        if end is not None and placed.moment >= end.moment:
            break
        short = placed.note.duration <= LONGEST_WRITTEN and start.note.duration <= LONGEST_WRITTEN
        if not short or not is_step(last, placed, way):
            break
        way = way or direction(last, placed)
        run.append(placed)
        last = placed
    return tuple(run)


def upbeat_run(harp: HarpNotes, start: Placed, way: int) -> tuple[Placed, ...]:
    """The small or very short notes that lead to *start* step by step in the direction *way*."""
    run: list[Placed] = []
    later = start
    for placed in harp.backward(start, 1):
        note = placed.note
        is_small = note.is_cue or note.is_grace
        if not is_small and placed.voice != start.voice:
            continue
        if not (is_small or note.duration < LONGEST_SMALL) or not is_step(placed, later, way):
            break
        run.append(placed)
        later = placed
    return tuple(reversed(run)) if _is_run([*reversed(run), start]) else ()


def _voice(notes: Iterable[Placed], start: Placed) -> Iterator[Placed]:
    """What the voice of *start* plays, cue notes aside."""
    return (
        p
        for p in notes
        if p.voice == start.voice and not p.note.is_cue and p.moment != start.moment
    )


def _is_run(notes: list[Placed]) -> bool:
    if len(notes) < RUN_NOTES:
        return False
    way = direction(notes[0], notes[1])
    return way != 0 and all(is_step(one, other, way) for one, other in pairwise(notes))
