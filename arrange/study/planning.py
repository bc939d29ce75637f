"""From a score to a lever problem, and from its solution back to places in the score."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import chain
from operator import attrgetter

from arrange.hands.player import LeverHand, Player
from arrange.hands.windows import MARGIN, REACH_OCTAVES, reach_class
from arrange.harp.harp import Harp, Position
from arrange.levers.problem import (
    Choice,
    Hand,
    LeverProblem,
    LeverString,
    Plan,
    Prices,
    PrintedNote,
    Visit,
)
from arrange.pitch import Pitch
from arrange.score.model import HandName, StaffHand
from arrange.score.performed import Clock
from arrange.study.decided import ASIDE, HeldLever, HeldStretch
from arrange.study.grounds import Ground, Place, SweptStrings, first_passes, ground
from arrange.study.keysignature import wanted_positions
from arrange.study.octaves import settled_octaves
from arrange.study.prices import PriceList
from arrange.study.printed_plucks import (
    ChoicesOf,
    longest_locks,
    printed_notes,
)
from arrange.study.terms import Terms
from arrange.units import Microseconds, Quarters, microseconds

__all__ = [
    "Ground",
    "Place",
    "PlannedMove",
    "Question",
    "SweptStrings",
    "first_passes",
    "ground",
    "held_by",
    "lever_hands",
    "lever_prices",
    "lever_strings",
    "passes_needed",
    "pitch_of",
    "planned_moves",
    "question",
    "question_of",
    "swept_until",
]


@dataclass(frozen=True, slots=True)
class Question:
    """What the planner is asked, and which of its notes each pluck, sweep and held lever is."""

    problem: LeverProblem
    note_of: tuple[int, ...]
    sweeps: tuple[tuple[int, ...], ...]
    held: tuple[int, ...] = ()


def question(
    basis: Ground, terms: Terms, choices_of: ChoicesOf, swept: Sequence[SweptStrings] = ()
) -> Question:
    """Put the question to the planner; the passes through a printed note are one note."""
    return question_of(basis, terms, printed_notes(basis.printed, choices_of), swept)


def question_of(
    basis: Ground,
    terms: Terms,
    notes: list[PrintedNote],
    swept: Sequence[SweptStrings] = (),
) -> Question:
    """Put the question to the planner, the printed notes with their choices being at hand."""
    harp, player, prices = terms.harp, terms.player, terms.prices
    asked_of_sweeps = [_sweep_notes(sweep, prices) for sweep in swept]
    printed_count = len(notes)
    held = _held_levers(basis, terms)
    pinned = [note for note, _ in held]
    notes = settled_octaves([*notes, *chain.from_iterable(asked_of_sweeps), *pinned], terms)
    locks = [player.ring_lock(s.octave) + MARGIN for s in harp.strings]
    visits = basis.visiting.visits(longest_locks(notes, locks))
    sweeps = []
    following = printed_count
    for sweep, asked in zip(swept, asked_of_sweeps, strict=True):
        sweeps.append(tuple(range(following, following + len(asked))))
        for place, note in enumerate(asked, following):
            visits.extend(_sweep_visits(sweep, note, place, locks))
        following += len(asked)
    for place, (_, held_visits) in enumerate(held, following):
        visits.extend(replace(visit, note=place) for visit in held_visits)
    if swept or held:
        visits.sort(key=attrgetter("time", "note"))
    problem = LeverProblem(
        strings=lever_strings(terms),
        notes=tuple(notes),
        visits=tuple(visits),
        slots=basis.slots,
        hands=lever_hands(basis, terms),
        prices=lever_prices(terms),
    )
    asked_of_levers = tuple(range(following, following + len(held)))
    return Question(problem, basis.printed.note_of, tuple(sweeps), asked_of_levers)


def lever_hands(basis: Ground, terms: Terms) -> tuple[Hand, ...]:
    """The hands that move levers, as the planner sees them."""
    return tuple(_hand(name, terms.player, terms.prices) for name in basis.hands)


def lever_prices(terms: Terms) -> Prices:
    """The prices that the planner goes by."""
    return Prices(terms.prices.move, terms.prices.hurried)


def _held_levers(basis: Ground, terms: Terms) -> list[tuple[PrintedNote, list[Visit]]]:
    """The levers that an editor pins: a note of its own that asks for each, and when.

    The notes of the visits are not known yet.
    """
    clock = basis.clock
    found = []
    for lever in held_by(basis.staves, terms):
        if isinstance(lever, HeldLever):
            times = [clock.time(p, lever.offset) for p in clock.occurrences(lever.index)]
            visits = [Visit(0, time, (time, 0)) for time in times]
        else:
            visits = [_standing_still(lever, clock, terms.player)]
        demand = (_string(lever.string, terms.harp), lever.position)
        asked = Choice((demand,), 0), Choice((), ASIDE, "open")
        found.append((PrintedNote(asked), visits))
    return found


def _standing_still(stretch: HeldStretch, clock: Clock, player: Player) -> Visit:
    """A lever is left alone for a stretch, at whose end a move may be over."""
    begin = clock.time(stretch.begin, stretch.begin_offset)
    is_last = stretch.end >= len(clock.passes)
    if is_last:
        return Visit(0, begin, (clock.end, 0))
    moves = [h.move_s for h in (player.left, player.right) if h is not None]
    before = microseconds(max(moves)) if moves else 0
    end = clock.time(stretch.end, stretch.end_offset) - before
    return Visit(0, begin, (max(begin, end), 0))


def _string(name: str, harp: Harp) -> int:
    string = harp.string_named(name)
    if string is None:  # pragma: no cover - decisions are held to the harp before
        raise AssertionError(name)
    return string


def held_by(staves: tuple[StaffHand, ...], terms: Terms) -> tuple[HeldLever | HeldStretch, ...]:
    """The levers of one harp that an editor pins, and how they stand where nothing changes."""
    parts = {staff.part for staff in staves}
    decided = terms.decided
    every: tuple[HeldLever | HeldStretch, ...] = (*decided.levers, *decided.stretches)
    return tuple(lever for lever in every if lever.part in parts)


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


def lever_strings(terms: Terms) -> tuple[LeverString, ...]:
    """The strings as the planner sees them, in the key of *terms*."""
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
