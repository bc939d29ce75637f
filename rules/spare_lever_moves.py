"""Lets inner chromatic notes give way where the level moves no lever for them."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import ClassVar

from arrange.changes import Change, Fidelity, Option, RuleId, Where
from arrange.edits import NoteEdit, NoteValue, RemoveNote, SetPitch
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.harp.wording import note_in_words
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Score
from arrange.score.plucks import PluckKind
from arrange.sources import COMMON_PRACTICE, HOUSE_JUDGEMENT, Source
from arrange.study.decided import NOTHING_DECIDED, Decided
from arrange.study.levering import Treatment
from arrange.study.prices import PriceList
from arrange.study.sparing import DIATONIC, sparing
from arrange.study.terms import Terms

WAYS = {
    "home": "play it as it is",
    "": "play it as it is",
    DIATONIC: "play the note that the key has",
    "octave": "play it an octave away",
    "omit": "leave it out",
    "open": "leave it to the editor",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareLeverMoves(Rule):
    """Inner chromatic notes give way where the level has no move for them.

    What it does:
        Plans all the levers; where this player has no time for a move, or should have fewer,
        an inner note outside the key becomes the one that the key has on its string, a passing
        note its neighbour, or moves an octave or is left out where that costs less.

    Why it helps:
        A chord keeps its place and most of its colour, and the pupil keeps both hands at the
        strings.

    When it holds back:
        Melody, bass and the thirds of cadences keep their pitches. Nothing becomes a note that
        would rub against another. Moves that are within the player's number stay.

    What it costs:
        LOSSY: the harmony is plainer.

    Sources:
        Chromatic passing notes become diatonic neighbours, chromatic chords their diatonic
        relatives: common practice; the prices are house judgement.
    """

    id: ClassVar[RuleId] = "spare-lever-moves"
    stage: ClassVar[Stage] = Stage.LEVERS
    after: ClassVar[frozenset[RuleId]] = frozenset({"merge-homophones"})
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE, HOUSE_JUDGEMENT)
    on_request: ClassVar[bool] = True
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="a chromatic passing note in the middle becomes the note of the key",
            before=(
                "book=beginner key=0 tempo=60\nRH: C6h B5h | C6w\n"
                "RH2: E5h F5q F#5q | G5h F5h\nLH: C3w | C3w"
            ),
            after=("key=0\nRH: C6h B5h | C6w\nRH2: E5h F5q F5q | G5h F5h\nLH: C3w | C3w"),
        ),
        Rewrites(
            title="a major chord outside the key becomes the minor one inside it",
            before=(
                "book=beginner key=0 tempo=60\nRH: A5w | A5w | B5w | A5w\n"
                "RH2: F5w | F#5w | G5w | F5w\nLH: D3w | D3w | E3w | D3w"
            ),
            after=(
                "key=0\nRH: A5w | A5w | B5w | A5w\n"
                "RH2: F5w | F5w | G5w | F5w\nLH: D3w | D3w | E3w | D3w"
            ),
        ),
        Keeps(
            title="a chromatic note that a preset gives stays",
            score="book=beginner key=0 tempo=60\nRH: C6h B5h\nRH2: E5h F#5h\nLH: C3w",
            because="its lever is set before the first note",
        ),
        Keeps(
            title="a chromatic melody note stays",
            score="book=beginner key=0 tempo=60\nRH: F5q F#5q G5h\nLH: C3w",
            because="the melody is never changed; it is left to the editor",
        ),
        Keeps(
            title="a move that there is time for stays",
            score=(
                "book=late-beginner key=0 tempo=60\nRH: C6w | B5w | B5w | B5w\n"
                "RH2: F5w | rw | F#5w | G5w\nLH: C3w | rw | rw | G3w"
            ),
            because="one move in the piece is within this level",
        ),
    )

    prices: PriceList = PriceList()
    limit: Fidelity = Fidelity.LOSSY
    """The furthest that a repair may go."""
    decided: Decided = NOTHING_DECIDED
    """What an editor has decided beforehand."""

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each note that gives way, in score order."""
        if self.limit is not Fidelity.LOSSY:
            return
        terms = Terms(harp, player, self.prices, decided=self.decided)
        found = sparing(score, terms, self.limit)
        why = (
            "so that no more levers move than this level has"
            if found.is_capped
            else "since no hand is free to move its lever"
        )
        done = set()
        for treatment in found.treatments:
            note = treatment.pluck.note
            if treatment.pluck.kind is not PluckKind.AUXILIARY and note not in done:
                done.add(note)
                yield self._change(score, treatment, why)

    def _change(self, score: Score, treatment: Treatment, why: str) -> Change:
        was, now = note_in_words(treatment.pluck.pitch), treatment.pitch
        becomes = "is left out" if now is None else f"becomes {note_in_words(now)}"
        return Change(
            self.id,
            Where.of_note(score, score.notes_by_id[treatment.pluck.note]),
            f"The {was} {becomes}, {why}.",
            Fidelity.LOSSY,
            tuple(_edits(score, treatment)),
            tuple(Option(WAYS[c.label], c.cost, c == treatment.choice) for c in treatment.options),
        )


def _edits(score: Score, treatment: Treatment) -> Iterator[NoteEdit]:
    for event in (*treatment.pluck.tied, *treatment.pluck.doubles):
        before = NoteValue.of(score.notes_by_id[event])
        if treatment.pitch is None:
            yield RemoveNote(event, before)
        else:
            yield SetPitch(event, before, replace(before, pitch=treatment.pitch))
