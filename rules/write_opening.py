"""Writes at the top how the harp is set before the first note, and what the piece asks."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import AddWords, MarkEdit, MarkValue, SetCredit
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.harp.wording import LEGEND, OPEN_LEGEND, legend, opening_in_lines
from arrange.pitch import Interval
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Finding, Score
from arrange.score.own import FIELD_PREFIX, SETTING
from arrange.score.own import LEGEND as LEGEND_ID
from arrange.sources import COMMON_PRACTICE, Source
from arrange.study.cueing import WrittenCue, changes_of, cue_text
from arrange.study.decided import NOTHING_DECIDED, Decided
from arrange.study.levering import LeverPlan, plan_as_it_stands
from arrange.study.opening import (
    original_key,
    setting,
    statement,
    too_many_moves,
    too_many_open,
    too_many_presets,
)
from arrange.study.prices import PriceList
from arrange.study.terms import Terms
from arrange.units import Quarters


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteOpening(Rule):
    """The title statement, the setting of the levers, the legend of the cues.

    What it does:
        Above the first measure, says the harp, the strings used, the number of moves, the
        level, and the key of the original if it was moved; then the tuning, the letters whose
        levers are up, and each string that differs.
        A legend explains the cues, or else the words for the octaves where the setting uses
        them; another line explains the question marks where notes are left open.

    Why it helps:
        A player can set the harp from the top of the page, and a buyer can see whether the
        piece fits.

    When it holds back:
        The legend is left out where there is nothing to explain. Lines of ours that stand there
        are not written twice.

    What it costs:
        EXACT: nothing sounds different.

    Sources:
        Tuning, range and number of moves are what buyers choose by: common practice.
    """

    id: ClassVar[RuleId] = "write-opening"
    stage: ClassVar[Stage] = Stage.CUES
    after: ClassVar[frozenset[RuleId]] = frozenset({"write-lever-cues"})
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE,)
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="tuning and letters stand at the top",
            before="key=0 | C5q E5q G5h",
            after=(
                "field leverwright-harp=lever-34\n"
                "field leverwright-book=concert\n"
                "field leverwright-interval=P1\n"
                'RH: "Lever harp, 34 strings (C2 to A6), uses C5 to G5. No lever '
                "moves.¶Level: concert. Tuning: E-flat.¶Set levers for C major "
                '(E, A, B up)."#leverwright.setting C5q E5q G5h'
            ),
        ),
        Rewrites(
            title="a string that differs from the key is named, and moves bring the legend",
            before="key=0 tempo=60 | F#5h rh | F5h rh",
            after=(
                "field leverwright-harp=lever-34\n"
                "field leverwright-book=concert\n"
                "field leverwright-interval=P1\n"
                'RH: "Lever harp, 34 strings (C2 to A6), uses F5 to F5. 1 lever '
                "move.¶Level: concert. Tuning: E-flat.¶Set levers for C major "
                '(E, A, B up).¶Also set: high F sharp."#leverwright.setting F#5h rh | '
                "F5h rh\n"
                f'LH: "{LEGEND}"#leverwright.legend | '
            ),
        ),
        Rewrites(
            title="without moves the octaves of the setting are explained",
            before="key=0 tempo=60\nRH: C5h rh | C5h rh\nLH: F#3h rh | F#3h rh",
            after=(
                "field leverwright-harp=lever-34\n"
                "field leverwright-book=concert\n"
                "field leverwright-interval=P1\n"
                'RH: "Lever harp, 34 strings (C2 to A6), uses F3 to C5. No lever '
                "moves.¶Level: concert. Tuning: E-flat.¶Set levers for C major "
                '(E, A, B up).¶Also set: low F sharp."#leverwright.setting C5h rh | C5h rh\n'
                'LH: <"Octaves: low from C3, middle C4, high C5."#leverwright.legend '
                "F#3h rh | F#3h rh"
            ),
        ),
        Keeps(
            title="an opening that stands there is not written twice",
            score=(
                "field leverwright-harp=lever-34\n"
                "field leverwright-book=concert\n"
                "field leverwright-interval=P1\n"
                'RH: "Lever harp, 34 strings (C2 to A6), uses C5 to G5. No lever '
                "moves.¶Level: concert. Tuning: E-flat.¶Set levers for C major "
                '(E, A, B up)."#leverwright.setting C5q E5q G5h'
            ),
            because="it says the same",
        ),
        Keeps(
            title="nor is the legend, while there are cues for it to explain",
            score=(
                "field leverwright-harp=lever-34\n"
                "field leverwright-book=concert\n"
                "field leverwright-interval=P1\n"
                "key=0 tempo=60\n"
                'RH: "Lever harp, 34 strings (C2 to A6), uses F5 to F5. 1 lever '
                "move.¶Level: concert. Tuning: E-flat.¶Set levers for C major "
                '(E, A, B up).¶Also set: high F sharp."#leverwright.setting F#5h rh | '
                "F5h rh\n"
                f'LH: "{LEGEND}"#leverwright.legend | '
            ),
            because="the move is still there, and so are its words",
        ),
    )

    prices: PriceList = PriceList()
    decided: Decided = NOTHING_DECIDED
    """What an editor has decided beforehand."""
    book: str = "concert"
    """The rule book's name, printed as the level."""
    interval: str = "P1"
    """The interval that the piece was moved by."""
    cue_changes: tuple[WrittenCue, ...] = ()
    """The cues that are written: without one of them the number of moves is wrong."""

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield the lines at the top, one change each, as far as they do not stand there."""
        standing = {
            mark.own
            for part in score.harp_parts
            for mark in score.measure(part, 0).marks
            if mark.own
        }
        for proposal in self._wanted(score, harp, player):
            match proposal:
                case Change(edits=(AddWords(own=own),)) if own in standing:
                    continue
                case Change(edits=(SetCredit(field=name, after=value),)) if (
                    score.own.get(name) == value.text
                ):
                    continue
                case _:
                    yield proposal

    def _wanted(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        for number, plan in enumerate(
            plan_as_it_stands(score, Terms(harp, player, self.prices, decided=self.decided))
        ):
            suffix = f".{number + 1}" if number else ""
            original = original_key(score, plan, Interval.parse(self.interval))
            said = statement(plan, harp, self.book, original)
            top = opening_in_lines(f"{said} {setting(score, plan, harp)}")
            cues = changes_of(plan.moves, self.cue_changes)
            yield replace(self._line(score, plan, SETTING + suffix, top), depends_on=cues)
            explained = _legend(score, plan, harp)
            if explained:
                line = self._line(score, plan, LEGEND_ID + suffix, explained)
                yield replace(line, depends_on=cues if len(cues) == 1 else ())
            moves, open_notes = too_many_moves(score, plan, player), too_many_open(score, plan)
            presets = too_many_presets(score, plan, harp, player)
            for too_much in filter(None, (moves, presets, open_notes)):
                yield Finding(too_much, plan.staves[0].part)
        fields = {"harp": harp.name, "book": self.book, "interval": self.interval}
        for name, value in fields.items():
            yield self._field(score, FIELD_PREFIX + name, value)

    def _line(self, score: Score, plan: LeverPlan, own: str, text: str) -> Change:
        staff = plan.staves[0]
        is_legend = own.startswith(LEGEND_ID)
        part, number = (
            (plan.staves[-1].part, plan.staves[-1].staff)
            if is_legend
            else (staff.part, staff.staff)
        )
        edit = AddWords(part, own, MarkValue(0, Quarters(0), number, text), above=not is_legend)
        return self._change(score, edit, "The player sets the harp from the top of the page.")

    def _field(self, score: Score, name: str, value: str) -> Change:
        edit = SetCredit(name, MarkValue(0, Quarters(0), 1, value))
        return self._change(score, edit, "So that the result is known again.")

    def _change(self, score: Score, edit: MarkEdit, reason: str) -> Change:
        part = edit.part if isinstance(edit, AddWords) else score.harp_parts[0]
        where = Where(part, 0, score.measure(part, 0).number, Quarters(0), 1)
        return Change(self.id, where, reason, Fidelity.EXACT, (edit,))


def _legend(score: Score, plan: LeverPlan, harp: Harp) -> str:
    said = [setting(score, plan, harp), *(cue_text(move, harp) for move in plan.moves)]
    lines = (
        legend("; ".join(said), has_cues=bool(plan.moves)),
        OPEN_LEGEND if score.left_open else "",
    )
    return "\n".join(filter(None, lines))
