"""The plucks of a harp as printed, and their strikes in performed time.

A tied group is one pluck; equal pitches struck together are one pluck; cue notes are silent.
What a measure repeat, a tremolo or an ornament stands for is plucked too. The strings that a
glissando sweeps are not among them; every note that is printed for it and sounds is.
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache
from operator import attrgetter, itemgetter

from arrange.pitch import Pitch
from arrange.quick import quickly_made
from arrange.score.chains import Chain, Line, PartChains, ticks_in_a_quarter
from arrange.score.model import EventId, HandName, Score, StaffHand
from arrange.score.performed import Clock, clock_of
from arrange.units import Microseconds, Quarters


class PluckKind(StrEnum):
    """Why a string is plucked."""

    PLAIN = "plain"
    GRACE = "grace"
    AUXILIARY = "auxiliary"
    REPEAT = "repeat"


@quickly_made
@dataclass(frozen=True, slots=True)
class Pluck:
    """One printed pluck.

    Attributes:
        note: the note that is plucked; for an auxiliary or a repeat, the note that asks for it.
        tied: the whole chain of ties, *note* first.
        part: the part; *index*, *offset*: the printed place. In a measure that repeats another
            the place is where it is played, the note that of the measure that it stands for.
        pitch: sounding.
        staff: as printed; *hand*: the staff's, unless the score gives the note to the other.
        kind: why.
        length: written, ties included; of a repeat, what is left of it.
        is_damped: the note is marked to be damped.
        end_index, end_offset: where the written length ends.
        doubles: notes of the same pitch that this pluck plays as well.
    """

    note: EventId
    tied: tuple[EventId, ...]
    part: str
    index: int
    offset: Quarters
    pitch: Pitch
    staff: int
    hand: HandName
    kind: PluckKind
    length: Quarters
    is_damped: bool
    end_index: int
    end_offset: Quarters
    doubles: tuple[EventId, ...] = ()


@quickly_made
@dataclass(frozen=True, slots=True)
class Strike:
    """One performed pluck.

    Attributes:
        pluck: place among the plucks; *pass_index*: place among the performed measures.
        time: when; *end*: the written end in performed time. Where the order of play jumps
            before it, it ends with the last measure that follows without a jump.
    """

    pluck: int
    pass_index: int
    time: Microseconds
    end: Microseconds


_Key = tuple[int, int, bool, int, int]
"""Measure, ticks in it, not a grace, pitch, letter's place: the order of plucks."""


@lru_cache(maxsize=4)
def plucks(score: Score, harp: tuple[StaffHand, ...]) -> tuple[Pluck, ...]:
    """Return the printed plucks of one harp, by place, graces first, low to high.

    Equal pitches struck together are one; what is left open is apart from what is not.
    """
    parts = [score.by_part[name] for name in dict.fromkeys(staff.part for staff in harp)]
    quarter = ticks_in_a_quarter(parts)
    reassigned = dict(score.reassigned)
    left_open = frozenset(score.left_open)
    struck: dict[tuple[int, int, bool, int, bool], tuple[Line, Chain]] = {}
    for part in parts:
        hands = {staff.staff: staff.hand for staff in harp if staff.part == part.id}
        line = Line(part, quarter)
        for chain in PartChains(line, hands, reassigned).read():
            note = chain.note
            offset = chain.start - line.starts[chain.index]
            is_open = note.id in left_open
            key = (chain.index, offset, not note.is_grace, note.pitch.midi, is_open)
            other = struck.get(key)
            struck[key] = (line, chain) if other is None else _longer(other, (line, chain))
    found: list[tuple[_Key, Pluck]] = []
    for key, (line, chain) in struck.items():
        found.extend(_printed(line, chain, key))
    found.sort(key=itemgetter(0))
    return tuple(pluck for _, pluck in found)


