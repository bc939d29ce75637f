"""Gives every glissando tones that the levers have, or another way to the same goal."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Score
from arrange.sources import COMMON_PRACTICE, HOUSE_JUDGEMENT, Source
from arrange.study.decided import NOTHING_DECIDED, Decided
from arrange.study.prices import PriceList
from arrange.study.sweep_choice import Decision, decisions, refusals
from arrange.study.sweep_edits import SweepEdits
from arrange.study.sweep_sentences import marks_reason, options, reason
from arrange.study.sweep_ways import Way
from arrange.study.terms import Terms


@dataclass(frozen=True, slots=True, kw_only=True)
class ResolveGlissandi(Rule):
    """Pedal glissandi become what lever strings can sweep.

    What it does:
        Looks, for each glissando, for lever positions that give its tones in the swept octaves,
        and names the tones where the page would not tell them. Where levers cannot give them in
        time a fast sweep keeps a few foreign strings, a slow one has strings damped by the other
        hand, any may become a fingered run in the same time, or at worst its first note and its
        goal. A glissando that the strings end too soon for is shortened or moved an octave.

    Why it helps:
        Pedals set a chord on all strings at once; levers stand one a string, so most chords
        cannot be swept, and the ear hears the direction and the goal first.

    When it holds back:
        A glissando in the key of the piece stays untouched; the last note keeps its beat.

    What it costs:
        EXACT where the tones are the same, IDIOMATIC for damped strings, a run or another
        octave, LOSSY for foreign strings or a sweep that is left out.

    Sources:
        The ways: common practice; speeds of damping and fingering: from memory; limits of
        foreign strings, order and prices: house judgement.
    """

    id: ClassVar[RuleId] = "resolve-glissandi"
    stage: ClassVar[Stage] = Stage.SWEEP
    after: ClassVar[frozenset[RuleId]] = frozenset({"fold-into-compass"})
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE, HOUSE_JUDGEMENT)
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="tones that levers can give are named",
            before='key=-3 tempo=60 | "D C B | E F# G A" C4q(gliss) C6q(gliss-end) rh',
            after=(
                'key=-3 tempo=60 | "D C B | E F# G A" '
                '"gliss. C D E F♯ G A B"#leverwright.tones.1.C4-D4-E4-Fs4-G4-A4-B4 '
                "C4q(gliss) C6q(gliss-end) rh"
            ),
        ),
        Rewrites(
            title="a diminished seventh, which no levers give, is fingered in the same time",
            before='key=-3 tempo=60 | "D# C B# | Eb F# Gb A" C4h(gliss) C6h(gliss-end)',
            after=(
                'key=-3 tempo=60 | "D# C B# | Eb F# Gb A" C4s Eb4s F#4s A4s C5s Eb5s F#5s A5s C6h'
            ),
        ),
        Rewrites(
            title="a fast one keeps a foreign string an octave where no lever can move in time",
            before=('key=-3 tempo=72 | F#4e F4e "D C B | E F# G A" C4q(gliss) C6q(gliss-end) F4q'),
            after=(
                'key=-3 tempo=72 | F#4e F4e "D C B | E F# G A" '
                '"gliss. C D E F G A B"#leverwright.tones.1.C4-D4-E4-F4-G4-A4-B4 '
                '"(passing: F)"#leverwright.foreign.2.F4-F5 C4q(gliss) C6q(gliss-end) F4q'
            ),
        ),
        Rewrites(
            title="in a slow one over an octave the left hand holds two strings",
            before='key=-3 tempo=60 | "D C B# | E Fb G A" C4w(gliss) | C5w(gliss-end)',
            after=(
                'key=-3 tempo=60 | "D C B# | E Fb G A" '
                '"gliss. C D E F G A B♭"#leverwright.tones.1.C4-D4-E4-F4-G4-A4-Bf4 '
                '"étouffez F4 B4 (L.H.)"#leverwright.held.2.F4-B4 '
                "C4w(gliss) | C5w(gliss-end)"
            ),
        ),
        Rewrites(
            title="one that the strings end too soon for ends an octave lower, on its beat",
            before="key=0 tempo=60 | C5h(gliss) C7h(gliss-end)",
            after="key=0 tempo=60 | C5h(gliss) C6h(gliss-end)",
        ),
        Keeps(
            title="a glissando in the key of the piece stays as it is",
            score='key=-3 tempo=60 | "gliss." C4q(gliss) C6q(gliss-end) rh',
            because="the levers stand for it, and the page says all there is to say",
        ),
        Keeps(
            title="a scale in fast notes is no glissando",
            score="key=-3 tempo=60 | C4t D4t E4t F#4t G4t A4t B4t C5t D5q rh",
            because="every note of it is fingered, each on its own string",
        ),
    )

    prices: PriceList = PriceList()
    decided: Decided = NOTHING_DECIDED
    """What an editor has decided beforehand."""
    limit: Fidelity = Fidelity.LOSSY
    """The furthest that a way may go to be taken."""

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield, for each glissando, the change of its notes, then that of its marks."""
        terms = Terms(harp, player, self.prices, decided=self.decided)
        found = decisions(score, terms, self.limit)
        yield from refusals(found, score, self.decided.chosen(self.id))
        if not found:
            return
        edits = SweepEdits(score, harp, found)
        for decision in found:
            if decision.taken is not None:
                yield from self._changes(decision, decision.taken, score, harp, edits)

    def _changes(
        self, decision: Decision, way: Way, score: Score, harp: Harp, edits: SweepEdits
    ) -> Iterator[Change]:
        asked = decision.asked
        where = Where.of_note(score, asked.start)
        text, weighed = reason(decision, way, score, harp), options(decision, harp)
        needed: tuple[str, ...] = ()
        notes = edits.notes(asked.sweep, way)
        if notes:
            change = Change(self.id, where, text, way.fidelity, notes, weighed)
            text, weighed, needed = marks_reason(way), (), (change.id,)
            yield change
        marks = edits.marks(asked.sweep, way, asked.hand, asked.key)
        if marks:
            yield Change(self.id, where, text, way.fidelity, marks, weighed, needed)
