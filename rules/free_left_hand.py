"""Frees the left hand where a lever has to be moved and no hand has time for it."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import AddWords, MarkValue, NoteValue, RemoveNote
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.harp.wording import note_in_words
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import MarkKind, Score
from arrange.score.own import OwnNotes
from arrange.score.plucks import Pluck
from arrange.sources import COMMON_PRACTICE, HOUSE_JUDGEMENT, Source
from arrange.study.freeing import Freed, freed
from arrange.study.prices import PriceList
from arrange.study.terms import Terms
from arrange.units import Microseconds


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeLeftHand(Rule):
    """Time for a lever, by handing notes over or letting a string ring.

    What it does:
        Where notes would be lost, or a move hurried, because the left hand is busy, the right
        hand takes the left's notes of that moment, marked "R.H."; or a string that still rings
        is not struck again.

    Why it helps:
        A hand that plucks moves no lever. Around a lever players let the other hand take over
        as a matter of course; it sounds the same.

    When it holds back:
        The right hand takes nothing that it does not reach in one grip or one leap of an
        octave, and nothing below C3; melody notes and the bass on strong beats are always
        struck. Nothing is done that a plan of all the levers does not repay.

    What it costs:
        EXACT where the other hand takes notes, LOSSY where one is not struck again.

    Sources:
        The right hand takes left-hand notes near a change; the left hand's rhythm is simplified
        to free it: common practice. The prices are house judgement.
    """

    id: ClassVar[RuleId] = "free-left-hand"
    stage: ClassVar[Stage] = Stage.LEVERS
    after: ClassVar[frozenset[RuleId]] = frozenset({"merge-homophones"})
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE, HOUSE_JUDGEMENT)
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="the right hand takes chords under its held note while a lever is moved",
            before="time=3/4 tempo=120\nRH: F5h. | F#5h.\nLH: F2q C4+A4q C4+A4q | D3q C4q C4q",
            after="",
        ),
        Rewrites(
            title="a string that still rings is not struck again before a lever is moved",
            before="tempo=120\nRH: F5h A5h | F#5w\nLH: F2q C3q C3q C3q | D3w",
            after="",
        ),
        Keeps(
            title="nothing changes hands where the left hand has time",
            score="time=3/4 tempo=60\nRH: F5h. | F#5h.\nLH: F2h. | D3q C4q C4q",
            because="a held bass note is time for a lever",
        ),
        Keeps(
            title="the right hand does not leap down two octaves for them",
            score="time=3/4 tempo=120\nRH: F6h. | F#6h.\nLH: F2q C4+A4q C4+A4q | D3q C4q C4q",
            because="it is too far away",
        ),
    )

    prices: PriceList = PriceList()
    limit: Fidelity = Fidelity.LOSSY
    """The furthest that a relief may go."""

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each moment that is handed over, and for each note left out."""
        serials: Iterator[int] | None = None
        done: set[tuple[Pluck, ...]] = set()
        for found in freed(score, Terms(harp, player, self.prices), self.limit):
            serials = serials or count(_last_serial(score) + 1)
            needed: tuple[str, ...] = ()
            for relief in found.reliefs:
                if (both := (*relief.taken, *relief.left_out)) in done:
                    continue
                done.add(both)
                for change in self._changes(score, found, relief.taken, relief.left_out, serials):
                    yield change

    def _changes(
        self, score: Score, found: Freed, taken: tuple[Pluck, ...], left_out: tuple[Pluck, ...], serials: Iterator[int]
    ) -> Iterator[Change]:
        return iter(())
