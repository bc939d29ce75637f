"""Brings leaps of an accompaniment that are too wide for this player within reach."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import ClassVar

from arrange.changes import Change, Fidelity, Option, RuleId, Where
from arrange.edits import NoteEdit, NoteValue, RemoveNote, SetPitch
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.phrasing import listed
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Score
from arrange.sources import COMMON_PRACTICE, HOUSE_JUDGEMENT, Source
from arrange.study.compass import used_strings
from arrange.study.leaping import ClosedLeap, closed_leaps
from arrange.study.prices import PriceList


@dataclass(frozen=True, slots=True, kw_only=True)
class CloseUpLeaps(Rule):
    """Accompaniments leap no wider than the level's hands.

    What it does:
        Where a hand would leap further within a beat than this player does, plays notes of the
        accompaniment on that side an octave nearer, a figure or chord as a whole; or leaves out
        a short note off the beat that the harmony can spare, where that costs less.

    Why it helps:
        A pupil finds strings by placing the next finger before the last one has left; over a
        wide leap there is nothing to hold on to.

    When it holds back:
        Melody, and the bass on strong beats, stay where they are. Nothing moves below C3, past
        the melody or the bass, or onto a string that still sounds. A leap within slow music
        stays, and so does one whose closing would cost more than the leap.

    What it costs:
        IDIOMATIC for notes an octave away, LOSSY for a note left out.

    Sources:
        Broken chords brought into one position, off-beat chords near their bass: common
        practice. Leaps by level and prices are house judgement.
    """

    id: ClassVar[RuleId] = "close-up-leaps"
    stage: ClassVar[Stage] = Stage.GRIP
    after: ClassVar[frozenset[RuleId]] = frozenset({"fold-into-compass"})
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE, HOUSE_JUDGEMENT)
    on_request: ClassVar[bool] = True
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="off-beat chords come down to their bass",
            before="book=beginner tempo=100\nRH: G5h E5h\nLH: C3q E4+G4q C3q E4+G4q",
            after="RH: G5h E5h\nLH: C3q E3+G3q C3q E3+G3q",
        ),
        Rewrites(
            title="a broken chord moves as one figure",
            before="book=late-beginner tempo=60\nRH: C6w\nLH: C3e G4e E4e G4e C3e G4e E4e G4e",
            after="RH: C6w\nLH: C3e G3e E3e G3e C3e G3e E3e G3e",
        ),
        Rewrites(
            title="a short doubling is left out where the nearer string still sounds",
            before="book=beginner tempo=60\nRH: F5w\nRH2: A3w\nLH: D3e A4e D3q D3h",
            after="RH: F5w\nRH2: A3w\nLH: D3e re D3q D3h",
        ),
        Keeps(
            title="an octave is within a pupil's hand",
            score="book=beginner tempo=100\nRH: G5h E5h\nLH: C3q C4q C3q C4q",
            because="eight strings are most at this level",
        ),
        Keeps(
            title="a melody leaps as it is written",
            score="book=beginner tempo=100\nRH: C4q C6q C4q C6q\nLH: C3w",
            because="it is the melody",
        ),
        Keeps(
            title="there is time for a slow leap",
            score="book=beginner tempo=40\nRH: G5h E5h\nLH: C3q E4+G4q C3q E4+G4q",
            because="a beat lasts longer than a second",
        ),
    )

    prices: PriceList = PriceList()

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each stretch that moves, hand by hand."""
        strings = frozenset(string.open.line for string in used_strings(harp, player))
        for staves in score.harps:
            found = closed_leaps(score, staves, player, self.prices, strings)
            for one in sorted(found, key=lambda c: (c.notes[0].start, c.hand)):
                yield self._change(score, one, player)

    def _change(self, score: Score, one: ClosedLeap, player: Player) -> Change:
        low, high = one.leap.ends
        verb = "are" if len(one.notes) > 1 else "is"
        return Change(
            self.id,
            Where.of_note(score, one.notes[0].note),
            f"Between {low} and {high} the {one.hand.value} hand would leap over "
            f"{one.leap.strings} strings within a beat, {player.leap_strings} is most here; "
            f"{_named(one)} {verb} {_way(one)}.",
            Fidelity.LOSSY if one.octaves is None else Fidelity.IDIOMATIC,
            tuple(_edits(score, one)),
            tuple(_options(one)),
        )


def _way(one: ClosedLeap) -> str:
    if one.octaves is None:
        return "left out"
    return f"played an octave {'lower' if one.octaves < 0 else 'higher'}"


def _named(one: ClosedLeap) -> str:
    return listed(dict.fromkeys(str(note.note.pitch) for note in one.notes))


def _options(one: ClosedLeap) -> Iterator[Option]:
    is_moved = one.octaves is not None
    yield Option("leap as it is written", one.left)
    if is_moved:
        yield Option(f"have it {_way(one)}", one.cost, taken=True)
    if one.spared is not None:
        yield Option("leave it out", one.spared, taken=not is_moved)


def _edits(score: Score, one: ClosedLeap) -> Iterator[NoteEdit]:
    for note in one.notes:
        for event in note.ids:
            before = NoteValue.of(score.notes_by_id[event])
            if one.octaves is None:
                yield RemoveNote(event, before)
            else:
                pitch = replace(before.pitch, octave=before.pitch.octave + one.octaves)
                yield SetPitch(event, before, replace(before, pitch=pitch))
