"""Writes harmonics as the ordinary notes that they sound."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import MarkValue, NoteValue, RemoveNotation, SetPitch
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Score, Sign
from arrange.sources import COMMON_PRACTICE, Source
from arrange.study.timeline import Sounding, timeline

SOUNDING = "sounding-pitch"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayHarmonicsPlainly(Rule):
    """Harmonics become ordinary notes an octave above the string.

    What it does:
        Takes the harmonic's sign off and writes the note an octave higher, where it sounds; one
        that is written as it sounds loses its sign only.

    Why it helps:
        A harmonic wants the heel of the hand at the middle of the string; the plain note an
        octave up has the same pitch.

    When it holds back:
        Where the harp has no string an octave higher the harmonic stays.

    What it costs:
        IDIOMATIC: the same pitch in another colour.

    Sources:
        Published lessons play them so: common practice.
    """

    id: ClassVar[RuleId] = "play-harmonics-plainly"
    stage: ClassVar[Stage] = Stage.LEVEL
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE,)
    on_request: ClassVar[bool] = True
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="a harmonic is played an octave higher",
            before="book=beginner\nRH: C4h(harmonic) G4h(harmonic)",
            after="RH: C5h G5h",
        ),
        Rewrites(
            title="a tied harmonic moves with its tie",
            before="book=beginner\nRH: C4w~(harmonic) | C4w",
            after="RH: C5w~ | C5w",
        ),
        Keeps(
            title="one above the highest string stays",
            score="book=beginner\nRH: C6w(harmonic)",
            because="there is no string an octave higher",
        ),
        Keeps(
            title="a note without the sign is no harmonic",
            score="book=beginner\nRH: C4w(fermata)",
            because="it sounds where it is written",
        ),
    )

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield, for each harmonic, the change of its sign and that of its pitch."""
        del player
        for staves in score.harps:
            for note in timeline(score, staves).notes:
                if note.note.notations and note.note.has(Sign.HARMONIC):
                    yield from self._changes(score, note, harp)

    def _changes(self, score: Score, sounding: Sounding, harp: Harp) -> Iterator[Change]:
        note = sounding.note
        signs = note.signs(Sign.HARMONIC)
        is_as_it_sounds = any(SOUNDING in sign.text for sign in signs)
        higher = replace(note.pitch, octave=note.pitch.octave + 1)
        if not is_as_it_sounds and not harp.homes(higher.midi):
            return
        where = Where.of_note(score, note)
        plain = note.pitch if is_as_it_sounds else higher
        value = MarkValue(note.id.index, note.offset, note.staff, "harmonic")
        sign = Change(
            self.id,
            where,
            f"The harmonic on {note.pitch} is played as the plain note that it sounds, {plain}.",
            Fidelity.IDIOMATIC,
            tuple(RemoveNotation(note.id, s.key, value) for s in signs),
        )
        yield sign
        if is_as_it_sounds:
            return
        values = [(i, NoteValue.of(score.notes_by_id[i])) for i in sounding.ids]
        yield Change(
            self.id,
            where,
            f"The harmonic on {note.pitch} sounds as {plain}, so it is written there.",
            Fidelity.IDIOMATIC,
            tuple(SetPitch(i, before, replace(before, pitch=plain)) for i, before in values),
            depends_on=(sign.id,),
        )
