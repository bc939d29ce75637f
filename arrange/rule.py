"""What a rule is: it looks at a score, a harp and a player, and proposes changes."""

from abc import ABC, abstractmethod
from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from typing import ClassVar

from arrange.changes import Change, OpenPoint, Refusal, RuleId
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.score.model import Finding, Score
from arrange.sources import Source

Proposal = Change | OpenPoint | Finding | Refusal
"""A change, something left to the editor, something noticed, or a choice that cannot be had."""


class Stage(IntEnum):
    """Where in the order of work a rule belongs."""

    CLEAN = 1
    LEVEL = 2
    FIT = 3
    GRIP = 4
    SWEEP = 5
    LEVERS = 6
    CUES = 7


@dataclass(frozen=True, slots=True)
class Rewrites:
    """An example: *before* becomes *after* (the examples' own short notation)."""

    title: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Keeps:
    """A near miss that the rule leaves alone, and why."""

    title: str
    score: str
    because: str


class Rule(ABC):
    """One way to change a score; a frozen dataclass whose fields are its options.

    A rule that is *on request* runs only in a rule book that names it, or where the user asks.

    ``propose`` is pure and deterministic and sees the score as it stood when the rule began.
    """

    id: ClassVar[RuleId]
    stage: ClassVar[Stage]
    after: ClassVar[frozenset[RuleId]] = frozenset()
    sources: ClassVar[tuple[Source, ...]] = ()
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = ()
    on_request: ClassVar[bool] = False

    @abstractmethod
    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield proposals in score order."""
