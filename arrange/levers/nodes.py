"""The nodes of the search: restrictions on a problem, and prices that tighten its bound."""

from dataclasses import dataclass, field, replace
from heapq import heappop, heappush, nsmallest

from arrange.levers.board import Option
from arrange.levers.coupling import Allowed, Extras, Shifts
from arrange.levers.groups import NEVER, Extra, whole
from arrange.levers.schedule import Job

Member = tuple[Job, tuple[Option, ...]]
"""A move of a string, and options of which it takes one."""

Clash = tuple[Member, ...]
"""Moves that cannot all take one of their options: one must do without."""


@dataclass(frozen=True, slots=True)
class Toll:
    """A clash with a price: each member pays it for taking one of its options.

    All but one at most will pay, so the node's bound may count on the rest only.
    """

    clash: Clash
    price: int

    @property
    def credit(self) -> int:
        """What comes in at most."""
        return self.price * (len(self.clash) - 1)


@dataclass(frozen=True, slots=True)
class Node:
    """Restrictions and prices.

    Attributes:
        allowed: notes with the choices left to them.
        banned: options that a string must do without.
        tolls: clashes that are priced.
        shifts: how prices of notes are shared out differently among groups.
        extras: what *banned* and *tolls* come to, by string.
        parent: the node that it came from; *touched*: the strings that it treats differently.
    """

    allowed: Allowed = field(default_factory=dict)
    banned: Clash = ()
    tolls: tuple[Toll, ...] = ()
    shifts: Shifts = field(default_factory=dict)
    extras: Extras = field(default_factory=dict)
    parent: "Node | None" = None
    touched: frozenset[int] = frozenset()

    @property
    def region(self) -> tuple[object, ...]:
        """What tells which plans the node allows: nodes alike in it allow the same."""
        bans = frozenset((job.string, job.raised, options) for job, options in self.banned)
        return frozenset(self.allowed.items()), bans

    @property
    def credit(self) -> int:
        """What the tolls bring in at most, scaled, to be taken off the bound."""
        return sum(toll.credit for toll in self.tolls)

    def allowing(self, note: int, choices: tuple[int, ...], strings: frozenset[int]) -> "Node":
        """Return the node with no more than *choices* left to *note*, which *strings* see."""
        return replace(self, allowed={**self.allowed, note: choices}, parent=self, touched=strings)

    def shifting(self, note: int, terms: tuple[tuple[int, int, int], ...]) -> "Node":
        """Return the node with the note's price shared out by *terms*."""
        touched = frozenset(string for _, string, _ in terms)
        return replace(self, shifts={**self.shifts, note: terms}, parent=self, touched=touched)

    def banning(self, member: Member) -> "Node":
        """Return the node in which a string must do without these options."""
        touched = frozenset((member[0].string,))
        banned = (*self.banned, member)
        return _with_extras(replace(self, banned=banned, parent=self, touched=touched))

    def charging(self, clash: Clash, price: int) -> "Node":
        """Return the node with a toll on *clash*."""
        tolls = (*self.tolls, Toll(clash, price))
        return _with_extras(replace(self, tolls=tolls, parent=self, touched=_strings(clash)))

    def without_toll(self, toll: Toll) -> "Node":
        """Return the node with one toll lifted."""
        left = tuple(one for one in self.tolls if one is not toll)
        touched = _strings(toll.clash)
        return _with_extras(replace(self, tolls=left, parent=self, touched=touched))


def _strings(clash: Clash) -> frozenset[int]:
    return frozenset(job.string for job, _ in clash)


def _with_extras(node: Node) -> Node:
    extras: dict[int, tuple[Extra, ...]] = {}
    due = [(member, NEVER) for member in node.banned]
    due += [(member, toll.price) for toll in node.tolls for member in toll.clash]
    for (job, options), price in due:
        more = tuple(
            (job.raised, option.slot, option.hand, option.acts, price) for option in options
        )
        extras[job.string] = (*extras.get(job.string, ()), *more)
    return replace(node, extras=extras)


class Frontier:
    """The queue of nodes, the lowest whole cost first, of equals the latest."""

    def __init__(self) -> None:
        self._heap: list[tuple[int, int, int, Node]] = []
        self._count = 0

    def push(self, bound: int, node: Node) -> None:
        """Add *node*."""
        self._count += 1
        heappush(self._heap, (whole(bound), -self._count, bound, node))

    def pop(self) -> tuple[int, Node]:
        """Take the most promising node."""
        _, _, bound, node = heappop(self._heap)
        return bound, node

    def some(self, count: int) -> list[Node]:
        """Return the most promising nodes, without taking them."""
        return [node for _, _, _, node in nsmallest(count, self._heap)]

    def __bool__(self) -> bool:
        """Return True while nodes wait."""
        return bool(self._heap)

    def lowest(self) -> int:
        """Return the least whole cost that waits, ``NEVER`` where none does."""
        return self._heap[0][0] if self._heap else NEVER