def _longer(one: tuple[Line, Chain], other: tuple[Line, Chain]) -> tuple[Line, Chain]:
    """Two notes on one pitch are one pluck: the longer, which names the other's notes."""
    length, other_length = one[1].end - one[1].start, other[1].end - other[1].start
    longer, shorter = (one, other) if length >= other_length else (other, one)
    kept, dropped = longer[1], shorter[1]
    kept.doubles = (*kept.doubles, *dropped.tied, *dropped.doubles)
    kept.is_damped = kept.is_damped and dropped.is_damped
    move = longer[0].starts[kept.index] - shorter[0].starts[dropped.index]
    kept.again.extend((at + move, pitch, aux, hand) for at, pitch, aux, hand in dropped.again)
    return longer


def _printed(
    line: Line, chain: Chain, key: tuple[int, int, bool, int, bool]
) -> list[tuple[_Key, Pluck]]:
    """The plucks of one chain: its own, then what is plucked again within it."""
    note = chain.note
    end_index, end_offset = line.end_place(chain)
    first = Pluck(
        note.id,
        tuple(chain.tied),
        note.id.part,
        chain.index,
        line.quarters(key[1]),
        note.pitch,
        note.staff,
        chain.hand,
        PluckKind.GRACE if note.is_grace else PluckKind.PLAIN,
        line.quarters(chain.end - chain.start),
        chain.is_damped,
        end_index,
        end_offset,
        chain.doubles,
    )
    made = [((*key[:4], note.pitch.line), first)]
    for at, pitch, is_auxiliary, hand in chain.again:
        index, offset = line.place(at)
        again = replace(
            first,
            index=index,
            offset=offset,
            pitch=pitch,
            hand=hand,
            kind=PluckKind.AUXILIARY if is_auxiliary else PluckKind.REPEAT,
            length=line.quarters(chain.end - at),
        )
        ticks = at - line.starts[index]
        made.append(((index, ticks, not note.is_grace, pitch.midi, pitch.line), again))
    return made


def strikes(plucks: tuple[Pluck, ...], clock: Clock) -> tuple[Strike, ...]:
    """Return the performed plucks, by time.

    A string that is struck again while a longer note of its pitch lasts rings to the end of that.
    """
    by_measure: dict[int, list[tuple[int, Pluck]]] = {}
    for number, pluck in enumerate(plucks):
        by_measure.setdefault(pluck.index, []).append((number, pluck))
    last = _last_of_runs(clock)
    found: list[Strike] = []
    for place, (index, _, _) in enumerate(clock.passes):
        offset, time = None, 0
        for number, pluck in by_measure.get(index, ()):
            if pluck.offset is not offset:
                offset = pluck.offset
                time = clock.time(place, offset)
            there = place + pluck.end_index - index
            if there <= last[place]:
                end = clock.time(there, pluck.end_offset)
            else:
                end = _end_of_run(clock, last[place])
            found.append(Strike(number, place, time, end))
    found.sort(key=attrgetter("time"))
    lasting: dict[int, Microseconds] = {}
    for number, strike in enumerate(found):
        midi = plucks[strike.pluck].pitch.midi
        end = lasting.get(midi, 0)
        if end > strike.end:
            found[number] = replace(strike, end=end)
        else:
            lasting[midi] = strike.end
    return tuple(found)


@lru_cache(maxsize=4)
def struck(score: Score, harp: tuple[StaffHand, ...]) -> tuple[Strike, ...]:
    """The performed plucks of one harp, by time."""
    return strikes(plucks(score, harp), clock_of(score))


def _last_of_runs(clock: Clock) -> list[int]:
    """For each pass, the last one that is reached from it without a jump."""
    order = [index for index, _, _ in clock.passes]
    last = list(range(len(order)))
    for place in range(len(order) - 2, -1, -1):
        if order[place + 1] == order[place] + 1:
            last[place] = last[place + 1]
    return last


def _end_of_run(clock: Clock, last: int) -> Microseconds:
    """When the pass *last* is over."""
    return clock.passes[last + 1][2] if last + 1 < len(clock.passes) else clock.end


def locked_until(strike: Strike, pluck: Pluck, lock: Microseconds) -> Microseconds:
    """Return until when the string must be left alone, *lock* being that of its octave."""
    if pluck.is_damped:
        return strike.end
    return min(max(strike.end, strike.time + lock), strike.time + 2 * lock)
