"""When each note of a measure begins and how long it lasts, exact where the file rounds."""

from arrange.score.nodes import Node
from arrange.score.reading.inherited import ZERO, Divisions, quarters
from arrange.score.reading.running import Running, Timed
from arrange.score.reading.told import told_by
from arrange.units import Quarters


def time_note(node: Node, running: Running) -> None:
    """Give a note element its time and move the reading on."""
    told = told_by(node, running.place)
    timed = Timed(node.key, told, running.last if told.is_chord else None)
    length = told.length
    if not told.is_grace:
        _note_rounding(timed, running)
    if timed.first is not None:
        timed.raw = timed.first.raw
    else:
        if told.is_chord:
            running.note("A chord note with no note before it; it is read as a note of its own.")
        timed.raw = running.position
        running.last = timed
    divisions = running.divisions or 1
    timed.start = quarters(timed.raw, divisions)
    timed.duration = quarters(length, divisions)
    timed.transpositions = running.transpositions
    running.timed.append(timed)
    if timed.first is None and length:
        running.position += length
        if told.is_whole_rest:
            # its written duration says little about the measure's length
            running.whole_rest = max(running.whole_rest, running.offset)
        elif running.position > running.furthest:
            running.furthest = running.position


def _note_rounding(timed: Timed, running: Running) -> None:
    """Take note of what tuplet values say where a duration is off by rounding."""
    if not running.divisions:
        running.divisions = 1
        running.note("No divisions are given; a duration of 1 is read as a quarter.")
    value, length = timed.told.value, timed.told.length
    if value is None or _is_equal(length, running.divisions, value):
        return
    if abs(value * running.divisions - length) < 1:
        timed.nominal = value
        running.is_rounded = True


def _is_equal(length: Divisions, divisions: Divisions, value: Quarters) -> bool:
    return value.numerator * divisions == length * value.denominator


def exact_times(timed: list[Timed]) -> dict[Quarters, Quarters]:
    """Put right what rounded durations say, along each run of notes.

    Sets exact starts and durations; a note is only touched where its own value, dots and
    tuplet say what was meant.

    Returns:
        Places in the file's own count, to the places that they stand for.
    """
    _drop_coarse(timed)
    known: dict[Quarters, Quarters] = {}
    shift, expected = ZERO, ZERO
    for note in timed:
        if note.first is not None:
            note.start = note.first.start
            note.duration = note.duration if note.nominal is None else note.nominal
            continue
        begin, end = note.start, note.start + note.duration
        if begin != expected:
            shift = known.get(begin, begin) - begin
        note.start = begin + shift
        note.duration = note.duration if note.nominal is None else note.nominal
        shift = note.start + note.duration - end
        expected = end
        if shift:
            known.setdefault(end, end + shift)
    return known


def _drop_coarse(timed: list[Timed]) -> None:
    """Where a division is coarse, believe rounded values only if their run comes out even."""
    run: list[Timed] = []
    for note in [*timed, None]:
        if note is not None and note.first is not None:
            continue
        joins = run and note is not None and note.start == run[-1].start + run[-1].duration
        if note is None or not note.told.is_in_tuplet or (run and not joins):
            _judge_run(run)
            run = []
        if note is not None and note.told.is_in_tuplet:
            run.append(note)


def _judge_run(run: list[Timed]) -> None:
    off = ZERO
    is_fine = True
    for note in run:
        if note.nominal is not None:
            off += note.nominal - note.duration
            is_fine = is_fine and 8 * abs(note.nominal - note.duration) <= note.nominal
    if off and not is_fine:
        for note in run:
            note.nominal = None
