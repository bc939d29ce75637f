"""From a score to a lever problem, and from its solution back to places in the score."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import chain
from operator import attrgetter

from arrange.hands.player import LeverHand, Player
from arrange.hands.windows import MARGIN, REACH_OCTAVES, Grasp, Windows, grasps, reach_class
from arrange.harp.harp import Harp, Position
from arrange.levers.problem import (
    Choice,
    Hand,
    LeverProblem,
    LeverString,
    Plan,
    Prices,
    PrintedNote,
    Slot,
    SlotTime,
    Visit,
)
from arrange.pitch import Pitch
from arrange.score.model import EventId, HandName, Score, StaffHand
from arrange.score.performed import Clock
from arrange.score.plucks import Pluck, Strike, plucks, strikes
from arrange.study.keysignature import wanted_positions
from arrange.study.likeness import as_played
from arrange.study.octaves import settled_octaves
from arrange.study.prices import PriceList
from arrange.study.printed_plucks import (
    ChoicesOf,
    PrintedPlucks,
    longest_locks,
    printed_notes,
    visits_of,
)
from arrange.study.terms import Terms
from arrange.units import Microseconds, Quarters, microseconds


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
    """

    start: EventId
    demands: tuple[tuple[int, Position], ...]
    times: tuple[tuple[Microseconds, Microseconds], ...]
    hand: HandName
    order: tuple[int, ...] = ()
    is_possible: bool = True


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
    clock = Clock(score)
    printed = plucks(score, staves)
    struck = strikes(printed, clock)
    held = grasps(score, printed, struck)
    for sweep in swept:
        held[sweep.hand].extend(Grasp(begin, end, 1) for begin, end in sweep.times)
    windows = Windows(player, held)
    places, slots = _slots(_places(score, staves, printed), clock, windows, prices)
    return Ground(
        score,
        staves,
        clock,
        printed,
        struck,
        places,
        slots,
        windows.hands,
        PrintedPlucks.of(printed),
    )


