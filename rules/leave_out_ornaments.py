"""Takes off the ornaments that a level does not play yet."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import MarkValue, NoteValue, RemoveNotation, RemoveNote
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import EventId, Measure, Notation, Note, Score, Sign
from arrange.sources import COMMON_PRACTICE, HOUSE_JUDGEMENT, Source

TURNS = frozenset({Sign.TURN, Sign.INVERTED_TURN, Sign.MORDENT, Sign.INVERTED_MORDENT})
WAVY = "wavy-line"
NAMES = {
    Sign.TRILL: "trill",
    Sign.TURN: "turn",
    Sign.INVERTED_TURN: "turn",
    Sign.MORDENT: "mordent",
    Sign.INVERTED_MORDENT: "mordent",
    Sign.TREMOLO: "tremolo",
    Sign.ARPEGGIATE: "roll",
    Sign.OTHER: "trill's line",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaveOutOrnaments(Rule):
    """Ornaments that the level does not play yet go; their main notes stay.

    What it does:
        Takes off trills, turns, mordents, tremolos, rolls and grace notes, as far as the level
        leaves them out.

    Why it helps:
        An ornament asks for strings and fingers of its own; without it the line is the same.

    When it holds back:
        The main note stays in its time. The small notes of a glissando are none of these.

    What it costs:
        IDIOMATIC for a roll, LOSSY for an ornament.

    Sources:
        Ornaments and trills become a single note: common practice; which level has which is
        house judgement.
    """

    id: ClassVar[RuleId] = "leave-out-ornaments"
    stage: ClassVar[Stage] = Stage.LEVEL
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE, HOUSE_JUDGEMENT)
    on_request: ClassVar[bool] = True
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="a trill becomes its main note",
            before="book=beginner\nRH: C5q D5q(trill) E5h",
            after="RH: C5q D5q E5h",
        ),
        Rewrites(
            title="grace notes go",
            before="book=beginner\nRH: C5q gE5s gD5s C5q E5h",
            after="RH: C5q C5q E5h",
        ),
        Rewrites(
            title="a roll goes where chords are plucked plainly",
            before="book=beginner\nRH: C5(roll)+E5(roll)w",
            after="RH: C5+E5w",
        ),
        Keeps(
            title="a mordent stays at the level that has it",
            score="book=intermediate\nRH: C5q D5q(mordent) E5h",
            because="it is three neighbouring strings",
        ),
        Keeps(
            title="a fermata is no ornament",
            score="book=beginner\nRH: C5q D5q E5h(fermata)",
            because="it asks for nothing but time",
        ),
        Keeps(
            title="fast written-out notes are melody",
            score="book=beginner\nRH: C5q D5s E5s D5s E5s D5h",
            because="the composer wrote them as notes",
        ),
    )

    trills: bool = False
    """Trills stay."""
    turns: bool = False
    """Turns and mordents stay."""
    tremolos: bool = False
    """Tremolos stay."""
    rolls: bool = False
    """Rolled chords stay."""
    graces: bool = False
    """Grace notes stay."""

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each ornamented note or group of graces, in score order."""
        del harp, player
        spared = frozenset(
            event
            for sweep in score.sweeps
            for event in (sweep.start, *sweep.notes, *((sweep.end,) if sweep.end else ()))
        )
        for part in score.harp_parts:
            for measure in score.by_part[part].measures:
                for note in measure.notes:
                    if note.notations and note.id not in spared:
                        yield from self._signs(score, note)
                if not self.graces:
                    yield from self._graces(score, measure, spared)

    def _signs(self, score: Score, note: Note) -> Iterator[Change]:
        signs = [sign for sign in note.notations if self._goes(sign)]
        if not signs:
            return
        names = " and the ".join(dict.fromkeys(NAMES[sign.sign] for sign in signs))
        is_roll = all(sign.sign is Sign.ARPEGGIATE for sign in signs)
        yield Change(
            self.id,
            Where.of_note(score, note),
            f"The {names} on {note.pitch} {'are' if ' and ' in names else 'is'} left out; "
            "the note itself stays.",
            Fidelity.IDIOMATIC if is_roll else Fidelity.LOSSY,
            tuple(
                RemoveNotation(
                    note.id,
                    sign.key,
                    MarkValue(note.id.index, note.offset, note.staff, sign.text),
                )
                for sign in signs
            ),
        )

    def _goes(self, sign: Notation) -> bool:
        match sign.sign:
            case Sign.TRILL:
                return not self.trills
            case Sign.OTHER:
                return not self.trills and sign.text == WAVY
            case Sign.TREMOLO:
                return not self.tremolos
            case Sign.ARPEGGIATE:
                return not self.rolls
            case _:
                return sign.sign in TURNS and not self.turns

    def _graces(
        self, score: Score, measure: Measure, spared: frozenset[EventId]
    ) -> Iterator[Change]:
        small = [n for n in measure.notes if n.is_grace and n.id not in spared and not n.is_cue]
        for _, row in groupby(small, lambda n: (n.offset, n.staff, n.voice)):
            notes = list(row)
            names = " ".join(str(note.pitch) for note in notes)
            yield Change(
                self.id,
                Where.of_note(score, notes[0]),
                f"The grace note{'s' if len(notes) > 1 else ''} {names} "
                f"{'are' if len(notes) > 1 else 'is'} left out; the main note stays.",
                Fidelity.LOSSY,
                tuple(RemoveNote(note.id, NoteValue.of(note)) for note in notes),
            )
