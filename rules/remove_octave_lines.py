"""Takes away octave lines that no longer save ledger lines."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import MarkValue, RemoveMark
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Score
from arrange.sources import COMMON_PRACTICE, Source
from arrange.study.octave_marks import octave_lines


@dataclass(frozen=True, slots=True, kw_only=True)
class RemoveOctaveLines(Rule):
    """Octave lines over notes that are read as easily without.

    What it does:
        Removes an octave line where its notes, folded or moved to another key, need no more
        ledger lines without it.

    Why it helps:
        A player finds the string where the note stands; an octave line must be added in the
        head.

    When it holds back:
        A line that saves ledger lines stays, and so does one whose end is not written.

    What it costs:
        EXACT: nothing sounds different.

    Sources:
        Octave lines are for notes that need many ledger lines: common practice.
    """

    id: ClassVar[RuleId] = "remove-octave-lines"
    stage: ClassVar[Stage] = Stage.CUES
    after: ClassVar[frozenset[RuleId]] = frozenset({"set-levers"})
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE,)
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="a line above notes that stand on the staff goes",
            before="[8va] C5q E5q G5q E5q [8va-end] | C5w",
            after="C5q E5q G5q E5q | C5w",
        ),
        Rewrites(
            title="so does a line below bass notes that came up",
            before="RH: E5w\nLH: [8vb] C3h G2h [8vb-end]",
            after="RH: E5w\nLH: C3h G2h",
        ),
        Keeps(
            title="a line that saves ledger lines stays",
            score="[8va] C6q E6q G6q E6q [8va-end] | C5w",
            because="the notes would stand high above the staff",
        ),
        Keeps(
            title="a line whose end is not written stays",
            score="[8va] C5q E5q G5q E5q | C5w",
            because="nobody can say how far it goes",
        ),
    )

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each line that saves nothing."""
        del harp, player
        for name in score.harp_parts:
            for line in octave_lines(score.by_part[name]):
                if line.is_needless:
                    yield Change(
                        self.id,
                        Where.of_mark(score, line.marks[0]),
                        "The notes under this octave line are read as easily where they sound.",
                        Fidelity.EXACT,
                        tuple(RemoveMark(mark.id, MarkValue.of(mark)) for mark in line.marks),
                    )
