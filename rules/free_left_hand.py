"""Frees the left hand where a lever has to be moved and no hand has time for it."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from typing import ClassVar

from arrange.changes import Change, Fidelity, RuleId, Where
from arrange.edits import AddWords, MarkValue, NoteValue, RemoveNote
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.harp.wording import note_in_words
from arrange.phrasing import listed
from arrange.pitch import Pitch
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import Score
from arrange.score.own import OwnNotes, last_serial
from arrange.score.plucks import Pluck
from arrange.sources import COMMON_PRACTICE, HOUSE_JUDGEMENT, Source
from arrange.study.cueing import outside
from arrange.study.decided import NOTHING_DECIDED, Decided
from arrange.study.freeing import Freed, freed, refusals
from arrange.study.planning import pitch_of
from arrange.study.prices import PriceList
from arrange.study.reliefs import Relief
from arrange.study.terms import Terms
from arrange.units import SECOND, Microseconds, seconds

LONG: Microseconds = 10 * SECOND
"""From here on a reason no longer counts the seconds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeLeftHand(Rule):
    """Time for a lever, by handing notes over, letting a string ring, or sparing a light note.

    What it does:
        Where notes would be lost, or a move hurried, because the left hand is busy, the right
        hand takes the left's notes of that moment, marked "R.H."; or a string that still rings
        is not struck again. Where melody or bass would be lost even so, light notes of the
        accompaniment are left out.

    Why it helps:
        A hand that plucks moves no lever. Around a lever players let the other hand take over
        as a matter of course, and it sounds the same; and a stroke of the accompaniment is
        missed less than a note of the tune.

    When it holds back:
        The right hand takes nothing that it does not reach in one grip or one leap of an
        octave, and nothing below C3; melody notes and the bass on strong beats are always
        struck. For an inner note no other is left out, nor on a strong beat, nor one that
        fills a beat alone, for that is a line. Nothing is done that a plan of all the levers
        does not repay.

    What it costs:
        EXACT where the other hand takes notes, LOSSY where one is not struck again or left out.

    Sources:
        The right hand takes left-hand notes near a change; the left hand's rhythm is simplified
        to free it: common practice. The prices are house judgement.
    """

    id: ClassVar[RuleId] = "free-left-hand"
    stage: ClassVar[Stage] = Stage.LEVERS
    after: ClassVar[frozenset[RuleId]] = frozenset({"merge-homophones"})
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE, HOUSE_JUDGEMENT)
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="the right hand takes chords under its held note while a lever is moved",
            before=(
                "time=3/4 tempo=100\nRH: F4q A4h | A4h. | F#4h.\n"
                "LH: F2q A3+C4q A3+C4q | E2q A3+C4q A3+C4q | D2h."
            ),
            after=(
                "time=3/4\nRH: F4q A4h | A4h. | F#4h.\n"
                'LH: F2q A3+C4q A3+C4q | E2q <"R.H."#leverwright.take-right.1.A3-C4 A3+C4q '
                '<"R.H."#leverwright.take-right.2.A3-C4 A3+C4q | D2h.'
            ),
        ),
        Rewrites(
            title="a string that still rings is not struck again before a lever is moved",
            before=(
                "time=3/4 tempo=100\nRH: F4q A5h | A5h. | F#4h.\n"
                "LH: F2q C3q C3q | E2q G2+C3q G2+C3q | D2h."
            ),
            after=("time=3/4\nRH: F4q A5h | A5h. | F#4h.\nLH: F2q C3q C3q | E2q G2+C3q rq | D2h."),
        ),
        Rewrites(
            title="light notes of the accompaniment make room for a note of the melody",
            before=(
                "time=3/4 tempo=100\nRH: F4q A6h | A6h. | F#4h.\n"
                "LH: F2q C3e D3e C3e D3e | E2q B2e G2e B2e G2e | D2h."
            ),
            after=(
                "time=3/4\nRH: F4q A6h | A6h. | F#4h.\n"
                "LH: F2q C3e D3e C3e D3e | E2q re re B2e G2e | D2h."
            ),
        ),
        Keeps(
            title="a line of the left hand is not left out",
            score=(
                "time=3/4 tempo=100\nRH: F4q A6h | A6h. | F#4h.\n"
                "LH: F2q C3q D3q | E2q B2q A2q | D2h."
            ),
            because="each note fills its beat alone",
        ),
        Keeps(
            title="nothing changes hands where the left hand has time",
            score=(
                "time=3/4 tempo=80\nRH: F4q A4h | A4h. | F#4h.\nLH: F2q A3+C4h | E2q A3+C4h | D2h."
            ),
            because="half a measure is long enough to move a lever and be back",
        ),
        Keeps(
            title="the right hand does not leap down two octaves for the left",
            score=(
                "time=3/4 tempo=100\nRH: F4q A6h | A6q G6q A6q | F#4h.\n"
                "LH: F2q A3+C4q B3+D4q | E2q G3+E4q A3+F4q | D2h."
            ),
            because="it is too far away, and no string rings on",
        ),
        Keeps(
            title="the bass on a strong beat is struck again",
            score=(
                "time=2/4 tempo=200\nRH: F4q A5q | A5h | A5h | A5h | F#4h\n"
                "LH: F2h | F2h | F2h | F2h | F2h"
            ),
            because="the bass is never taken away, though its string rings on",
        ),
    )

    prices: PriceList = PriceList()
    decided: Decided = NOTHING_DECIDED
    """What an editor has decided beforehand."""
    limit: Fidelity = Fidelity.LOSSY
    """The furthest that a relief may go."""

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each moment that is handed over or not struck."""
        serials = count(1)
        made: dict[Relief, tuple[str, ...]] = {}
        terms = Terms(harp, player, self.prices, decided=self.decided)
        every = freed(score, terms, self.limit)
        yield from refusals(every, score, terms)
        for found in every:
            if not made:
                serials = count(last_serial(score) + 1)
            needed: tuple[str, ...] = ()
            for relief in found.reliefs:
                if relief not in made:
                    changes = []
                    if relief.left_out:
                        changes.append(self._left_out(score, relief, found, needed))
                    if relief.given_up:
                        changes.append(self._given_up(score, relief, found, needed))
                    if relief.taken:
                        words = _words(score, relief, harp, next(serials))
                        changes.append(self._taken(score, relief, found, (words, needed)))
                    yield from changes
                    made[relief] = tuple(change.id for change in changes)
                needed += made[relief]

    def _left_out(
        self, score: Score, relief: Relief, found: Freed, needed: tuple[str, ...]
    ) -> Change:
        rings = "still rings and is" if len(relief.left_out) == 1 else "still ring and are"
        words = f"{_named(relief.left_out)} {rings} not struck again"
        return self._gone(score, relief.left_out, found, (words, needed))

    def _given_up(
        self, score: Score, relief: Relief, found: Freed, needed: tuple[str, ...]
    ) -> Change:
        is_one = len(relief.given_up) == 1
        light = "is left out, a light note" if is_one else "are left out, light notes"
        words = f"{_named(relief.given_up)} {light} of the accompaniment"
        return self._gone(score, relief.given_up, found, (words, needed))

    def _gone(
        self, score: Score, gone: tuple[Pluck, ...], found: Freed, how: tuple[str, tuple[str, ...]]
    ) -> Change:
        words, needed = how
        ids = [i for pluck in gone for i in pluck.tied]
        return Change(
            self.id,
            Where.of_note(score, score.notes_by_id[ids[0]]),
            f"{words}, {_so_that(found)}.",
            Fidelity.LOSSY,
            tuple(RemoveNote(i, NoteValue.of(score.notes_by_id[i])) for i in ids),
            options=found.options,
            depends_on=needed,
        )

    def _taken(
        self, score: Score, relief: Relief, found: Freed, how: tuple[AddWords, tuple[str, ...]]
    ) -> Change:
        words, needed = how
        return Change(
            self.id,
            Where.of_note(score, score.notes_by_id[relief.taken[0].note]),
            f"The right hand takes {_named(relief.taken)}, {_so_that(found)}.",
            Fidelity.EXACT,
            (words,),
            options=found.options,
            depends_on=needed,
        )


def _words(score: Score, relief: Relief, harp: Harp, serial: int) -> AddWords:
    """The mark "R.H."; it knows the notes by each name that their strings could give them."""
    first = score.notes_by_id[relief.taken[0].note]
    named: dict[Pitch, None] = {}
    for pluck in relief.taken:
        homes = harp.homes(pluck.pitch.midi)
        named |= dict.fromkeys(
            (pluck.pitch, *(pitch_of(harp, (h.string, h.position)) for h in homes))
        )
    own = OwnNotes("take-right", serial, tuple(named))
    value = MarkValue(first.id.index, first.offset, first.staff, "R.H.")
    side = outside(score, first.id.part, first.staff)
    return AddWords(first.id.part, own.id, value, above=side)


def _so_that(found: Freed) -> str:
    named = note_in_words(found.note)
    if found.has >= LONG:
        return f"so that the left hand has all the time it needs to set {named}"
    return (
        f"so that the left hand has {_in_words(found.has)} instead of {_in_words(found.had)} "
        f"to set {named} while its string is quiet"
    )


def _in_words(time: Microseconds) -> str:
    tenths = round(10 * seconds(time))
    return f"{tenths // 10}.{tenths % 10} s"


def _named(plucks: tuple[Pluck, ...]) -> str:
    return listed(str(pluck.pitch) for pluck in plucks)
