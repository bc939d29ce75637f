"""What does not change with the key: when strings are plucked, where levers can be moved.

Most rules change words or pitches only; then what was worked out last serves again.
"""

from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, replace
from operator import attrgetter

from arrange.hands.player import Player
from arrange.hands.windows import Grasp, Windows, grasps
from arrange.harp.harp import Position
from arrange.levers.problem import Slot, SlotTime
from arrange.memory import remembered, row_of_latest
from arrange.score.model import EventId, HandName, Score, StaffHand
from arrange.score.performed import Clock
from arrange.score.plucks import Pluck, Strike, plucks, strikes
from arrange.study.likeness import as_played
from arrange.study.prices import PriceList
from arrange.study.printed_plucks import PrintedPlucks, Visiting
from arrange.units import Microseconds, Quarters


@dataclass(frozen=True, slots=True)
class Place:
    """A printed place in a harp's staves."""

    index: int
    offset: Quarters


@dataclass(frozen=True, slots=True)
class SweptStrings:
    """A glissando as the levers see it.

    Attributes:
        start: the note that it leaves.
        demands: string place and position that its tones ask for; foreign strings aside.
        times: for each pass, when it begins and ends.
        hand: that sweeps; *order*: the strings as it passes them.
        is_possible: False where no setting of the levers gives its tones: it stays open.
        is_damped: the other hand holds strings meanwhile.
    """

    start: EventId
    demands: tuple[tuple[int, Position], ...]
    times: tuple[tuple[Microseconds, Microseconds], ...]
    hand: HandName
    order: tuple[int, ...] = ()
    is_possible: bool = True
    is_damped: bool = False


@dataclass(frozen=True, slots=True)
class Ground:
    """What does not change with the key: plucks, their times, places for moves, free hands."""

    score: Score
    staves: tuple[StaffHand, ...]
    clock: Clock
    plucks: tuple[Pluck, ...]
    strikes: tuple[Strike, ...]
    places: tuple[Place, ...]
    slots: tuple[Slot, ...]
    hands: tuple[HandName, ...]
    printed: PrintedPlucks
    visiting: Visiting


def ground(
    score: Score,
    staves: tuple[StaffHand, ...],
    player: Player,
    swept: Sequence[SweptStrings] = (),
    prices: PriceList = PriceList(),
) -> Ground:
    """Work out plucks, times, slots and free hands of one harp."""
    return _ground(as_played(score), staves, player, tuple(swept), prices)


@remembered
def _ground(
    score: Score,
    staves: tuple[StaffHand, ...],
    player: Player,
    swept: tuple[SweptStrings, ...],
    prices: PriceList,
) -> Ground:
    playing = _playing(score, staves)
    held = grasps(score, playing.plucks, playing.strikes)
    for sweep in swept:
        for hand in HandName if sweep.is_damped else (sweep.hand,):
            held[hand].extend(Grasp(begin, end, 1) for begin, end in sweep.times)
    windows = Windows(player, held)
    spare = _with_time_to_spare(windows, playing.clock)
    candidates = _places(score, staves, playing.plucks, spare)
    places, slots = _slots(candidates, playing.clock, windows, prices)
    return Ground(
        score,
        staves,
        playing.clock,
        playing.plucks,
        playing.strikes,
        places,
        slots,
        windows.hands,
        playing.printed,
        playing.visiting,
    )


@dataclass(frozen=True, slots=True)
class _Playing:
    """When the strings are plucked."""

    clock: Clock
    plucks: tuple[Pluck, ...]
    strikes: tuple[Strike, ...]
    printed: PrintedPlucks
    visiting: Visiting


def _playing(score: Score, staves: tuple[StaffHand, ...]) -> _Playing:
    """Work out when strings are plucked, or take it from one of the latest scores."""
    made = plucks(score, staves)
    order = _order(score)
    clock: Clock | None = None
    for known_order, known in _lately:
        if known_order == order:
            clock = known.clock
            if _are_struck_alike(made, known.plucks):
                return replace(known, plucks=made)
    clock = clock or Clock(score)
    struck = strikes(made, clock)
    printed = PrintedPlucks.of(made)
    playing = _Playing(clock, made, struck, printed, Visiting(struck, made, printed.note_of))
    _lately.append((order, playing))
    return playing


