"""Takes out of full chords what this player's hands do not hold and the harmony can spare."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import NoteEdit, NoteValue, RemoveNote, SetPitch
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.phrasing import listed
from arrange.pitch import Pitch
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import HandName, Score
from arrange.sources import COMMON_PRACTICE, HOUSE_JUDGEMENT, Source
from arrange.study.prices import PriceList
from arrange.study.thinning import Thinned, thinned
from arrange.study.timeline import Sounding


@dataclass(frozen=True, slots=True, kw_only=True)
class ThinFullChords(Rule):
    """Chords become as full as the level's hands hold.

    What it does:
        Where a hand would strike more notes, or more strings apart, than this player holds, or
        both hands more together, leaves out doublings first, then the root or the fifth where
        another note has it, then inner notes; or plays an inner note an octave nearer, where
        that costs less.

    Why it helps:
        A chord of two or three notes within the hand is placed at once and sounds whole; a
        fuller one is missed.

    When it holds back:
        Melody and bass stay as they are, and so does the third of a cadence; what then is still
        too much for a hand is shared, rolled or left open by a later rule.

    What it costs:
        LOSSY for a note left out, IDIOMATIC for one an octave away.

    Sources:
        The order (doublings, doubled roots and fifths, inner voices; five to eight notes become
        three and two): common practice; the prices are house judgement.
    """

    id: ClassVar[RuleId] = "thin-full-chords"
    stage: ClassVar[Stage] = Stage.LEVEL
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE, HOUSE_JUDGEMENT)
    on_request: ClassVar[bool] = True
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="octaves keep the melody above and the bass below",
            before="book=beginner\nRH: E4+E5h C4+C5h\nLH: C2+C3h A2+A3h",
            after="RH: E5h C5h\nLH: C2h A2h",
        ),
        Rewrites(
            title="eight notes become three and two; third and seventh stay",
            before="book=late-beginner\nRH: D4+F4+B4+D5h rh\nLH: G2+D3+F3+G3h rh",
            after="RH: F4+B4+D5h rh\nLH: G2+F3h rh",
        ),
        Rewrites(
            title="a tied note goes with its tie",
            before="book=beginner\nRH: G4+B4+G5w~ | G4+B4+G5w\nLH: G2w | G2w",
            after="RH: B4+G5w~ | B4+G5w\nLH: G2w | G2w",
        ),
        Rewrites(
            title="the third that only one note has comes nearer",
            before="book=beginner\nRH: G5w\nLH: C3+E4w",
            after="RH: G5w\nLH: C3+E3w",
        ),
        Keeps(
            title="a third under the melody is one grip",
            score="book=beginner\nRH: C5+E5h B4+D5h\nLH: C3h G2h",
            because="two neighbouring fingers hold it",
        ),
        Keeps(
            title="a wide broken chord is no grip",
            score="book=beginner tempo=40\nRH: E5w\nLH: C3q G3q C4q E4q",
            because="its notes come one after another",
        ),
    )

    prices: PriceList = PriceList()

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each moment that is too full, in score order."""
        del harp
        for staves in score.harps:
            for moment in thinned(score, staves, player, self.prices):
                yield self._change(score, moment, player)

    def _change(self, score: Score, moment: Thinned, player: Player) -> Change:
        first = (moment.gone or tuple(note for note, _ in moment.moved))[0]
        said = []
        if moment.gone:
            verb = "are" if len(moment.gone) > 1 else "is"
            said.append(f"{_named(moment.gone)} {verb} left out")
        said += [
            f"{n.note.pitch} is played as {_moved(n.note.pitch, by)}" for n, by in moment.moved
        ]
        return Change(
            self.id,
            Where.of_note(score, first.note),
            f"{_trouble(moment, player)}; {', '.join(said)}.",
            Fidelity.LOSSY if moment.gone else Fidelity.IDIOMATIC,
            tuple(_edits(score, moment)),
        )


def _edits(score: Score, moment: Thinned) -> Iterator[NoteEdit]:
    for note in moment.gone:
        for event in note.ids:
            yield RemoveNote(event, NoteValue.of(score.notes_by_id[event]))
    for note, by in moment.moved:
        for event in note.ids:
            before = NoteValue.of(score.notes_by_id[event])
            yield SetPitch(event, before, replace(before, pitch=_moved(before.pitch, by)))


def _moved(pitch: Pitch, octaves: int) -> Pitch:
    return replace(pitch, octave=pitch.octave + octaves)


def _trouble(moment: Thinned, player: Player) -> str:
    grip = player.grip
    for hand in HandName:
        row = moment.of_hand(hand)
        strings = {note.line for note in row}
        if len(strings) > grip.notes:
            return f"The {hand.value} hand has {len(strings)} notes, {grip.notes} is most here"
        span = max(strings, default=0) - min(strings, default=0) + 1
        if span > grip.strings:
            return f"The {hand.value} hand would span {span} strings, {grip.strings} is most here"
    together = len({note.line for note in moment.struck})
    return f"Both hands have {together} notes together, {player.together} is most here"


def _named(notes: tuple[Sounding, ...]) -> str:
    return listed(str(note.note.pitch) for note in notes)
