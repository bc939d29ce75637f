"""Brings what lies outside the harp's compass onto its strings, by octaves."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import ClassVar

from arrange.changes import Change, Fidelity, Option, RuleId, Where
from arrange.edits import NoteValue, RemoveNote, SetPitch
from arrange.hands.player import Player
from arrange.harp.harp import Harp, HarpString
from arrange.pitch import UNISON, Pitch
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Finding, HandName, Score, StaffHand
from arrange.sources import COMMON_PRACTICE, HOUSE_JUDGEMENT, Source
from arrange.study.compass import Fold, folds, refusals, used_strings
from arrange.study.decided import NOTHING_DECIDED, Decided
from arrange.study.prices import PriceList
from arrange.study.roles import Role, in_doubt, roles
from arrange.study.terms import Terms
from arrange.study.timeline import Sounding


@dataclass(frozen=True, slots=True, kw_only=True)
class FoldIntoCompass(Rule):
    """Phrases move by octaves until every note has a string.

    What it does:
        Where a phrase goes below the lowest string or above the highest, moves it by whole
        octaves: the whole phrase where it can, else from seam to seam; of a doubled octave it
        leaves out the note that has no string, and the one that stays is then melody or bass.

    Why it helps:
        A line keeps its shape when all of it moves, and a doubled octave keeps its sense when
        one of the two stays.

    When it holds back:
        No seam parts a dominant from its tonic or a leading note from its. A folded note
        strikes no string that still sounds, and bass and melody never cross; where nothing
        is left the note stays as it is, an open point. Where the right hand plays broken chords
        the log asks who has the melody.

    What it costs:
        IDIOMATIC for a phrase an octave away: the harmony stays. LOSSY for a doubling left out:
        a note goes.

    Sources:
        The order (drop a doubling, move a note, move the phrase): common practice; prices of
        seams and neighbours are house judgement.
    """

    id: ClassVar[RuleId] = "fold-into-compass"
    stage: ClassVar[Stage] = Stage.FIT
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE, HOUSE_JUDGEMENT)
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="a single low bass note moves up an octave",
            before="RH: E4+G4w\nLH: C1w",
            after="RH: E4+G4w\nLH: C2w",
        ),
        Rewrites(
            title="a doubled bass octave loses the note that has no string",
            before="RH: E4+G4h D4+G4h\nLH: A1+A2h G2h",
            after="RH: E4+G4h D4+G4h\nLH: A2h G2h",
        ),
        Rewrites(
            title="a bass phrase moves as a whole, not its lowest note alone",
            before="RH: G4h A4h | G4w\nLH: C2q B1q A1q B1q | C2w",
            after="RH: G4h A4h | G4w\nLH: C3q B2q A2q B2q | C3w",
        ),
        Rewrites(
            title="a tied note moves with its tie",
            before="RH: E4w | E4w\nLH: A1w~ | A1w",
            after="RH: E4w | E4w\nLH: A2w~ | A2w",
        ),
        Keeps(
            title="the lowest string itself is in the compass",
            score="RH: E4+G4w\nLH: C2w",
            because="C2 is the lowest string",
        ),
        Keeps(
            title="the top string with its lever up is in the compass",
            score="key=-3 | A6q Ab6q G6h",
            because="the A string sounds A natural with its lever up",
        ),
    )

    prices: PriceList = PriceList()
    decided: Decided = NOTHING_DECIDED
    """What an editor has decided beforehand."""

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change a phrase, or a stretch of it, and one a doubling left out."""
        terms = Terms(harp, player, self.prices, decided=self.decided)
        used = _Used(used_strings(harp, player), is_all=not (player.lowest or player.highest))
        for staves in score.harps:
            yield from _doubts(score, staves)
            found = folds(score, staves, terms, UNISON, weighs=True)
            for fold in sorted(found, key=lambda f: f.phrase.units[0][0].start):
                yield from self._moves(score, used, fold)
                for note in fold.dropped:
                    yield self._dropped(score, used, note, _options(fold))
            yield from refusals(found, score, staves, self.decided)

    def _moves(self, score: Score, used: "_Used", fold: Fold) -> Iterator[Change]:
        for octaves in sorted({by for _, by in fold.moved}):
            notes = [note for note, by in fold.moved if by == octaves]
            edits = [
                SetPitch(event, before, replace(before, pitch=_moved(before.pitch, octaves)))
                for note in notes
                for event in note.ids
                for before in (NoteValue.of(score.notes_by_id[event]),)
            ]
            yield Change(
                self.id,
                Where.of_note(score, notes[0].note),
                _reason(score, used, notes, octaves, is_whole=fold.is_whole),
                Fidelity.IDIOMATIC,
                tuple(edits),
                _options(fold),
            )

    def _dropped(
        self, score: Score, used: "_Used", note: Sounding, options: tuple[Option, ...]
    ) -> Change:
        pitch = note.note.pitch
        outside = _outside(used, [note])
        where = (
            f"{outside}, and its octave stays"
            if outside
            else (f"{pitch} would fall on a string that sounds it already")
        )
        is_melody = not note.is_grace and roles(score)[note.note.id].role is Role.MELODY
        left = "the note that stays has the melody" if is_melody else "the doubling is left out"
        edits = (RemoveNote(i, NoteValue.of(score.notes_by_id[i])) for i in note.ids)
        return Change(
            self.id,
            Where.of_note(score, note.note),
            f"{where}: {left}.",
            Fidelity.LOSSY,
            tuple(edits),
            options,
        )


