"""Writes fingers at the notes, and brackets over what is played from one placing."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import AddBracket, AddFingering, MarkEdit, MarkValue, RemoveNotation
from arrange.hands.fingering import HandFingering, fingering
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.pitch import Pitch
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import EventId, Finding, HandName, Note, Score, Sign
from arrange.score.own import bracket_id
from arrange.sources import COMMON_PRACTICE, HOUSE_JUDGEMENT, Source
from arrange.study.pianistic import piano_fingering
from arrange.study.placing_marks import Figure, figures

_NUMBERS = {HandName.RIGHT: (3, 4), HandName.LEFT: (5, 6)}
"""Which numbers pair the ends of our brackets, in turn, so that no end is taken for that of
the neighbour; high ones, clear of what the source has."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteFingering(Rule):
    """Fingers and brackets, where they are asked for.

    What it does:
        Writes a finger at each string, 1 for the thumb to 4, and a bracket over the notes that
        are played from one placing of the hand: right hand above, left hand below.

    Why it helps:
        On a harp the fingers stand on their strings before they play. The bracket shows what
        to place, the fingers how, and where one bracket meets the next a finger crosses.

    When it holds back:
        A fingering that a harpist wrote stays, and the rest is worked out around it; only
        where its note has moved to another string does it go. A string that keeps its finger
        under one bracket is numbered once, a figure that comes back at once not again. What
        four fingers cannot take gets none.

    What it costs:
        EXACT: nothing sounds different.

    Sources:
        Four fingers, brackets for placing, up a scale 4 crosses under, down the thumb crosses
        over: common practice. Prices of fingers and moves: house judgement.
    """

    id: ClassVar[RuleId] = "write-fingering"
    stage: ClassVar[Stage] = Stage.CUES
    after: ClassVar[frozenset[RuleId]] = frozenset({"write-lever-cues"})
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE, HOUSE_JUDGEMENT)
    on_request: ClassVar[bool] = True
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="up a scale the fourth finger crosses under, down the thumb crosses over",
            before=(
                "key=0 tempo=60 | C4e D4e E4e F4e G4e A4e B4e C5e | "
                "C5e B4e A4e G4e F4e E4e D4e C4e"
            ),
            after=(
                'key=0 tempo=60 | "bracket start"#leverwright.bracket.right.P1.0.0.start C4(4)e '
                'D4(3)e E4(2)e "bracket stop"#leverwright.bracket.right.P1.0.0.stop F4(1)e '
                '"bracket start"#leverwright.bracket.right.P1.0.2.start G4(4)e A4(3)e B4(2)e '
                '"bracket stop"#leverwright.bracket.right.P1.0.2.stop C5(1)e | '
                '"bracket start"#leverwright.bracket.right.P1.1.0.start C5(1)e B4(2)e A4(3)e '
                '"bracket stop"#leverwright.bracket.right.P1.1.0.stop G4(4)e '
                '"bracket start"#leverwright.bracket.right.P1.1.2.start F4(1)e E4(2)e D4(3)e '
                '"bracket stop"#leverwright.bracket.right.P1.1.2.stop C4(4)e'
            ),
        ),
        Rewrites(
            title="a harpist's fingers stay, and the others follow from them",
            before="key=0 tempo=60 | C5h E5(2)h",
            after=(
                'key=0 tempo=60 | "bracket start"#leverwright.bracket.right.P1.0.0.start '
                'C5(3)h "bracket stop"#leverwright.bracket.right.P1.0.0.stop E5(2)h'
            ),
        ),
        Rewrites(
            title="a chord of four has the thumb on top; in the left hand too",
            before="key=0 tempo=60\nRH: rw\nLH: C3+E3+G3+C4w",
            after="key=0 tempo=60\nRH: rw\nLH: C3(4)+E3(3)+G3(2)+C4(1)w",
        ),
        Keeps(
            title="what is fingered stays as it is",
            score="key=0 tempo=60 | C5(3)+E5(2)+G5(1)w",
            because="every note has its finger already",
        ),
        Keeps(
            title="more notes than a hand has fingers get none",
            score="key=0 tempo=60 | C4+E4+G4+C5+E5w",
            because="the little finger never plays",
        ),
    )

    first_pitches: tuple[tuple[EventId, Pitch], ...] = ()
    """The pitch of each note before it was moved, where it was."""

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each figure of each hand, and say what cannot be fingered."""
        del harp
        moved = self._moved(score)
        uncounted = moved.union(_pianists(score))
        there = {mark.own for p in score.parts for m in p.measures for mark in m.marks if mark.own}
        for staves in score.harps:
            for hand in fingering(score, staves, player, frozenset(uncounted)):
                for place, figure in enumerate(figures(hand)):
                    number = _NUMBERS[hand.hand][place % 2]
                    edits = (*_fingers(figure, moved), *_bracket(figure, number, there))
                    if edits:
                        where = Where.of_note(score, figure.first)
                        yield Change(self.id, where, figure.reason, Fidelity.EXACT, edits)
                yield from _unplayed(score, hand)

    def _moved(self, score: Score) -> frozenset[EventId]:
        """Notes that stand on another string than when their fingering was written."""
        notes = score.notes_by_id
        return frozenset(
            event
            for event, pitch in self.first_pitches
            if event in notes and notes[event].pitch.line != pitch.line
        )


def _pianists(score: Score) -> Iterator[EventId]:
    """Notes that carry a pianist's fingering still."""
    for part in score.harp_parts:
        if piano_fingering(score, part):
            for measure in score.by_part[part].measures:
                yield from (n.id for n in measure.notes if n.has(Sign.FINGERING))


def _fingers(figure: Figure, moved: frozenset[EventId]) -> Iterator[MarkEdit]:
    new = set(figure.numbered())
    for one in figure.row:
        for note, finger in one:
            signs = note.signs(Sign.FINGERING) if note.notations else ()
            texts = [sign.text for sign in signs]
            if note.id in moved and texts and texts != [str(finger)]:
                for sign in signs:
                    yield RemoveNotation(note.id, sign.key, _value(note, sign.text))
            elif note.id in one.handful.fingered or (note.id, finger) not in new:
                continue
            above = figure.hand is HandName.RIGHT
            if str(finger) not in texts:
                yield AddFingering(note.id, _value(note, str(finger)), above=above)


def _value(note: Note, text: str) -> MarkValue:
    return MarkValue(note.id.index, note.offset, note.staff, text)


def _bracket(figure: Figure, number: int, there: set[str]) -> Iterator[MarkEdit]:
    if figure.is_repeat or not figure.has_bracket:
        return
    first, start = figure.first, figure.row[0].handful
    stop = figure.row[-1].handful
    for handful, end in ((start, "start"), (stop, "stop")):
        own = bracket_id(figure.hand, first.id, start.offset, end)
        if own not in there:
            place = MarkValue(handful.index, handful.offset, first.staff, f"bracket {end}")
            above = figure.hand is HandName.RIGHT
            yield AddBracket(first.id.part, own, number, place, above=above)


def _unplayed(score: Score, hand: HandFingering) -> Iterator[Finding]:
    for handful in hand.unplayed[:1]:
        part = handful.notes[0].id.part
        number = score.measure(part, handful.index).number
        count = len(hand.unplayed)
        more = "" if count == 1 else f" ({count} places like it in all)"
        yield Finding(
            f"No fingers are written for the {hand.hand.value} hand in measure {number}: it has "
            f"more notes than fingers, or fingers that stand out of order{more}.",
            part,
            handful.index,
            number,
        )
