"""A plan made cheaper group by group, where no proof is in reach.

One group at a time is planned anew, or two of them one after the other, all others left as they
are: their notes keep their choices, and their hands are not to be had while they move a lever.
What comes out cheaper stays; so it goes round until nothing changes. No bound is claimed for it.
"""

from collections.abc import Iterator

from arrange.levers.board import Option
from arrange.levers.groups import FAR, NEVER, Extra
from arrange.levers.nodes import Node
from arrange.levers.plans import plan_of
from arrange.levers.schedule import Job, Placer
from arrange.levers.search import Found, Groups

ROUNDS = 3
"""How often each group is planned anew at most (house judgement)."""

A_STEP = 20
"""What planning a group anew counts for at least, in states."""

Placed = tuple[tuple[Job, Option], ...]


def improved(groups: Groups, found: Found, until: int, *, in_pairs: bool) -> Found:
    """Return *found*, or a cheaper plan.

    Args:
        groups: the question.
        found: its best plan so far.
        until: no more is tried after so much effort.
        in_pairs: plan two groups at a time as well.
    """
    cost = plan_of(groups, found).cost
    for _ in range(ROUNDS):
        before = cost
        for steps in _steps(found, in_pairs=in_pairs):
            if groups.visited >= until:
                return found
            groups.visited += A_STEP
            other: Found | None = found
            for place, aside in steps:
                other = None if other is None else _anew(groups, other, place, aside)
            if other is not None and (now := plan_of(groups, other).cost) < cost:
                found, cost = other, now
        if cost == before:
            break
    return found


def _steps(found: Found, *, in_pairs: bool) -> list[tuple[tuple[int, int], ...]]:
    """What to plan anew: one group at a time; then one as if a second were not there, and the
    second around it. The dearest come first.
    """
    costs = [-one.answer.cost for one in found.solved]
    ranked = sorted(range(len(costs)), key=lambda place: (costs[place], place))
    pairs = [(one, other) for one in ranked for other in ranked if in_pairs and one != other]
    return [((place, -1),) for place in ranked] + [
        ((one, other), (other, -1)) for one, other in pairs
    ]


def _anew(groups: Groups, found: Found, place: int, aside: int) -> Found | None:
    """Return the plan with one group planned anew, None where it cannot be.

    *aside*: a group that it takes no heed of, -1 for none; its moves are gone then.
    """
    old = found.solved[place]
    strings = old.group.strings
    ignored = found.solved[aside].group.strings if aside >= 0 else ()
    others = tuple(
        (job, option)
        for job, option in found.placed
        if job.string not in strings and job.string not in ignored
    )
    node = Node(
        allowed=_settled(groups, found, place, aside),
        extras=dict.fromkeys(strings, tuple(_taken(groups, others))),
    )
    new = groups.solved(strings, node)
    if new is None or new.answer.cost >= FAR:
        return None
    solved = tuple(new if number == place else one for number, one in enumerate(found.solved))
    mine = old.notes - node.allowed.keys()
    choices = {note: choice for note, choice in found.choices.items() if note not in mine}
    for note, picks in new.unusual:
        seeing = [one for one in solved if note in one.notes]
        free = [pick for pick in picks if groups.is_free(note, pick, seeing)]
        if not free:
            return None
        if note not in node.allowed:
            choices[note] = free[0]
    placing = Placer(new.jobs, groups.moves).place()
    if placing.clash:
        return None
    return Found(choices, solved, (*others, *zip(new.jobs, placing.options, strict=True)))


def _settled(groups: Groups, found: Found, place: int, aside: int) -> dict[int, tuple[int, ...]]:
    """The notes of other groups that concern a group: they keep their choices."""
    elsewhere = {
        note
        for number, one in enumerate(found.solved)
        if number not in {place, aside}
        for note in one.notes
    }
    old = found.solved[place]
    notes = groups.problem.notes
    asking = {
        note
        for note, choice in found.choices.items()
        if any(string in old.group.strings for string, _ in notes[note].choices[choice].demands)
    }
    return {note: (found.choices.get(note, 0),) for note in (old.notes | asking) & elsewhere}


def _taken(groups: Groups, placed: Placed) -> Iterator[Extra]:
    """Yield a ban on each moment at which a hand moves another lever."""
    for _, option in placed:
        move = groups.moves[option.hand]
        for time in option.times:
            for _, slot, place in groups.timetable.between(time - move, time + move - 1):
                for raised in (0, 1):
                    yield raised, slot, option.hand, 1 << place, NEVER
