"""Best-first search over what groups by themselves get wrong together.

A node is a set of restrictions; its bound is the sum of the groups' optima under them. A node
whose groups agree on every shared note, and whose moves can all be placed, is a plan that
costs its bound: the first such node taken from the queue is optimal. Else the node is split
on what is wrong, so that no plan is lost:

* a note that groups treat differently: it takes the choice, or it does not;
* moves that no hand has time for: at least one of the strings must do without all options
  that were tried for it. Before splitting, the clash is priced: each string pays for using
  its options and the node is credited for all but one, which is a lower bound too, and tight
  where clashes are apart; so that many clashes add up instead of multiplying.
"""

from dataclasses import dataclass, field
from heapq import heappop, heappush

from arrange.levers.coupling import Allowed, Coupling, Extras
from arrange.levers.groups import NEVER, SCALE, Answer, Extra, Group
from arrange.levers.passes import Passes
from arrange.levers.problem import LeverProblem
from arrange.levers.schedule import Job, Option, Placer, jobs_of
from arrange.levers.timetable import Timetable

Clash = tuple[tuple[Job, tuple[Option, ...]], ...]


@dataclass(frozen=True, slots=True)
class Node:
    """Restrictions.

    Attributes:
        allowed: notes with the choices left to them.
        extras: surcharges on the moves of strings.
        credit: what the surcharges bring in at most, scaled, to be taken off the bound.
    """

    allowed: Allowed = field(default_factory=dict)
    extras: Extras = field(default_factory=dict)
    credit: int = 0


