"""What trills, turns, mordents and tremolos stand for: how often a note is plucked again, when.

All times are whole ticks from the note's start; a quarter has a multiple of 32 of them. The
exact number of a trill's notes is the player's; what counts here is that both strings are needed
all through it and that the hand is busy, so long ones are taken at four plucks a quarter, with
the last pluck where it really falls (house judgement).
"""

from arrange.score.model import Note, Sign

UNMEASURED_MARKS = 3
"""Three strokes mean as fast as it goes (common practice)."""

Again = tuple[int, int]
"""Ticks after the note's start, and which of its auxiliaries, -1 for the note itself."""


def trill(length: int, quarter: int, auxiliaries: int) -> list[Again]:
    """Note and auxiliary in turn to the end, the auxiliaries by rotation."""
    step = _grid(length, quarter)
    if not step:
        return [(0, i) for i in range(auxiliaries)]
    return [
        (at, (at // step // 2) % auxiliaries if at // step % 2 else -1)
        for at in range(step, length, step)
    ]


def turn(length: int, quarter: int, auxiliaries: int) -> list[Again]:
    """Each auxiliary once, at the start, the note again after each."""
    step = min(quarter // 8, length // (2 * auxiliaries + 2))
    return [
        again
        for i in range(auxiliaries)
        for again in (((2 * i + 1) * step, i), ((2 * i + 2) * step, -1))
    ]


def ornament(note: Note, length: int, quarter: int) -> list[Again]:
    """What the ornaments of *note* add, *length* in ticks with its ties."""
    count = len(note.auxiliaries)
    if not count:
        return []
    return (trill if note.has(Sign.TRILL) else turn)(length, quarter, count)


def tremolo(marks: str, length: int, quarter: int) -> list[int]:
    """Ticks at which a note with a tremolo of so many strokes is plucked again."""
    exact = _stroke(marks, length, quarter)
    step = exact if exact * 4 >= quarter else _grid(length, quarter)
    if not step:
        return []
    last = max((length - 1) // exact * exact, 0)
    return sorted({*range(step, length, step), last} - {0})


def tied_tremolo(marks: str, length: int, quarter: int) -> list[int]:
    """The same of a note that is tied to the one before: its first stroke is what is heard."""
    first = _stroke(marks, length, quarter)
    return sorted({*tremolo(marks, length, quarter), *((first,) if first < length else ())})


def alternation(marks: str, length: int, quarter: int) -> tuple[list[int], list[int]]:
    """Ticks at which the first and the second of two alternating chords are plucked."""
    step = _grid(length, quarter)
    if not step:
        return [], []
    exact = _stroke(marks, length, quarter)
    one, other = set(range(0, length, 2 * step)), set(range(step, length, 2 * step))
    last = (length - 1) // exact
    for stroke in range(max(last - 1, 0), last + 1):
        (other if stroke % 2 else one).add(stroke * exact)
    return sorted(one), sorted(other)


def _stroke(marks: str, length: int, quarter: int) -> int:
    """Ticks from one stroke of a tremolo to the next."""
    strokes = int(marks) if marks.isdecimal() and marks != "0" else UNMEASURED_MARKS
    unit = quarter
    while unit > length > 0:
        unit //= 2
    return max(unit >> strokes, 1)


def _grid(length: int, quarter: int) -> int:
    return quarter // 4 if length > quarter else length // 4
