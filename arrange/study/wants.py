"""The lever moves that a plan does without, or hurries, for want of a free hand."""

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from operator import attrgetter

from arrange.hands.windows import AFTER_THE_PIECE, BEFORE_THE_PIECE
from arrange.harp.harp import Position
from arrange.levers.problem import Choice, Cost, LeverProblem, Move, Plan
from arrange.quick import quickly_made
from arrange.score.model import EventId
from arrange.score.plucks import Pluck, PluckKind
from arrange.study.levering import LeverPlan
from arrange.units import Microseconds

NoteKey = tuple[EventId, int]
"""What the planner takes for one note: its id, and the key number of an auxiliary (else 0)."""


@dataclass(frozen=True, slots=True)
class Want:
    """A move that somebody's hand should make.

    Attributes:
        string: its place on the harp; *position*: where its lever is to stand.
        opens, closes: from when, and until when, the string may be touched.
    """

    string: int
    position: Position
    opens: Microseconds
    closes: Microseconds


@dataclass(frozen=True, slots=True)
class Trouble:
    """Notes of one string that are lost for want of a hand, or a move that is hurried.

    Attributes:
        wants: the moves that would save them; one for a hurried move.
        lost: what each lost note costs; empty for a hurried move.
        cost: what the trouble costs as it stands; *moves*: what its moves would cost.
    """

    wants: tuple[Want, ...]
    lost: tuple[tuple[NoteKey, Cost], ...]
    cost: Cost
    moves: Cost


@quickly_made
@dataclass(frozen=True, slots=True)
class _Touch:
    """A string is plucked, or would be if the note were not lost; *loss* is 0 where it is."""

    time: Microseconds
    until: Microseconds
    position: Position
    key: NoteKey | None
    loss: Cost


def note_key(pluck: Pluck) -> NoteKey:
    """What the planner takes the pluck's note for."""
    return pluck.note, pluck.pitch.midi if pluck.kind is PluckKind.AUXILIARY else 0


def lost_notes(plucks: Iterable[Pluck], problem: LeverProblem, plan: Plan) -> dict[NoteKey, Cost]:
    """What each note costs that a string could give, had the lever been moved in time."""
    found = {}
    for note, key in enumerate(dict.fromkeys(map(note_key, plucks))):
        loss = _loss(problem.notes[note].choices, plan.choices[note])
        if loss:
            found[key] = loss
    return found


def hurried_moves(problem: LeverProblem, plan: Plan) -> Iterator[tuple[Move, Microseconds]]:
    """Each move with little time to spare, and when it first ends."""
    for move in plan.moves:
        if move.slack < problem.prices.hurried_below:
            yield move, problem.slots[move.slot].times[move.acts[0]].time


def _loss(choices: tuple[Choice, ...], taken: int) -> Cost:
    """What is lost by the choice; 0 where the note is played, or where no string gives it."""
    if choices[taken].label == "home":
        return 0
    homes = [choice.cost for choice in choices if _is_home(choice)]
    return max(choices[taken].cost - min(homes), 0) if homes else 0


def _is_home(choice: Choice) -> bool:
    return choice.label == "home" and len(choice.demands) == 1


def troubles(levers: LeverPlan) -> tuple[Trouble, ...]:
    """Return what the plan loses for want of a hand, the notes first, low strings first."""
    problem, plan = levers.problem, levers.plan
    plucks = [treatment.pluck for treatment in levers.treatments]
    keys = list(dict.fromkeys(map(note_key, plucks)))
    lost = lost_notes(plucks, problem, plan)
    hurried = list(hurried_moves(problem, plan))
    if not lost and not hurried:
        return ()
    concerned = {move.string for move, _ in hurried}
    for note, key in enumerate(keys):
        if key in lost:
            homes = (choice for choice in problem.notes[note].choices if _is_home(choice))
            concerned.update(string for choice in homes for string, _ in choice.demands)
    touched = _touches(problem, plan, keys, concerned)
    found: dict[tuple[object, ...], Trouble] = {}
    for string, touches in sorted(touched.items()):
        if not problem.strings[string].movable:
            continue
        for trouble in _lost_runs(string, touches, problem):
            found.setdefault((string, trouble.lost), trouble)
    for move, time in hurried:
        want = _hurried_want(move, time, touched.get(move.string, []))
        found[move.string, time] = Trouble((want,), (), problem.prices.hurried, 0)
    return tuple(found.values())


def _touches(
    problem: LeverProblem, plan: Plan, keys: list[NoteKey], concerned: set[int]
) -> dict[int, list[_Touch]]:
    """What the strings *concerned* are asked for, by time; a lost note asks each that has it."""
    asked = [_asked(problem, plan, note, keys, concerned) for note in range(len(problem.notes))]
    found: dict[int, list[_Touch]] = {}
    for visit in problem.visits:
        for place, string, position, key, loss in asked[visit.note]:
            touch = _Touch(visit.time, visit.locks[place], position, key, loss)
            found.setdefault(string, []).append(touch)
    return found


def _asked(
    problem: LeverProblem, plan: Plan, note: int, keys: list[NoteKey], concerned: set[int]
) -> list[tuple[int, int, Position, NoteKey | None, Cost]]:
    """What a note asks of the strings *concerned*: choice, string, position, what is lost."""
    choices, taken = problem.notes[note].choices, plan.choices[note]
    loss = _loss(choices, taken) if note < len(keys) else 0
    key = keys[note] if loss else None
    return [
        (place, string, position, key, loss)
        for place, choice in enumerate(choices)
        if place == taken or (loss and _is_home(choice))
        for string, position in choice.demands
        if string in concerned
    ]


def _lost_runs(string: int, touches: list[_Touch], problem: LeverProblem) -> Iterator[Trouble]:
    """Each row of lost notes that ask for one position, with the moves around it."""
    before: _Touch | None = None
    run: list[_Touch] = []
    for place, touch in enumerate(touches):
        if touch.loss and (not run or touch.position is run[0].position):
            run.append(touch)
            continue
        if run:
            after = next((t for t in touches[place:] if not t.loss), None)
            yield _lost_run(string, run, (before, after), problem)
        run = [touch] if touch.loss else []
        before = before if touch.loss else touch
    if run:
        yield _lost_run(string, run, (before, None), problem)


def _lost_run(
    string: int,
    run: list[_Touch],
    around: tuple[_Touch | None, _Touch | None],
    problem: LeverProblem,
) -> Trouble:
    before, after = around
    first, last = run[0], run[-1]
    wants = []
    if before is not None and before.position is not first.position:
        wants.append(Want(string, first.position, before.until, first.time))
    if after is not None and after.position is not first.position:
        wants.append(Want(string, after.position, last.until, after.time))
    is_moved_now = before is not None and after is not None and before.position != after.position
    lost = {touch.key: touch.loss for touch in run if touch.key is not None}
    return Trouble(
        tuple(wants),
        tuple(lost.items()),
        sum(lost.values()),
        problem.prices.move * (len(wants) - is_moved_now),
    )


def _hurried_want(move: Move, time: Microseconds, touches: list[_Touch]) -> Want:
    played = [touch for touch in touches if not touch.loss]
    place = bisect_left(played, time, key=attrgetter("time"))
    opens = played[place - 1].until if place else BEFORE_THE_PIECE
    closes = played[place].time if place < len(played) else time + AFTER_THE_PIECE
    return Want(move.string, move.position, opens, closes)
