"""How a node that is no plan yet is tightened or split, so that no plan is lost.

* A note that groups treat differently: where the choice that one of them wants costs the
  others something, they are paid for it by the one that wants it. Else the node is split:
  with the choice, and without.
* Moves that no hand has time for: at least one of the strings must do without all options
  that were tried for it. The clash is given a toll; else the node is split on who does without.
* Moves that fit but leave a toll unpaid: the toll is lifted, else the node is split on it.

Payments and tolls keep the sum of the groups' optima a lower bound and let many quarrels that
are far apart add up, where splitting alone would multiply them.
"""

from arrange.levers.board import Option
from arrange.levers.groups import NEVER, SCALE
from arrange.levers.nodes import Clash, Member, Node, Toll
from arrange.levers.schedule import Job
from arrange.levers.search import Found, Groups, Solved

GAIN = SCALE // 2
"""What counts as a rise of a bound."""


def explored(
    groups: Groups, node: Node, *, is_hasty: bool = False
) -> tuple[Found | None, list[Node]]:
    """Return the plan that *node* stands for, if any, and the nodes that replace it.

    In haste, no bound is tightened: the node is only split.
    """
    solved = groups.solve(node)
    if solved is None:
        return None, []
    choices, disputed = groups.agreed(solved)
    placed, clash = groups.place(solved)
    if clash and not is_hasty:
        dearer = _charged(groups, node, clash)
        if dearer is not None:
            return None, [dearer]
    if disputed:
        return None, _settled(groups, node, disputed[0], solved)
    if clash:
        return None, [node.banning(member) for member in clash]
    unpaid = next((toll for toll in node.tolls if not _is_paid(toll, placed)), None)
    return Found(choices, solved, placed), _lifted(groups, node, unpaid) if unpaid else []


def _charged(groups: Groups, node: Node, clash: Clash) -> Node | None:
    """Return the node with a toll on *clash*, None where that does not raise its bound."""
    here = groups.bound(node)
    if here is None or not _is_sure(groups, clash):
        return None
    bounds = [groups.bound(node.banning(member)) for member in clash]
    price = min((bound for bound in bounds if bound is not None), default=NEVER) - here - 1
    if not GAIN < price < NEVER // 2:
        return None
    dearer = node.charging(clash, price)
    bound = groups.bound(dearer)
    return dearer if bound is not None and bound - here > GAIN else None


def _is_sure(groups: Groups, clash: Clash) -> bool:
    """Return True where tolls can come in from all members but one at most.

    A string might use two of its options, moving back between them, and pay twice; that is
    no harm where the hands have no time for more moves than that anyhow.
    """
    if all(job.is_single(options) for job, options in clash):
        return True
    moments = sorted({(one.hand, one.times[0]) for _, options in clash for one in options})
    room = 0
    last = (-1, 0)
    for hand, time in moments:
        if hand != last[0] or time - last[1] >= groups.problem.hands[hand].move:
            room += 1
            last = (hand, time)
    return room < len(clash)


def _is_paid(toll: Toll, placed: tuple[tuple[Job, Option], ...]) -> bool:
    """Return True where all members but one take one of their options."""
    paying = sum(_takes(member, placed) for member in toll.clash)
    return paying >= len(toll.clash) - 1


def _takes(member: Member, placed: tuple[tuple[Job, Option], ...]) -> bool:
    mover, options = member
    return any(
        job.string == mover.string
        and job.raised == mover.raised
        and any(
            (one.slot, one.hand) == (option.slot, option.hand)
            and one.acts & option.acts == one.acts
            for one in options
        )
        for job, option in placed
    )


def _lifted(groups: Groups, node: Node, toll: Toll) -> list[Node]:
    free = node.without_toll(toll)
    here, there = groups.bound(node), groups.bound(free)
    if here is not None and there is not None and there - here > GAIN:
        return [free]
    return [free.banning(member) for member in toll.clash]


def _settled(groups: Groups, node: Node, note: int, solved: tuple[Solved, ...]) -> list[Node]:
    """Return what becomes of a node whose groups disagree about *note*.

    Where the choice that one of them wants costs the others something, they are paid
    for it by the one that wants it; where this does not raise the bound, the node is
    split: with the choice, and without.
    """
    left = node.allowed.get(note) or tuple(range(len(groups.problem.notes[note].choices)))
    choice = _wanted(note, left, solved)
    _wake(groups, note, choice)
    strings = groups.strings_of(note, node)
    with_it = node.allowing(note, (choice,), strings)
    rest = tuple(one for one in left if one != choice)
    without = [node.allowing(note, rest, strings)] if rest else []
    here, there = groups.bound(node), groups.bound(with_it)
    if here is None or there is None:
        return without
    if there - here > GAIN:
        paid = _paid(groups, node, with_it, note, choice)
        bound = groups.bound(paid)
        if bound is not None and bound - here > GAIN:
            return [paid]
        if _merged(groups, note, choice):
            return [node]
    return [with_it, *without]


def _merged(groups: Groups, note: int, choice: int) -> bool:
    """Plan all strings together that the choice concerns, if they are few."""
    owners = groups.coupling.anchors_of(note)
    wanted = [string for string, _ in groups.problem.notes[note].choices[choice].demands]
    return len(owners) > 0 and groups.coupling.join((*owners, *wanted))


def _wanted(note: int, left: tuple[int, ...], solved: tuple[Solved, ...]) -> int:
    for one in solved:
        for each, picks in one.unusual:
            if each == note:
                for pick in picks:
                    if pick in left:
                        return pick
    return left[0]


def _wake(groups: Groups, note: int, choice: int) -> None:
    """Plan the still strings that *choice* needs."""
    for string, position in groups.problem.notes[note].choices[choice].demands:
        if groups.coupling.still[string] not in {0, 2 if position == "up" else 1}:
            groups.coupling.join((string,))


def _paid(groups: Groups, node: Node, with_it: Node, note: int, choice: int) -> Node:
    terms = list(node.shifts.get(note, ()))
    due = 0
    payer = -1
    for strings in groups.coupling.partition():
        before, after = groups.solved(strings, node), groups.solved(strings, with_it)
        if before is None or after is None:
            continue
        loss = after.answer.bound - before.answer.bound
        if loss > GAIN:
            terms.append((choice, strings[0], 1 - loss))
            due += loss - 1
        elif payer < 0 and any(each == note and choice in picks for each, picks in before.unusual):
            payer = strings[0]
    if payer < 0:
        return node
    terms.append((choice, payer, due))
    return node.shifting(note, tuple(terms))
