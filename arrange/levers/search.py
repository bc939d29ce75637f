"""What groups by themselves get right together, and what they get wrong."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from arrange.levers.board import Option
from arrange.levers.chain import Chain
from arrange.levers.coupling import Coupling
from arrange.levers.gathering import gathered
from arrange.levers.groups import SCALE, Answer, Group
from arrange.levers.nodes import Clash, Node
from arrange.levers.passes import Passes
from arrange.levers.problem import LeverProblem
from arrange.levers.schedule import Job, Placer, jobs_of
from arrange.levers.standing import standing
from arrange.levers.timetable import Timetable


@dataclass(frozen=True, slots=True)
class Solved:
    """A group with its answer.

    Attributes:
        unusual: notes that do not take their first choice, with what they may stand for.
        jobs: its moves; *notes*: its notes.
    """

    group: Group
    answer: Answer
    unusual: tuple[tuple[int, tuple[int, ...]], ...]
    jobs: tuple[Job, ...]
    notes: frozenset[int]


@dataclass(frozen=True, slots=True)
class Found:
    """A plan in the making: choices, groups and where their moves lie."""

    choices: dict[int, int]
    solved: tuple[Solved, ...]
    placed: tuple[tuple[Job, Option], ...]


class Groups:
    """The groups of one problem, solved under the restrictions of nodes.

    *most_states* is how many states a group's program may keep at a time.
    """

    def __init__(self, problem: LeverProblem, timetable: Timetable, most_states: int) -> None:
        self.problem = problem
        self.most_states = most_states
        self.timetable = timetable
        self.coupling = Coupling(problem, timetable.times)
        self.visited = 0
        self._solved: dict[int, tuple[Node, int, tuple[Solved, ...] | None]] = {}
        self._known: dict[object, Solved | None] = {}
        self.moves = tuple(hand.move for hand in problem.hands)

    # Bounds

    def strings_of(self, note: int, node: Node) -> frozenset[int]:
        """Return the strings whose groups may have to do with *note*."""
        choices = self.problem.notes[note].choices
        strings = {string for choice in choices for string, _ in choice.demands}
        strings.update(self.coupling.anchors_of(note))
        strings.update(string for _, string, _ in node.shifts.get(note, ()))
        return frozenset(strings)

    def still_cost(self) -> int:
        """Return the scaled cost of all that is not planned."""
        coupling = self.coupling
        still = sum(
            coupling.still_cost(string) for string, bit in enumerate(coupling.still) if bit
        )
        return (coupling.base + still) * SCALE

    def solve(self, node: Node) -> tuple[Solved, ...] | None:
        """Return every group's answer under the node's restrictions."""
        changes = self.coupling.changes
        known = self._solved.get(id(node))
        if known is not None and known[1] == changes:
            return known[2]
        parent = self._solved.get(id(node.parent)) if node.parent is not None else None
        if parent is not None and parent[1] == changes and parent[2] is not None:
            answers = [
                one
                if node.touched.isdisjoint(one.group.strings)
                else self.solved(one.group.strings, node)
                for one in parent[2]
            ]
        else:
            answers = [self.solved(strings, node) for strings in self.coupling.partition()]
        found = tuple(one for one in answers if one is not None)
        whole = found if len(found) == len(answers) else None
        self._solved[id(node)] = (node, changes, whole)
        return whole

    def bound(self, node: Node) -> int | None:
        """Return the node's scaled lower bound, None where nothing satisfies it."""
        solved = self.solve(node)
        return None if solved is None else self._sum(node, solved)

    def _sum(self, node: Node, solved: tuple[Solved, ...]) -> int:
        return self.still_cost() - node.credit + sum(one.answer.bound for one in solved)

    def solved(self, strings: tuple[int, ...], node: Node) -> Solved | None:
        """Return one group's answer under the node's restrictions."""
        shifts = {
            note: terms
            for note, terms in node.shifts.items()
            if any(string in strings for _, string, _ in terms)
        }
        allowed = {
            note: choices
            for note, choices in node.allowed.items()
            if note in shifts or self._concerns(strings, note, choices)
        }
        key = (
            strings,
            tuple(self.coupling.versions[string] for string in strings),
            tuple(sorted(allowed.items())),
            tuple(sorted(shifts.items())),
            tuple(node.extras.get(string, ()) for string in strings),
        )
        if key not in self._known:
            group = self.coupling.group(strings, allowed, node.extras, shifts)
            answer = self._answer(group)
            self._known[key] = None if answer is None else self._read(group, answer)
        return self._known[key]

    def _answer(self, group: Group) -> Answer | None:
        if not any(
            group.movable >> bit & 1 and self.timetable.levels(reach)
            for bit, reach in enumerate(group.reaches)
        ):
            return standing(group)
        if self.timetable.is_plain and all(len(note.times) == 1 for note in group.notes):
            chain = Chain(group, self.timetable, self.most_states)
            answer = chain.answer()
            self.visited += chain.visited
            return answer
        fewer = gathered(group, self.timetable.times, self.timetable.moves)
        passes = Passes(fewer.group, self.timetable, self.most_states)
        answer = passes.answer()
        self.visited += passes.visited
        return None if answer is None else replace(answer, picks=fewer.each(answer.picks))

    def _concerns(self, strings: tuple[int, ...], note: int, choices: tuple[int, ...]) -> bool:
        ways = self.problem.notes[note].choices
        return any(
            string in strings for choice in (0, *choices) for string, _ in ways[choice].demands
        ) or not set(strings).isdisjoint(self.coupling.anchors_of(note))

    def _read(self, group: Group, answer: Answer) -> Solved:
        unusual = tuple(
            (note.note, note.choices[pick].picks)
            for note, pick in zip(group.notes, answer.picks, strict=True)
            if note.choices[pick].picks != (0,)
        )
        jobs = tuple(jobs_of(group, answer, self.timetable))
        return Solved(group, answer, unusual, jobs, frozenset(note.note for note in group.notes))

    # What is wrong with a node

    def agreed(self, solved: tuple[Solved, ...]) -> tuple[dict[int, int], list[int]]:
        """Return the choices that are not first ones, and the notes that are in dispute."""
        views: dict[int, list[tuple[int, ...]]] = {}
        for one in solved:
            for note, picks in one.unusual:
                views.setdefault(note, []).append(picks)
        choices = {}
        disputed = []
        for note, seen in views.items():
            seeing = [one for one in solved if note in one.notes]
            common = set(seen[0]).intersection(*seen[1:])
            if len(seeing) > len(seen):
                common &= {0}
            choice = min(common, default=None)
            if choice is None or not self.is_free(note, choice, seeing):
                disputed.append(note)
            elif choice:
                choices[note] = choice
        return choices, disputed

    def is_free(self, note: int, choice: int, seeing: Iterable[Solved]) -> bool:
        """Return True where what *choice* asks of strings elsewhere is so already.

        *seeing* are the groups that plan the note.
        """
        planned = {string for one in seeing for string in one.group.strings}
        return all(
            string in planned or self.coupling.still[string] == (2 if position == "up" else 1)
            for string, position in self.problem.notes[note].choices[choice].demands
        )

    def place(self, solved: tuple[Solved, ...]) -> tuple[tuple[tuple[Job, Option], ...], Clash]:
        """Return the moves with their moments, or else what clashes."""
        jobs = [job for one in solved for job in one.jobs]
        placing = Placer(jobs, self.moves).place()
        if placing.clash:
            return (), placing.clash
        return tuple(zip(jobs, placing.options, strict=True)), ()