@dataclass(frozen=True, slots=True)
class _Used:
    """The strings that the piece may use, and whether they are all."""

    strings: tuple[HarpString, ...]
    is_all: bool

    @property
    def kind(self) -> str:
        return "string" if self.is_all else "string of this level"


def _options(fold: Fold) -> tuple[Option, ...]:
    """The ways to treat the phrase; none where there is but one."""
    if len(fold.weighed) < 2:
        return ()
    return tuple(
        Option(_way(way.key), way.cost, taken=not place, key=way.key)
        for place, way in enumerate(fold.weighed)
    )


def _way(key: str) -> str:
    match key:
        case "stay":
            return "leave it where it is: of an octave one note goes, the rest is the editor's"
        case "parts":
            return "play parts of the phrase in other octaves, from seam to seam"
        case _:
            return f"play the whole phrase {_far(int(key.removeprefix('whole')))}"


def _far(octaves: int) -> str:
    far = "an octave" if abs(octaves) == 1 else f"{abs(octaves)} octaves"
    return f"{far} {'higher' if octaves > 0 else 'lower'}"


def _doubts(score: Score, staves: tuple[StaffHand, ...]) -> Iterator[Finding]:
    """Where nobody can say which notes are the melody."""
    stretches = in_doubt(score, staves)
    if not stretches:
        return
    first = stretches[0][0]
    named = [
        one.number if one is last else f"{one.number}-{last.number}" for one, last in stretches
    ]
    yield Finding(
        f"The right hand plays broken chords in measure {', '.join(named)}; their top line is "
        "not taken for a melody. If it is one, say which staff or voice sings.",
        first.part,
        first.index,
        first.number,
    )


def _moved(pitch: Pitch, octaves: int) -> Pitch:
    return replace(pitch, octave=pitch.octave + octaves)


def _reason(
    score: Score, used: _Used, notes: list[Sounding], octaves: int, *, is_whole: bool
) -> str:
    way = _far(octaves)
    outside = _outside(used, notes)
    start = outside or "Its neighbours in the phrase leave the compass"
    if len(notes) == 1:
        return f"{start}; it is played {way}."
    hand = "right hand" if notes[0].hand is HandName.RIGHT else "left hand"
    first, last = (score.measure(n.note.id.part, n.index).number for n in (notes[0], notes[-1]))
    place = f"in measure {first}" if first == last else f"from measure {first} to {last}"
    what = f"the {hand}'s whole phrase" if is_whole else f"the {hand}'s line"
    return f"{start}; {what} {place} is played {way}, so that it keeps its shape."


def _outside(used: _Used, notes: Iterable[Sounding]) -> str:
    """``B1 lies below the lowest string, C2``; empty where all notes have a place."""
    pitches = [note.note.pitch for note in notes]
    low, high = (end(pitches, key=lambda pitch: pitch.midi) for end in (min, max))
    lowest, highest = used.strings[0], used.strings[-1]
    if low.midi < lowest.open.midi:
        return f"{low} lies below the lowest {used.kind}, {lowest.open}"
    if high.midi > (highest.raised or highest.open).midi:
        return f"{high} lies above the highest {used.kind}, {highest.name}"
    return ""
