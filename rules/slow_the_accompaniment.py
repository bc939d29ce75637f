"""Takes strokes out of an accompaniment that is faster than this player's hand."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import NoteEdit, NoteValue, RemoveNote, SetDuration, WriteRun
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Score
from arrange.sources import COMMON_PRACTICE, HOUSE_JUDGEMENT, Source
from arrange.study.slowing import Kept, Slowed, slowed
from arrange.study.timeline import timeline
from arrange.units import Quarters


@dataclass(frozen=True, slots=True, kw_only=True)
class SlowTheAccompaniment(Rule):
    """Accompaniments strike no faster than the level's hands.

    What it does:
        Where a hand would strike faster than this player does, keeps of each voice that is not
        melody one stroke a cell, on the finest grid that leaves time (half a beat, a beat, from
        strong beat to strong beat); what is kept lasts until the next. A broken chord keeps its
        bass and turns through its other tones.

    Why it helps:
        A slower pattern with the same bass and the same harmony leaves the melody its tempo.

    When it holds back:
        Melody notes, and the bass on strong beats, are kept however fast they are: for these a
        later rule says the tempo at which the piece works.

    What it costs:
        LOSSY: notes go.

    Sources:
        Broken chords from four notes to three or two, the left hand's rhythm made plain:
        common practice. Rates by level: from memory; the grid is house judgement.
    """

    id: ClassVar[RuleId] = "slow-the-accompaniment"
    stage: ClassVar[Stage] = Stage.LEVEL
    after: ClassVar[frozenset[RuleId]] = frozenset({"thin-full-chords"})
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE, HOUSE_JUDGEMENT)
    on_request: ClassVar[bool] = True
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="a broken chord in eighths keeps one note a beat, bass first",
            before="book=beginner tempo=96\nRH: G5h E5h\nLH: C3e G3e E3e G3e C3e G3e E3e G3e",
            after="RH: G5h E5h\nLH: C3q E3q C3q E3q",
        ),
        Rewrites(
            title="chords struck again and again are struck once and ring",
            before="book=beginner tempo=132\nRH: G5h E5h\nLH: C3+E3q C3+E3q C3+E3q C3+E3q",
            after="RH: G5h E5h\nLH: C3+E3h C3+E3h",
        ),
        Rewrites(
            title="under a melody in quarters an inner voice in eighths goes with it",
            before=(
                "book=beginner tempo=120\n"
                "RH: G5q A5q G5q E5q\nRH2: E5e D5e C5e D5e E5e D5e C5e B4e"
            ),
            after="RH: G5q A5q G5q E5q\nRH2: E5q C5q E5q C5q",
        ),
        Keeps(
            title="a fast melody stays",
            score="book=beginner tempo=120\nRH: G5e A5e G5e F5e E5e D5e E5e C5e\nLH: C3w",
            because="it is the melody; the tempo at which it works is said instead",
        ),
        Keeps(
            title="a broken chord that the hand has time for stays",
            score="book=beginner tempo=60\nRH: G5h E5h\nLH: C3e G3e E3e G3e C3e G3e E3e G3e",
            because="two strokes a second are within this level",
        ),
        Keeps(
            title="one quick note is no run",
            score="book=beginner tempo=60\nRH: G5w\nLH: C3q. G3e E3h",
            because="a single short note can be placed ahead",
        ),
    )

    diatonic: bool = False
    """Of a broken chord, tones outside the key are kept last."""

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each voice and stretch, in score order."""
        del harp
        for staves in score.harps:
            quarter = timeline(score, staves).quarter
            for one in slowed(score, staves, player, diatonic=self.diatonic):
                yield self._change(score, one, player, quarter)

    def _change(self, score: Score, one: Slowed, player: Player, quarter: int) -> Change:
        first = one.units[0][0].note
        edits = _run(score, one, quarter) if one.is_run else tuple(_thinned(score, one, quarter))
        kept = ", ".join(dict.fromkeys(str(k.sounds.note.pitch) for k in one.kept))
        return Change(
            self.id,
            Where.of_note(score, first),
            f"The {one.hand.value} hand has more than {_plain(player.notes_a_second)} strokes a "
            f"second here; of {len(one.units)} in this voice {len(one.kept)} "
            f"{'are' if len(one.kept) > 1 else 'is'} kept: {kept}.",
            Fidelity.LOSSY,
            edits,
        )


def _run(score: Score, one: Slowed, quarter: int) -> tuple[NoteEdit, ...]:
    before = tuple(NoteValue.of(score.notes_by_id[u[0].note.id]) for u in one.units)
    after = tuple(
        replace(
            before[0],
            offset=Quarters(kept.start - one.begin, quarter),
            duration=Quarters(kept.end - kept.start, quarter),
            pitch=kept.sounds.note.pitch,
        )
        for kept in one.kept
    )
    return (WriteRun(one.units[0][0].note.id, before, after),)


def _thinned(score: Score, one: Slowed, quarter: int) -> Iterator[NoteEdit]:
    for unit in one.gone:
        for note in unit:
            for event in note.ids:
                yield RemoveNote(event, NoteValue.of(score.notes_by_id[event]))
    for kept in one.kept:
        yield from _lengthened(score, kept, quarter)


def _lengthened(score: Score, kept: Kept, quarter: int) -> Iterator[NoteEdit]:
    """The stroke written longer, as far as one sign can."""
    notes = [n for n in kept.unit if not n.is_grace]
    if not kept.is_alone or any(len(n.ids) > 1 for n in notes):
        return
    length = _writable(Quarters(kept.end - kept.start, quarter))
    for note in notes:
        before = NoteValue.of(score.notes_by_id[note.note.id])
        if length > before.duration:
            yield SetDuration(note.note.id, before, replace(before, duration=length))


def _writable(length: Quarters) -> Quarters:
    """The longest plain or dotted note that is no longer than *length*."""
    best, value = Quarters(0), Quarters(4)
    while value >= Quarters(1, 16):
        best = max(best, *(v for v in (value, value * 3 / 2) if v <= length), Quarters(0))
        value /= 2
    return best


def _plain(number: Fraction) -> str:
    return str(number) if number.denominator == 1 else f"{float(number):g}"
