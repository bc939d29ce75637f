"""Makes one string of two notes that only a pedal harp plays on two."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import NoteEdit, NoteValue, RemoveNote, SetPitch
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Score
from arrange.sources import COMMON_PRACTICE, Source
from arrange.study.homophones import Homophones, homophones


@dataclass(frozen=True, slots=True, kw_only=True)
class MergeHomophones(Rule):
    """Enharmonic unisons struck together become one string.

    What it does:
        Where one pitch is written twice at a moment under two names (C sharp and D flat), keeps
        the name that is a string of this harp: in one chord the other note goes, in another
        voice it is respelled.

    Why it helps:
        The pedal harp doubles a pitch on two strings for sonority; a lever harp has one string
        to pluck, and the player should see one.

    When it holds back:
        A unison of two voices under one name stays: it is one string already. The same pitch
        under two names one after the other is left to the planning of the levers.

    What it costs:
        EXACT: the same pitch sounds.

    Sources:
        Homophones of the pedal harp: common practice.
    """

    id: ClassVar[RuleId] = "merge-homophones"
    stage: ClassVar[Stage] = Stage.GRIP
    after: ClassVar[frozenset[RuleId]] = frozenset({"fold-into-compass"})
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE,)
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="two names of one pitch in a chord become one note",
            before="key=-3 | C#5+Db5+G5h Eb5h",
            after="key=-3 | C#5+G5h Eb5h",
        ),
        Rewrites(
            title="a tied homophone goes with its tie",
            before="key=-3 | C#5+Db5w~ | C#5+Db5w",
            after="key=-3 | C#5w~ | C#5w",
        ),
        Rewrites(
            title="in another voice the note is respelled, so that its rhythm stays",
            before="key=-3\nRH: C#4h Eb4h\nLH: Db4w",
            after="key=-3\nRH: C#4h Eb4h\nLH: C#4w",
        ),
        Keeps(
            title="a unison under one name stays",
            score="key=-3\nRH: Eb4h G4h\nLH: Eb4w",
            because="it is one string already",
        ),
        Keeps(
            title="a semitone struck together is no homophone",
            score="key=-3 | D5+Eb5h F5h",
            because="two strings sound two pitches",
        ),
    )

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each note that gives way."""
        del player
        for staves in score.harps:
            for found in homophones(score, staves, harp):
                yield self._change(score, found)

    def _change(self, score: Score, found: Homophones) -> Change:
        kept, other = found.kept.note.pitch, found.other.note.pitch
        edits: list[NoteEdit] = []
        for event in found.other.ids:
            before = NoteValue.of(score.notes_by_id[event])
            if found.is_one_chord:
                edits.append(RemoveNote(event, before))
            else:
                edits.append(SetPitch(event, before, replace(before, pitch=kept)))
        does = "is left out" if found.is_one_chord else f"is written {kept.name}"
        return Change(
            self.id,
            Where.of_note(score, found.other.note),
            f"{kept} and {other} are one string on a lever harp; {other} {does}.",
            Fidelity.EXACT,
            tuple(edits),
        )