@dataclass(frozen=True, slots=True)
class Solved:
    """A group with its answer.

    Attributes:
        unusual: notes that do not take their first choice, with what they may stand for.
    """

    group: Group
    answer: Answer
    unusual: tuple[tuple[int, tuple[int, ...]], ...]
    jobs: tuple[Job, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """A plan in the making: choices, groups and where their moves lie."""

    choices: dict[int, int]
    solved: tuple[Solved, ...]
    placed: tuple[tuple[Job, Option], ...]


class Search:
    """The groups of one problem and the search over them."""

    def __init__(self, problem: LeverProblem, timetable: Timetable) -> None:
        self.problem = problem
        self.timetable = timetable
        self.coupling = Coupling(problem)
        self._known: dict[object, Solved | None] = {}
        self._moves = tuple(hand.move for hand in problem.hands)

    # Bounds

    def still_cost(self) -> int:
        """Return the scaled cost of all that is not planned."""
        coupling = self.coupling
        still = sum(
            coupling.still_cost(string) for string, bit in enumerate(coupling.still) if bit
        )
        return (coupling.base + still) * SCALE

    def solve_groups(self, node: Node) -> tuple[Solved, ...] | None:
        """Return every group's answer under the node's restrictions."""
        answers = []
        for strings in self.coupling.partition():
            solved = self._solved(strings, node.allowed, node.extras)
            if solved is None:
                return None
            answers.append(solved)
        return tuple(answers)

    def bound(self, node: Node) -> int | None:
        """Return the node's scaled lower bound, None where nothing satisfies it."""
        solved = self.solve_groups(node)
        return None if solved is None else self._sum(node, solved)

    def _sum(self, node: Node, solved: tuple[Solved, ...]) -> int:
        return self.still_cost() - node.credit + sum(one.answer.bound for one in solved)

    def _solved(self, strings: tuple[int, ...], allowed: Allowed, extras: Extras) -> Solved | None:
        concerned = self._concerned(strings, allowed)
        key = (
            strings,
            self.coupling.generation,
            tuple(sorted(concerned.items())),
            tuple(extras.get(string, ()) for string in strings),
        )
        if key not in self._known:
            group = self.coupling.group(strings, concerned, extras)
            answer = Passes(group, self.timetable).answer()
            self._known[key] = None if answer is None else self._read(group, answer)
        return self._known[key]

    def _concerned(self, strings: tuple[int, ...], allowed: Allowed) -> Allowed:
        notes = self.problem.notes
        return {
            note: choices
            for note, choices in allowed.items()
            if any(
                string in strings
                for choice in (0, *choices)
                for string, _ in notes[note].choices[choice].demands
            )
            or not set(strings).isdisjoint(self.coupling.anchors.get(note, ()))
        }

    def _read(self, group: Group, answer: Answer) -> Solved:
        unusual = tuple(
            (note.note, note.choices[pick].picks)
            for note, pick in zip(group.notes, answer.picks, strict=True)
            if note.choices[pick].picks != (0,)
        )
        return Solved(group, answer, unusual, tuple(jobs_of(group, answer, self.timetable)))

    # What is wrong with a node

    def agreed(self, solved: tuple[Solved, ...]) -> tuple[dict[int, int], list[int]]:
        """Return the choices that are not first ones, and the notes that are in dispute."""
        views: dict[int, list[tuple[int, ...]]] = {}
        for one in solved:
            for note, picks in one.unusual:
                views.setdefault(note, []).append(picks)
        choices = {}
        disputed = []
        for note, picks in views.items():
            choice = self._common(note, picks, solved)
            if choice is None or not self._is_free(note, choice, solved):
                disputed.append(note)
            elif choice:
                choices[note] = choice
        return choices, disputed

    def _common(
        self, note: int, views: list[tuple[int, ...]], solved: tuple[Solved, ...]
    ) -> int | None:
        common = set(views[0]).intersection(*views[1:])
        seeing = sum(any(one.note == note for one in each.group.notes) for each in solved)
        if seeing > len(views):
            common &= {0}
        return min(common, default=None)

    def _is_free(self, note: int, choice: int, solved: tuple[Solved, ...]) -> bool:
        """Return True where what *choice* asks of strings elsewhere is so already."""
        planned = {
            string
            for each in solved
            if any(one.note == note for one in each.group.notes)
            for string in each.group.strings
        }
        return all(
            string in planned or self.coupling.still[string] == (2 if position == "up" else 1)
            for string, position in self.problem.notes[note].choices[choice].demands
        )

    def place(self, solved: tuple[Solved, ...]) -> tuple[tuple[tuple[Job, Option], ...], Clash]:
        """Return the moves with their moments, or else what clashes."""
        jobs = [job for one in solved for job in one.jobs]
        placing = Placer(jobs, self._moves).place()
        if placing.clash:
            return (), placing.clash
        return tuple(zip(jobs, placing.options, strict=True)), ()

    # Splitting

    def children(self, node: Node, disputed: list[int], solved: tuple[Solved, ...]) -> list[Node]:
        """Split on a disputed note."""
        note = disputed[0]
        left = node.allowed.get(note) or tuple(range(len(self.problem.notes[note].choices)))
        wanted = [
            pick
            for one in solved
            for each, picks in one.unusual
            if each == note
            for pick in picks
            if pick in left
        ]
        choice = wanted[0] if wanted else left[0]
        rest = tuple(one for one in left if one != choice)
        with_it = Node({**node.allowed, note: (choice,)}, node.extras, node.credit)
        if not rest:
            return [with_it]
        return [with_it, Node({**node.allowed, note: rest}, node.extras, node.credit)]

    def merge(self, disputed: list[int], solved: tuple[Solved, ...]) -> bool:
        """Plan strings together that dispute a note; False where they would be too many."""
        merged = False
        for note in disputed:
            wanted = {
                string
                for one in solved
                for each, picks in one.unusual
                if each == note
                for pick in picks[:1]
                for string, _ in self.problem.notes[note].choices[pick].demands
            }
            owners = self.coupling.anchors.get(note, ())
            if len(owners) == 1:
                merged |= self.coupling.join((*owners, *sorted(wanted)))
            else:
                for string in sorted(wanted):
                    if self.coupling.still[string]:
                        merged |= self.coupling.join((string,))
        return merged

    def priced(self, node: Node, clash: Clash) -> Node | None:
        """Return the node with the clash priced, None where that does not raise its bound."""
        here = self.bound(node)
        if here is None:
            return None
        rises = []
        for job, options in clash:
            bound = self.bound(_surcharged(node, ((job, options),), NEVER, 0))
            if bound is not None:
                rises.append(bound - here)
        if not rises:
            return None
        price = min(rises) + 1
        if price < SCALE // 2:
            return None
        dearer = _surcharged(node, clash, price, price * (len(clash) - 1))
        bound = self.bound(dearer)
        return dearer if bound is not None and bound - here > SCALE // 2 else None

    def banned(self, node: Node, clash: Clash) -> list[Node]:
        """Split on who must do without."""
        return [_surcharged(node, (one,), NEVER, 0) for one in clash]


def _surcharged(node: Node, clash: Clash, price: int, credit: int) -> Node:
    extras = dict(node.extras)
    for job, options in clash:
        more: tuple[Extra, ...] = tuple(
            (job.raised, option.slot, option.hand, option.acts, price) for option in options
        )
        extras[job.string] = (*extras.get(job.string, ()), *more)
    return Node(node.allowed, extras, node.credit + credit)


class Frontier:
    """The queue of nodes, the lowest bound first, of equals the deepest."""

    def __init__(self) -> None:
        self._heap: list[tuple[int, int, Node]] = []
        self._count = 0

    def push(self, bound: int, node: Node) -> None:
        """Add *node*."""
        self._count += 1
        heappush(self._heap, (bound, -self._count, node))

    def pop(self) -> tuple[int, Node]:
        """Take the most promising node."""
        bound, _, node = heappop(self._heap)
        return bound, node

    def __bool__(self) -> bool:
        return bool(self._heap)

    def lowest(self) -> int:
        """Return the least bound that waits."""
        return self._heap[0][0]
