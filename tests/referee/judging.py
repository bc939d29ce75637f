"""The verdict: every question of the referee, in one list of faults."""

from collections.abc import Iterator
from pathlib import Path

from referee import opening
from referee.changes import change_faults, log_faults
from referee.clock import Clock, tempo_faults
from referee.facts import (
    file_faults,
    hand_faults,
    harp_faults,
    initial_faults,
    open_faults,
    place_faults,
    player_faults,
    shape_faults,
)
from referee.faults import Fault
from referee.keys import accidental_faults, key_faults
from referee.levers import Replay
from referee.marks import mark_faults
from referee.order import order_faults
from referee.plucks import Performance
from referee.reading import read_sheet
from referee.sheet import Sheet
from referee.summary import Summary, loads, read_summary
from referee.sweeps import Tones, sweep_faults
from referee.turns import turns_of


def judge(source: Path, result: Path, summary: Path, *, tempo_given: bool = False) -> list[Fault]:
    """Hold a result and its summary against the source.

    Args:
        source: the score that was converted, ``.xml``, ``.musicxml`` or ``.mxl``.
        result: what came of it.
        summary: its ``.summary.json``.
        tempo_given: a tempo was asked for, so that the source's tempo marks do not count.

    Returns:
        Every fault found; an empty list where all is as it should be.
    """
    try:
        raw = loads(summary.read_bytes())
        told = read_summary(raw)
        faults = list(file_faults(source, result, raw))
    except (KeyError, TypeError, ValueError) as error:
        return [Fault("summary", summary.name, f"it cannot be read: {error!r}")]
    source_root, result_root = opening.tree_at(source), opening.tree_at(result)
    before, after = read_sheet(source_root), read_sheet(result_root)
    faults += order_faults(turns_of(source_root), told)
    faults += tempo_faults(before, told, tempo_given=tempo_given)
    faults += [fault for part in written_faults(before, after, told) for fault in part]
    if can_be_played(before, after, told):
        faults += played_faults(before, after, told)
    return faults


def can_be_played(before: Sheet, after: Sheet, told: Summary) -> bool:
    """Whether the summary speaks of this score at all; what does not is a fault already."""
    fits = all(0 <= index < after.length for index in told.performed)
    paced = bool(told.tempo) and all(tempo > 0 for _, _, tempo in told.tempo)
    known = set(after.parts) & set(before.parts)
    named = {*told.parts, *(sweep.part for sweep in told.sweeps)}
    return fits and paced and named <= known


def written_faults(
    before: Sheet, after: Sheet, told: Summary
) -> Iterator[Iterator[Fault] | list[Fault]]:
    """What the page and the log show without being played."""
    yield harp_faults(told)
    yield initial_faults(told)
    yield hand_faults(after, told)
    yield player_faults(told)
    yield place_faults(after, told)
    yield shape_faults(before, after)
    yield key_faults(before, after, told)
    yield accidental_faults(before, after)
    yield open_faults(before, after, told)
    yield log_faults(told)
    yield change_faults(before, after, told)
    yield mark_faults(before, after, told)


def played_faults(before: Sheet, after: Sheet, told: Summary) -> list[Fault]:
    """What playing the result shows, harp by harp."""
    clock, tones = Clock(after, told), Tones(before, told)
    faults = sweep_faults(after, told)
    for harp in told.harps():
        plucks = Performance(after, told, clock, harp).play(tones)
        faults += Replay(told, clock, plucks, harp).run()
    return faults
