"""Writes a cue for every lever move, between the staves, ahead of the move."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import AddWords, MarkValue, RemoveMark
from arrange.hands.player import Player
from arrange.harp.harp import Harp, Position
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import HandName, Mark, Score
from arrange.score.own import OwnCue
from arrange.sources import COMMON_PRACTICE, Source
from arrange.study.cueing import Cue, cues, within
from arrange.study.decided import NOTHING_DECIDED, Decided
from arrange.study.levering import plan_as_it_stands
from arrange.study.prices import PriceList
from arrange.study.terms import Terms
from arrange.units import Quarters, seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteLeverCues(Rule):
    """A cue for every move.

    What it does:
        Prints the note that a string sounds from then on, with its octave, between the staves,
        ahead of the place where the lever is moved.

    Why it helps:
        The player reads one short name in the middle of the system and has time to find the
        lever.

    When it holds back:
        A lever that stands right before the first note needs no cue; the opening says it. Where
        cues of ours stand they are left as they are.

    What it costs:
        EXACT: nothing sounds different.

    Sources:
        Cues that say the resulting note, between the staves: common practice.
    """

    id: ClassVar[RuleId] = "write-lever-cues"
    stage: ClassVar[Stage] = Stage.CUES
    after: ClassVar[frozenset[RuleId]] = frozenset({"set-levers"})
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE,)
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="a move gets a cue ahead of it, saying the note that the string then sounds",
            before="key=0 tempo=60 | F5h rh | F#5h rh",
            after=('RH: F5h rh | F#5h rh\nLH: "high F♯"#leverwright.cue.1.F5.up.left.0.2.all | '),
        ),
        Rewrites(
            title="a cue names the octave",
            before="key=0 tempo=60\nRH: C5w | C5w | C5w\nLH: F3w | rw | F#3w",
            after=(
                "RH: C5w | C5w | C5w\n"
                'LH: F3w | "low F♯"#leverwright.cue.1.F3.up.left.0.1.all rw | F#3w'
            ),
        ),
        Keeps(
            title="a lever that stands right from the start needs no cue",
            score="key=0 tempo=60 | F#5h rh | F#5h rh",
            because="the opening says it",
        ),
        Keeps(
            title="cues that stand there are not written twice",
            score=(
                'key=0 tempo=60 | F5h "high F♯"#leverwright.cue.1.F5.up.left.0.2.all rh | F#5h rh'
            ),
            because="they say the same moves",
        ),
    )

    prices: PriceList = PriceList()
    decided: Decided = NOTHING_DECIDED
    """What an editor has decided beforehand."""

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each move of the plan."""
        standing = list(_standing(score))
        if standing and self.decided.window is None:
            return
        known = {_move_of(mark, cue): mark for mark, cue in standing}
        serial = max((cue.serial for _, cue in standing), default=0)
        terms = Terms(harp, player, self.prices, decided=self.decided)
        for plan in plan_as_it_stands(score, terms):
            moves = tuple(m for m in plan.moves if self.decided.may_change(m.index))
            for cue in within(cues(score, plan.staves, moves, harp, player), self.decided.window):
                if known.pop(_announced(cue), None) is None:
                    serial += 1
                    yield self._change(cue, serial, score)
        for mark in known.values():
            if self.decided.may_change(mark.id.index):
                yield self._gone(mark, score)

    def _gone(self, mark: Mark, score: Score) -> Change:
        """A cue for a move that is not made any more."""
        reason = "The lever is not moved here any more, so its cue goes."
        edit = RemoveMark(mark.id, MarkValue.of(mark))
        return Change(self.id, Where.of_mark(score, mark), reason, Fidelity.EXACT, (edit,))

    def _change(self, cue: Cue, serial: int, score: Score) -> Change:
        move, place = cue.move, cue.place
        own = OwnCue(
            serial,
            move.string,
            move.position,
            move.hand,
            move.index - place.index,
            move.offset,
            move.passes,
        )
        where = score.measure(move.part, place.index)
        spare = float(seconds(move.slack))
        goal = score.measure(move.part, move.index)
        return Change(
            rule=self.id,
            where=Where(move.part, place.index, where.number, place.offset, cue.staff),
            reason=(
                f"The {move.hand.value} hand is free before measure {goal.number}, "
                f"beat {goal.meter.count(move.offset)}, and the {move.string} string is quiet"
                + (f"; {spare:.1f} s to spare." if spare < 5 else ".")
            ),
            fidelity=Fidelity.EXACT,
            edits=(
                AddWords(
                    move.part,
                    own.id,
                    MarkValue(place.index, place.offset, cue.staff, cue.text),
                    above=cue.above,
                ),
            ),
        )


_Announced = tuple[str, str, Position, HandName, int, Quarters, tuple[int, ...]]
"""Part, string, position, hand, measure, offset and passes of a move."""


def _standing(score: Score) -> Iterator[tuple[Mark, OwnCue]]:
    """The cues that stand there."""
    for part in score.harp_parts:
        for measure in score.by_part[part].measures:
            for mark in measure.marks:
                cue = OwnCue.parse(mark.own) if mark.own else None
                if cue is not None:
                    yield mark, cue


def _move_of(mark: Mark, cue: OwnCue) -> _Announced:
    """The move that a cue announces."""
    index = mark.id.index + cue.measures_on
    return mark.id.part, cue.string, cue.position, cue.hand, index, cue.offset, cue.passes


def _announced(cue: Cue) -> _Announced:
    move = cue.move
    hand, place = move.hand, (move.index, move.offset)
    return move.part, move.string, move.position, hand, *place, move.passes
