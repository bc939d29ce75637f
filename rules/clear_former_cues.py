"""Takes out the cues and lines of an earlier conversion before new ones are planned."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import MarkValue, RemoveMark
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Mark, MarkKind, Score
from arrange.score.own import OwnCue, is_bracket, is_line
from arrange.sources import HOUSE_JUDGEMENT, Source
from arrange.study.decided import NOTHING_DECIDED, Decided


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

    decided: Decided = NOTHING_DECIDED
    """What an editor has decided beforehand: where only some measures may be changed, marks in the
    others stay, and so do cues, and lines about the whole piece, until it is known what they say.
    """

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each direction of ours."""
        del harp, player
        for part in score.parts:
            for measure in part.measures:
                for mark in measure.marks:
                    if mark.kind is MarkKind.OWN and self._is_former(mark):
                        yield Change(
                            self.id,
                            Where.of_mark(score, mark),
                            _reason(mark.own),
                            Fidelity.EXACT,
                            (RemoveMark(mark.id, MarkValue.of(mark)),),
                        )

    def _is_former(self, mark: Mark) -> bool:
        window = self.decided.window
        if window is None:
            return True
        is_kept = is_line(mark.own) or OwnCue.parse(mark.own) is not None
        return mark.id.index in window and not is_kept


def _reason(own: str) -> str:
    if is_bracket(own):
        return "The hands are placed anew, so the earlier bracket goes."
    return "The levers are planned anew, so the earlier cue goes."
