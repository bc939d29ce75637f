"""The plucks of a harp as printed, and their strikes in performed time.

A tied group is one pluck; equal pitches struck together are one pluck; cue notes are silent.
What a measure repeat, a tremolo or an ornament stands for is plucked too. The strings that a
glissando sweeps are not among them; every note that is printed for it and sounds is.
"""

from collections.abc import Iterable, Iterator
from copy import copy
from dataclasses import dataclass, replace
from enum import StrEnum
from operator import attrgetter, itemgetter

from arrange.memory import remembered
from arrange.pitch import Pitch
from arrange.quick import quickly_made
from arrange.score.chains import Chain, Line
from arrange.score.harp_chains import HarpChains, chains_of
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


@remembered
def plucks(score: Score, harp: tuple[StaffHand, ...]) -> tuple[Pluck, ...]:
    """Return the printed plucks of one harp, by place, graces first, low to high.

    Equal pitches struck together are one; what is left open is apart from what is not.
    """
    left_open = frozenset(score.left_open)
    found: list[tuple[_Key, Pluck]] = []
    for links, plucked in _by_string(chains_of(score, harp)):
        found += plucked or _plucked_together(links, left_open)
    found.sort(key=itemgetter(0))
    return tuple([pluck for _, pluck in found])


_Link = tuple[Line, Chain]
"""A chain, and the line that it is on."""


@remembered
def _by_string(
    parts: HarpChains,
) -> list[tuple[list[_Link], list[tuple[_Key, Pluck]]]]:
    """The chains that one moment asks of each string, and the plucks where it is one alone."""
    struck: dict[tuple[int, int, bool, int], list[_Link]] = {}
    for line, chains in parts:
        for chain in chains:
            note = chain.note
            key = chain.index, chain.start - line.starts[chain.index], note.is_grace
            struck.setdefault((*key, note.pitch.midi), []).append((line, chain))
    return [(links, _plucked(*links[0]) if len(links) == 1 else []) for links in struck.values()]


def _plucked_together(
    links: list[_Link], left_open: frozenset[EventId]
) -> list[tuple[_Key, Pluck]]:
    longest: dict[bool, _Link] = {}
    for link in links:
        is_open = link[1].note.id in left_open
        longest[is_open] = _longer(longest[is_open], link) if is_open in longest else link
    return [one for link in longest.values() for one in _plucked(*link)]


def _longer(one: _Link, other: _Link) -> _Link:
    """Two notes on one pitch are one pluck: the longer, which names the other's notes."""
    length, other_length = one[1].end - one[1].start, other[1].end - other[1].start
    longer, shorter = (one, other) if length >= other_length else (other, one)
    kept, dropped = copy(longer[1]), shorter[1]
    kept.doubles = (*kept.doubles, *dropped.tied, *dropped.doubles)
    kept.is_damped = kept.is_damped and dropped.is_damped
    move = longer[0].starts[kept.index] - shorter[0].starts[dropped.index]
    again = ((at + move, pitch, aux, hand) for at, pitch, aux, hand in dropped.again)
    kept.again = [*kept.again, *again]
    return longer[0], kept


def _plucked(line: Line, chain: Chain) -> list[tuple[_Key, Pluck]]:
    """The plucks of a chain: its own, then what is plucked again within it."""
    note = chain.note
    ticks = chain.start - line.starts[chain.index]
    first = _first(line, chain, ticks)
    key = chain.index, ticks, not note.is_grace, note.pitch.midi, note.pitch.line
    return [(key, first), *_again(line, chain, first)] if chain.again else [(key, first)]


def _first(line: Line, chain: Chain, offset: int) -> Pluck:
    """The pluck that begins a chain; *offset* in ticks."""
    note = chain.note
    end_index, end_offset = line.end_place(chain)
    return Pluck(
        note.id,
        tuple(chain.tied),
        note.id.part,
        chain.index,
        line.quarters(offset),
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


def _again(line: Line, chain: Chain, first: Pluck) -> Iterator[tuple[_Key, Pluck]]:
    """What is plucked again within a chain."""
    is_main = not chain.note.is_grace
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
        yield (index, at - line.starts[index], is_main, pitch.midi, pitch.line), again


def strikes(plucks: tuple[Pluck, ...], clock: Clock) -> tuple[Strike, ...]:
    """Return the performed plucks, by time.

    A string that is struck again while a longer note of its pitch lasts rings to the end of that.
    """
    by_measure: dict[int, list[tuple[int, Pluck]]] = {}
    for number, pluck in enumerate(plucks):
        by_measure.setdefault(pluck.index, []).append((number, pluck))
    offsets = {index: _offsets(row) for index, row in by_measure.items()}
    last = _last_of_runs(clock)
    found: list[Strike] = []
    for place, (index, _, _) in enumerate(clock.passes):
        row = by_measure.get(index)
        if row is None:
            continue
        times = {key: clock.time(place, offset) for key, offset in offsets[index].items()}
        for number, pluck in row:
            if pluck.end_index == index:
                end = times[id(pluck.end_offset)]
            elif place + pluck.end_index - index <= last[place]:
                end = clock.time(place + pluck.end_index - index, pluck.end_offset)
            else:
                end = _end_of_run(clock, last[place])
            found.append(Strike(number, place, times[id(pluck.offset)], end))
    found.sort(key=attrgetter("time"))
    _let_ring(found, plucks)
    return tuple(found)


def _let_ring(strikes: list[Strike], plucks: tuple[Pluck, ...]) -> None:
    """Let strings ring to the end of a longer note of their pitch that they are struck in."""
    heights = [pluck.pitch.midi for pluck in plucks]
    lasting: dict[int, Microseconds] = {}
    for number, strike in enumerate(strikes):
        midi = heights[strike.pluck]
        end = lasting.get(midi, 0)
        if end > strike.end:
            strikes[number] = replace(strike, end=end)
        else:
            lasting[midi] = strike.end


def _offsets(row: list[tuple[int, Pluck]]) -> dict[int, Quarters]:
    """Where plucks of one measure begin and end in it; equal offsets are mostly one object."""
    found: dict[int, Quarters] = {}
    for _, pluck in row:
        found[id(pluck.offset)] = pluck.offset
        if pluck.end_index == pluck.index:
            found[id(pluck.end_offset)] = pluck.end_offset
    return found


@remembered
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


def all_locked_until(
    strike: Strike, pluck: Pluck, locks: Iterable[Microseconds | None]
) -> tuple[Microseconds, ...]:
    """Return the same for several *locks*; 0 where one is None."""
    time, end = strike.time, strike.end
    if pluck.is_damped:
        return tuple([0 if lock is None else end for lock in locks])
    return tuple(
        [0 if lock is None else min(max(end, time + lock), time + lock + lock) for lock in locks]
    )
