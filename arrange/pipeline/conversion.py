"""What a conversion is asked for, and what came of it."""

from dataclasses import dataclass
from fractions import Fraction

from arrange.changes import ChangeLog, Fidelity
from arrange.check import Instructions, Violation
from arrange.decisions import Decisions, Settlement
from arrange.harp.harp import Harp
from arrange.pitch import Interval
from arrange.rulebook import RuleBook
from arrange.score.container import Source
from arrange.score.model import Score
from arrange.study.keys import KeyWeight
from arrange.study.levering import LeverPlan
from arrange.study.terms import Terms


@dataclass(frozen=True, slots=True)
class Settings:
    """What a conversion is asked for.

    Attributes:
        harp, book: which harp, which rule book.
        key: ``auto``, ``keep`` or an interval as text.
        parts: parts that are the harp's, by id or name; empty: found by name.
        transpose_all: every part moves with the harp.
        tempo: quarters a minute in place of the score's own.
        limit: the furthest that a change may go without being asked.
        decisions: what an editor has decided; None where nothing is.
        melody: staff and voice of the melody where the user names them; staves are counted from
            the harp's top, an empty voice is the whole staff.
        source_sha256: the hash of the source's file, where its bytes are not those converted.
    """

    harp: Harp
    book: RuleBook
    key: str = "auto"
    parts: tuple[str, ...] = ()
    transpose_all: bool = False
    tempo: Fraction | None = None
    limit: Fidelity = Fidelity.LOSSY
    decisions: Decisions | None = None
    melody: tuple[tuple[int, str], ...] = ()
    source_sha256: str = ""

    @property
    def terms(self) -> Terms:
        """Harp, hands and prices."""
        return Terms(self.harp, self.book.player, self.book.prices)


@dataclass(frozen=True)
class Conversion:
    """What came of it.

    Attributes:
        result: the bytes of the new file; the source's own where nothing was changed.
        score: the result, read afresh; *before*: the source as it was read.
        interval, transposed_parts: what was transposed; *ranking*: the keys that were weighed.
        log: every proposal and what became of it.
        instructions: the levers as the page says them.
        plans: the planner's answer for each harp; none where nothing runs.
        violations: what cannot be played after all; *unlogged*: differences without an entry.
        is_again: the source was our own result, still good: its notes and levers are as they were.
        settlement: what became of the editor's decisions; None where there are none.
    """

    source: Source
    settings: Settings
    result: bytes
    score: Score
    before: Score
    interval: Interval
    transposed_parts: tuple[str, ...]
    ranking: tuple[KeyWeight, ...]
    log: ChangeLog
    instructions: Instructions
    plans: tuple[LeverPlan, ...]
    violations: tuple[Violation, ...]
    unlogged: tuple[str, ...]
    is_again: bool = False
    settlement: Settlement | None = None

    @property
    def is_sound(self) -> bool:
        """Its own check and audit pass."""
        return not self.violations and not self.unlogged
