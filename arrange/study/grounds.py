"""What does not change with the key: when strings are plucked, where levers can be moved.

Most rules change words or pitches only; then what was worked out last serves again.
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from operator import attrgetter

from arrange.hands.player import Player
from arrange.hands.windows import Grasp, Windows, grasps
from arrange.harp.harp import Position
from arrange.levers.problem import Slot, SlotTime
from arrange.score.model import EventId, HandName, Score, Sign, StaffHand
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


@lru_cache(maxsize=8)
def _ground(
    score: Score,
    staves: tuple[StaffHand, ...],
    player: Player,
    swept: tuple[SweptStrings, ...],
    prices: PriceList,
) -> Ground:
    printed = plucks(score, staves)
    asked = (staves, player, swept, prices)
    shape = (asked, _shape(score, staves), _struck(score, printed))
    for known, basis in _lately:
        if known == shape:
            same = PrintedPlucks.of(printed)
            visiting = (
                basis.visiting
                if same == basis.printed
                else Visiting(basis.strikes, printed, same.note_of)
            )
            return replace(basis, score=score, plucks=printed, printed=same, visiting=visiting)
    basis = _worked_out(score, asked, printed)
    _lately.append((shape, basis))
    return basis


_Asked = tuple[tuple[StaffHand, ...], Player, tuple[SweptStrings, ...], PriceList]
"""What is asked of a score: harp, player, glissandi, prices."""

_lately: deque[tuple[tuple[object, ...], Ground]] = deque(maxlen=4)
"""What was worked out last: where only pitches have changed, it serves again."""


def _shape(score: Score, staves: tuple[StaffHand, ...]) -> tuple[object, ...]:
    """All of the score that tells times and places, beside its plucks."""
    parts = [score.by_part[part] for part in dict.fromkeys(staff.part for staff in staves)]
    return (
        score.performed,
        score.tempo,
        tuple(tuple(m.length for m in part.measures) for part in score.parts),
        tuple((m.index, m.meter) for m in parts[0].measures),
        tuple((m.index, r.offset) for part in parts for m in part.measures for r in m.rests),
    )


_when = attrgetter(
    "note", "index", "offset", "hand", "kind", "length", "is_damped", "end_index", "end_offset"
)


def _struck(score: Score, printed: tuple[Pluck, ...]) -> list[tuple[object, ...]]:
    """All of the plucks but what they sound."""
    notes, aside = score.notes_by_id, frozenset(score.left_open)
    return [
        (*_when(p), notes[p.note].has(Sign.ARPEGGIATE), aside.isdisjoint(p.tied)) for p in printed
    ]


def _worked_out(score: Score, asked: _Asked, printed: tuple[Pluck, ...]) -> Ground:
    staves, player, swept, prices = asked
    clock = Clock(score)
    struck = strikes(printed, clock)
    held = grasps(score, printed, struck)
    for sweep in swept:
        for hand in HandName if sweep.is_damped else (sweep.hand,):
            held[hand].extend(Grasp(begin, end, 1) for begin, end in sweep.times)
    windows = Windows(player, held)
    places, slots = _slots(_places(score, staves, printed), clock, windows, prices)
    same = PrintedPlucks.of(printed)
    return Ground(
        score,
        staves,
        clock,
        printed,
        struck,
        places,
        slots,
        windows.hands,
        same,
        Visiting(struck, printed, same.note_of),
    )


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


def _places(
    score: Score, staves: tuple[StaffHand, ...], printed: tuple[Pluck, ...]
) -> list[tuple[Place, bool]]:
    """Every beat, onset and rest of the harp's staves, and whether it is a beat.

    Rests count, so that a place stays when the only note that stood there is left out.
    """
    onsets: dict[int, set[Quarters]] = {}
    for pluck in printed:
        onsets.setdefault(pluck.index, set()).add(pluck.offset)
    for part in dict.fromkeys(staff.part for staff in staves):
        for measure in score.by_part[part].measures:
            onsets.setdefault(measure.index, set()).update(r.offset for r in measure.rests)
    found: list[tuple[Place, bool]] = []
    for measure in score.by_part[staves[0].part].measures:
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
