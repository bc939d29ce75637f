"""Glissandi over special tones sweep the strings as the key has them."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import AddWords, MarkValue
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.pitch import Pitch
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Score
from arrange.score.own import OwnNotes, last_serial
from arrange.sources import Source
from arrange.study.sweep_edits import in_print
from arrange.study.sweep_key import KeyedSweep, keyed_sweeps


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepInTheKey(Rule):
    """Glissandi over special tones become glissandi in the key.

    What it does:
        Names, for a glissando whose tones differ from the key signature, the tones of the key
        in their place, so that no lever is set for it.

    Why it helps:
        The sweep, its direction and its goal stay; nobody has to set a string an octave for it.

    When it holds back:
        A glissando that is written out in notes, or that the strings end too soon for, is left
        to the rule that looks for another way. Its first and last note keep their pitches.

    What it costs:
        LOSSY: the chord is another.

    Sources:
        A published competition list tells lever harpists to leave out the pedal changes for
        the glissandi of an intermediate piece.
    """

    id: ClassVar[RuleId] = "sweep-in-the-key"
    stage: ClassVar[Stage] = Stage.SWEEP
    after: ClassVar[frozenset[RuleId]] = frozenset({"fold-into-compass"})
    sources: ClassVar[tuple[Source, ...]] = (
        Source("a published competition list", "pedal changes for glissandi left out"),
    )
    on_request: ClassVar[bool] = True
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="a sweep over a chord is swept in the key",
            before=(
                'book=beginner key=-3 tempo=60 | "D C B | E F# G A" C4q(gliss) C6q(gliss-end) rh'
            ),
            after=(
                'key=-3 | "D C B | E F# G A" "gliss. C D E♭ F G A♭ B♭"'
                "#leverwright.tones.1.C4-D4-Ef4-F4-G4-Af4-Bf4 C4q(gliss) C6q(gliss-end) rh"
            ),
        ),
        Rewrites(
            title="a diminished seventh too",
            before=(
                'book=beginner key=0 tempo=60 | "D# C B# | Eb F# Gb A" C4h(gliss) C6h(gliss-end)'
            ),
            after=(
                'key=0 | "D# C B# | Eb F# Gb A" "gliss. C D E F G A B"'
                "#leverwright.tones.1.C4-D4-E4-F4-G4-A4-B4 C4h(gliss) C6h(gliss-end)"
            ),
        ),
        Keeps(
            title="a glissando in the key stays as it is",
            score='book=beginner key=-3 tempo=60 | "gliss." C4q(gliss) C6q(gliss-end) rh',
            because="the page says all there is to say",
        ),
        Keeps(
            title="one that the strings end too soon for is not named",
            score=(
                'book=beginner key=0 tempo=60 | "D# C B# | Eb F# Gb A" C5h(gliss) C7h(gliss-end)'
            ),
            because="it has to be shortened, which another rule does",
        ),
    )

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each glissando, in score order."""
        del player
        serial = last_serial(score)
        for staves in score.harps:
            for found in keyed_sweeps(score, harp, staves):
                serial += 1
                yield self._change(score, found, serial)

    def _change(self, score: Score, found: KeyedSweep, serial: int) -> Change:
        start = found.start
        pitches = tuple(Pitch(letter, alter, 4) for letter, alter in found.tones)
        names = " ".join(map(in_print, pitches))
        own = OwnNotes("tones", serial, pitches)
        value = MarkValue(start.id.index, start.offset, start.staff, f"gliss. {names}")
        return Change(
            self.id,
            Where.of_note(score, start),
            f"The glissando from {start.pitch} is swept in the key, {names}; its own tones would "
            "need levers set for it.",
            Fidelity.LOSSY,
            (AddWords(start.id.part, own.id, value, above=True),),
        )
