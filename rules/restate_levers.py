"""Says how the levers stand at rehearsal marks, segnos and after double bars."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import AddWords, MarkValue
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Score
from arrange.score.own import line_id
from arrange.sources import COMMON_PRACTICE, Source
from arrange.study.cueing import WrittenCue, changes_of
from arrange.study.decided import NOTHING_DECIDED, Decided
from arrange.study.levering import plan_as_it_stands
from arrange.study.prices import PriceList
from arrange.study.restating import restarts
from arrange.study.terms import Terms
from arrange.units import Quarters


@dataclass(frozen=True, slots=True, kw_only=True)
class RestateLevers(Rule):
    """The state of the levers, where people restart.

    What it does:
        At a rehearsal mark, a segno and after a double bar, prints a line that says which
        strings stand otherwise than at the start of the piece.

    Why it helps:
        In a rehearsal nobody starts at the top: the player sets the harp for this place without
        adding up the cues before it.

    When it holds back:
        Where no lever is ever moved the setting at the top holds everywhere. A line of ours that
        stands there is not written twice.

    What it costs:
        EXACT: nothing sounds different.

    Sources:
        A line where people restart: common practice.
    """

    id: ClassVar[RuleId] = "restate-levers"
    stage: ClassVar[Stage] = Stage.CUES
    after: ClassVar[frozenset[RuleId]] = frozenset({"write-lever-cues"})
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE,)
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="a rehearsal mark gets the state of the levers",
            before="key=0 tempo=60 | F5h rh | F#5h rh | [rehearsal A] G5h rh",
            after=(
                "key=0 tempo=60 | F5h rh | F#5h rh | [rehearsal A] "
                '"Levers as at the start but high¶F sharp."#leverwright.state.1 G5h rh'
            ),
        ),
        Rewrites(
            title="so does the measure after a double bar; what is back is not named",
            before="key=0 tempo=60 | F5h rh | F#5h rh | F5h rh [double-bar] | G5h rh",
            after=(
                "key=0 tempo=60 | F5h rh | F#5h rh | F5h rh [double-bar] | "
                '"Levers as at the start."#leverwright.state.1 G5h rh'
            ),
        ),
        Keeps(
            title="without moves the setting at the top holds everywhere",
            score="key=0 tempo=60 | F5h rh | [rehearsal A] G5h rh",
            because="there is nothing to say again",
        ),
        Keeps(
            title="a line that stands there is not written twice",
            score=(
                "key=0 tempo=60 | F5h rh | F#5h rh | [rehearsal A] "
                '"Levers as at the start but high¶F sharp."#leverwright.state.1 G5h rh'
            ),
            because="it says the same",
        ),
    )

    prices: PriceList = PriceList()
    decided: Decided = NOTHING_DECIDED
    """What an editor has decided beforehand."""
    cue_changes: tuple[WrittenCue, ...] = ()
    """The cues that are written: without one of them the levers stand otherwise."""

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one line for each place where people restart."""
        serial = 0
        for plan in plan_as_it_stands(
            score, Terms(harp, player, self.prices, decided=self.decided)
        ):
            staff = plan.staves[0]
            for restart in restarts(score, plan, harp):
                serial += 1
                own = line_id("state", serial)
                measure = score.measure(staff.part, restart.index)
                if any(mark.own == own for mark in measure.marks):
                    continue
                place = MarkValue(restart.index, Quarters(0), staff.staff, restart.text)
                yield Change(
                    self.id,
                    Where(staff.part, restart.index, measure.number, Quarters(0), staff.staff),
                    "People restart here, so the page says again how the levers stand.",
                    Fidelity.EXACT,
                    (AddWords(staff.part, own, place, above=True),),
                    depends_on=changes_of(restart.moves, self.cue_changes),
                )
