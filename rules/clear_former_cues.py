"""Takes out the cues and lines of an earlier conversion before new ones are planned."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import MarkValue, RemoveMark
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import MarkKind, Score
from arrange.sources import HOUSE_JUDGEMENT, Source


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearFormerCues(Rule):
    """An earlier result's own marks go when it is converted anew.

    What it does:
        Removes the directions that this toolkit wrote into an earlier result: cues, opening
        lines, open-point marks.

    Why it helps:
        A result can be converted for another harp, or again after it was edited by hand,
        without two sets of cues.

    When it holds back:
        Everybody else's words stay, even where they name a lever.

    What it costs:
        EXACT: nothing sounds different.

    Sources:
        House judgement.
    """

    id: ClassVar[RuleId] = "clear-former-cues"
    stage: ClassVar[Stage] = Stage.CLEAN
    sources: ClassVar[tuple[Source, ...]] = (HOUSE_JUDGEMENT,)
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="a cue of an earlier conversion goes",
            before='F5h "high F sharp"#leverwright.cue.1.F5.up.left.0.2.all rh | F#5h rh',
            after="F5h rh | F#5h rh",
        ),
        Rewrites(
            title="so do the lines at the top and the marks of open points",
            before=(
                '"Tuning: E-flat. Set levers for C major (E, A, B up)."#leverwright.setting '
                '"? C7"#leverwright.open.1.C7 C7q G6q E6h'
            ),
            after="C7q G6q E6h",
        ),
        Keeps(
            title="words about a lever that somebody else wrote stay",
            score='F5h "high F sharp" rh | F#5h rh',
            because="they carry no id of ours",
        ),
        Keeps(
            title="a dynamic stays",
            score="[mf] F5h rh",
            because="it is no cue",
        ),
    )

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each direction of ours."""
        del harp, player
        for part in score.parts:
            for measure in part.measures:
                for mark in measure.marks:
                    if mark.kind is MarkKind.OWN:
                        yield Change(
                            self.id,
                            Where.of_mark(score, mark),
                            "The levers are planned anew, so the earlier cue goes.",
                            Fidelity.EXACT,
                            (RemoveMark(mark.id, MarkValue.of(mark)),),
                        )