_lately: deque[tuple[tuple[object, ...], _Playing]] = row_of_latest(4)
"""What was worked out last: where all pitches have moved together, if at all, it serves again."""


def _order(score: Score) -> tuple[object, ...]:
    """All of the score that tells times, beside its plucks."""
    lengths = tuple(tuple(m.length for m in part.measures) for part in score.parts)
    return score.performed, score.tempo, lengths


def _are_struck_alike(plucks: tuple[Pluck, ...], others: tuple[Pluck, ...]) -> bool:
    """Whether plucks are those of the same notes at the same times, all moved by one interval."""
    if not plucks or len(plucks) != len(others):
        return plucks == others
    apart = plucks[0].pitch.midi - others[0].pitch.midi
    return all(
        one is other or (_when(one) == _when(other) and one.pitch.midi - other.pitch.midi == apart)
        for one, other in zip(plucks, others, strict=True)
    )


_when = attrgetter("note", "index", "offset", "kind", "is_damped", "end_index", "end_offset")


def first_passes(basis: Ground) -> Ground:
    """The same, each measure played once only: enough to weigh keys, and much less to plan."""
    passes = basis.clock.passes
    if all(occurrence == 1 for _, occurrence, _ in passes):
        return basis
    struck = tuple(s for s in basis.strikes if passes[s.pass_index][1] == 1)
    return replace(
        basis,
        strikes=struck,
        slots=tuple(replace(slot, times=slot.times[:1]) for slot in basis.slots),
        visiting=Visiting(struck, basis.plucks, basis.printed.note_of),
    )


def _with_time_to_spare(windows: Windows, clock: Clock) -> frozenset[int]:
    """The measures in which a hand is ever free for a move, or that end when it is."""
    begins = [begin for _, _, begin in clock.passes]
    found: set[int] = set()
    for opens, closes in windows.spans():
        first = max(bisect_left(begins, opens) - 1, 0)
        played = clock.passes[first : bisect_right(begins, closes)]
        found.update(index for index, _, _ in played)
    return frozenset(found)


def _places(
    score: Score,
    staves: tuple[StaffHand, ...],
    printed: tuple[Pluck, ...],
    measures: frozenset[int],
) -> list[tuple[Place, bool]]:
    """Every beat, onset and rest of the harp's staves there, and whether it is a beat.

    Rests count, so that a place stays when the only note that stood there is left out.
    """
    onsets: dict[int, set[Quarters]] = {index: set() for index in measures}
    for pluck in printed:
        if pluck.index in onsets:
            onsets[pluck.index].add(pluck.offset)
    for part in dict.fromkeys(staff.part for staff in staves):
        for measure in score.by_part[part].measures:
            if measure.index in onsets:
                onsets[measure.index].update(rest.offset for rest in measure.rests)
    found: list[tuple[Place, bool]] = []
    for measure in score.by_part[staves[0].part].measures:
        if measure.index not in onsets:
            continue
        beat = measure.meter.beat
        beats = {beat * i for i in range(int(measure.length / beat) + 1)}
        beats = {b for b in beats if b < measure.length}
        found.extend(
            (Place(measure.index, offset), offset in beats)
            for offset in sorted(beats | onsets[measure.index])
        )
    return found


def _slots(
    candidates: list[tuple[Place, bool]], clock: Clock, windows: Windows, prices: PriceList
) -> tuple[tuple[Place, ...], tuple[Slot, ...]]:
    if not windows.hands:
        return (), ()
    times = [
        [clock.time(p, place.offset) for p in clock.occurrences(place.index)]
        for place, _ in candidates
    ]
    slack = windows.slacks(t for row in times for t in row)
    places, slots = [], []
    for (place, is_beat), row in zip(candidates, times, strict=True):
        moments = tuple(SlotTime(t, slack[t]) for t in row)
        if any(left >= 0 for m in moments for hand in m.slack for left in hand):
            places.append(place)
            slots.append(Slot(moments, 0 if is_beat else prices.off_beat))
    return tuple(places), tuple(slots)