def first_passes(basis: Ground) -> Ground:
    """The same, each measure played once only: enough to weigh keys, and much less to plan."""
    passes = basis.clock.passes
    return replace(
        basis,
        strikes=tuple(s for s in basis.strikes if passes[s.pass_index][1] == 1),
        slots=tuple(replace(slot, times=slot.times[:1]) for slot in basis.slots),
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
    times = [
        [clock.time(p, place.offset) for p in clock.occurrences(place.index)]
        for place, _ in candidates
    ]
    slack = windows.slacks(t for row in times for t in row)
    places, slots = [], []
    for (place, is_beat), row in zip(candidates, times, strict=True):
        moments = tuple(SlotTime(t, slack[t]) for t in row if t in slack)
        if any(left >= 0 for m in moments for hand in m.slack for left in hand):
            places.append(place)
            slots.append(Slot(moments, 0 if is_beat else prices.off_beat))
    return tuple(places), tuple(slots)


@dataclass(frozen=True, slots=True)
class Question:
    """What the planner is asked, and which of its notes each pluck and each sweep is."""

    problem: LeverProblem
    note_of: tuple[int, ...]
    sweeps: tuple[tuple[int, ...], ...]


def question(
    basis: Ground, terms: Terms, choices_of: ChoicesOf, swept: Sequence[SweptStrings] = ()
) -> Question:
    """Put the question to the planner; the passes through a printed note are one note."""
    harp, player, prices = terms.harp, terms.player, terms.prices
    printed = basis.printed
    notes = printed_notes(printed, choices_of)
    asked_of_sweeps = [_sweep_notes(sweep, prices) for sweep in swept]
    printed_count = len(notes)
    notes = settled_octaves([*notes, *chain.from_iterable(asked_of_sweeps)], terms)
    locks = [player.ring_lock(s.octave) + MARGIN for s in harp.strings]
    visits = visits_of(basis.strikes, basis.plucks, printed.note_of, longest_locks(notes, locks))
    sweeps = []
    following = printed_count
    for sweep, asked in zip(swept, asked_of_sweeps, strict=True):
        sweeps.append(tuple(range(following, following + len(asked))))
        for place, note in enumerate(asked, following):
            visits.extend(_sweep_visits(sweep, note, place, locks))
        following += len(asked)
    visits.sort(key=attrgetter("time", "note"))
    problem = LeverProblem(
        strings=_strings(terms),
        notes=tuple(notes),
        visits=tuple(visits),
        slots=basis.slots,
        hands=tuple(_hand(name, player, prices) for name in basis.hands),
        prices=Prices(prices.move, prices.hurried),
    )
    return Question(problem, printed.note_of, tuple(sweeps))


def _sweep_notes(sweep: SweptStrings, prices: PriceList) -> list[PrintedNote]:
    """One note a swept string, so that the strings stay independent of each other."""
    left_open = Choice((), prices.open, "open")
    if not sweep.is_possible:
        return [PrintedNote((left_open,))]
    return [PrintedNote((Choice((demand,), 0), left_open)) for demand in sweep.demands]


def _sweep_visits(
    sweep: SweptStrings, asked: PrintedNote, note: int, locks: list[Microseconds]
) -> list[Visit]:
    return [
        Visit(
            note,
            span[0],
            tuple(
                max(
                    (swept_until(sweep.order, s, span, locks[s]) for s, _ in choice.demands),
                    default=0,
                )
                for choice in asked.choices
            ),
        )
        for span in sweep.times
    ]


def swept_until(
    order: Sequence[int], string: int, span: tuple[Microseconds, Microseconds], lock: Microseconds
) -> Microseconds:
    """Until when a string of a glissando must be left alone; *order* is passed evenly."""
    begin, end = span
    if string not in order:
        return end + lock
    time = begin + (end - begin) * order.index(string) // max(len(order) - 1, 1)
    return min(max(end, time + lock), time + 2 * lock) + MARGIN


def _strings(terms: Terms) -> tuple[LeverString, ...]:
    harp, player, prices = terms.harp, terms.player, terms.prices
    lowest = harp.string_named(player.moves_lowest) if player.moves_lowest else 0
    wanted = wanted_positions(harp, terms.fifths)
    return tuple(
        LeverString(
            name=string.name,
            open_midi=string.open.midi,
            raised_midi=None if string.raised is None else string.raised.midi,
            movable=i >= (lowest or 0),
            reach=reach_class(string.octave),
            preset_cost_up=prices.preset if wanted[i] is Position.DOWN else 0,
            preset_cost_down=prices.preset if wanted[i] is Position.UP else 0,
        )
        for i, string in enumerate(harp.strings)
    )


def _hand(name: HandName, player: Player, prices: PriceList) -> Hand:
    numbers = _numbers(name, player)
    octaves = range(player.right_from_octave, 12) if name is HandName.RIGHT else range(12)
    return Hand(
        name=name.value,
        move=microseconds(numbers.move_s),
        price=prices.right_hand if name is HandName.RIGHT else 0,
        reaches=frozenset(i for i, octave in enumerate(REACH_OCTAVES) if octave in octaves),
    )


def _numbers(name: HandName, player: Player) -> LeverHand:
    numbers = player.left if name is HandName.LEFT else player.right
    if numbers is None:  # pragma: no cover - Windows names only hands that have numbers
        raise AssertionError(name)
    return numbers


@dataclass(frozen=True, slots=True)
class PlannedMove:
    """A lever move at its printed place.

    Attributes:
        part: the part that its cue is printed in.
        passes: the passes that it acts on, from 1; empty for all.
        slack: time left in its window.
    """

    part: str
    string: str
    position: Position
    index: int
    offset: Quarters
    hand: HandName
    slack: Microseconds
    passes: tuple[int, ...] = ()


def planned_moves(basis: Ground, problem: LeverProblem, plan: Plan) -> tuple[PlannedMove, ...]:
    """Return the plan's moves at their printed places, in score order."""
    part = next((s.part for s in basis.staves if s.hand is HandName.LEFT), basis.staves[0].part)
    passes = passes_needed(problem, plan)
    return tuple(
        PlannedMove(
            part=part,
            string=problem.strings[move.string].name,
            position=move.position,
            index=basis.places[move.slot].index,
            offset=basis.places[move.slot].offset,
            hand=HandName(problem.hands[move.hand].name),
            slack=move.slack,
            passes=limit,
        )
        for move, limit in zip(plan.moves, passes, strict=True)
    )


def passes_needed(problem: LeverProblem, plan: Plan) -> tuple[tuple[int, ...], ...]:
    """For each move, the passes to print: none where acting on every pass does no harm.

    A move with nothing to do the first time says so too: a cue for what stands already puzzles.
    """
    events: dict[int, list[tuple[Microseconds, int, int, bool]]] = {}
    for i, move in enumerate(plan.moves):
        for k, moment in enumerate(problem.slots[move.slot].times):
            events.setdefault(move.string, []).append((moment.time, i, k, k in move.acts))
    limited: set[int] = set()
    start = dict(plan.start)
    for string, rows in events.items():
        standing = start[string]
        for _, i, _, acts in sorted(rows):
            if acts:
                standing = plan.moves[i].position
            elif standing is not plan.moves[i].position:
                limited.add(i)
    return tuple(
        tuple(k + 1 for k in move.acts) if i in limited or 0 not in move.acts else ()
        for i, move in enumerate(plan.moves)
    )


def pitch_of(harp: Harp, demand: tuple[int, Position]) -> Pitch:
    """The pitch of a string in a position, spelled as the string."""
    pitch = harp.strings[demand[0]].pitch(demand[1])
    assert pitch is not None, demand  # noqa: S101 - demands name levers that exist
    return pitch
