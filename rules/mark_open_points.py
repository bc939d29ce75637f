"""Marks in the score, and lists, what is left to the editor."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from typing import ClassVar

from arrange.changes import Change, Fidelity, OpenPoint, RuleId, Where
from arrange.edits import AddWords, MarkValue, RemoveMark, SetPitch
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.pitch import Pitch
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import EventId, Mark, Score
from arrange.score.own import OwnNotes, last_serial
from arrange.sources import COMMON_PRACTICE, Source
from arrange.study.cueing import outside
from arrange.study.decided import NOTHING_DECIDED, Decided
from arrange.study.leaving_open import idle_words
from arrange.study.openpoints import WideChord, open_levers, open_notes
from arrange.study.prices import PriceList
from arrange.study.terms import Terms


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkOpenPoints(Rule):
    """A visible mark at every note that could not be had.

    What it does:
        Prints a short mark at each note that no string gives, no hand can set in time or no
        hand can hold, and lists it with what could be done.

    Why it helps:
        Nothing is lost in silence: the editor sees each place and decides.

    When it holds back:
        Where everything can be played, nothing is marked. A chord that has only become a string
        too wide by being written as it is played is rolled.

    What it costs:
        EXACT: the notes stay, or get again, as the source has them. A roll is IDIOMATIC.

    Sources:
        Never silently leave an unreachable note: common practice.
    """

    id: ClassVar[RuleId] = "mark-open-points"
    stage: ClassVar[Stage] = Stage.CUES
    after: ClassVar[frozenset[RuleId]] = frozenset({"set-levers"})
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE,)
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="a melody note whose lever nobody can move in time is marked",
            before="key=0 tempo=120\nRH: F5q F#5q F5q F#5q\nLH: C3q G3q C3q G3q",
            after=(
                'RH: F5q "?"#leverwright.open.1.Fs5 F#5q F5q '
                '"?"#leverwright.open.2.Fs5 F#5q\nLH: C3q G3q C3q G3q'
            ),
        ),
        Rewrites(
            title="a note that no string gives is marked",
            before="key=0 | C7q G6q E6h",
            after='key=0 | "?"#leverwright.open.1.C7 C7q G6q E6h',
        ),
        Keeps(
            title="a change with time for it is no open point",
            score="key=0 tempo=60 | F5h rh | F#5h rh",
            because="the left hand moves the lever in the rest",
        ),
        Keeps(
            title="a note that was left to the editor is not marked twice",
            score='key=0 | "?"#leverwright.open.1.C7 C7q G6q E6h',
            because="its mark stands there already",
        ),
    )

    prices: PriceList = PriceList()
    decided: Decided = NOTHING_DECIDED
    """What an editor has decided beforehand."""
    limit: Fidelity = Fidelity.LOSSY
    """The furthest that a change may go."""
    first_pitches: tuple[tuple[EventId, Pitch], ...] = ()
    """The transposed source's pitches of the notes that have others by now."""

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield an open point and its mark for each place."""
        terms = Terms(harp, player, self.prices, decided=self.decided)
        marked = frozenset(score.left_open)
        first_pitches = dict(self.first_pitches)
        moved: set[EventId] = set()
        serials = count(last_serial(score, "open") + 1)
        may_roll = self.limit is not Fidelity.EXACT
        if self.decided.levers:
            yield from open_levers(score, terms)
        for found in open_notes(score, terms, first_pitches, may_roll=may_roll):
            first = found.notes[0]
            where = Where.of_note(score, first)
            if isinstance(found, WideChord):
                yield self._rolled(where, found)
                continue
            if first.id in marked:
                continue
            serial = next(serials)
            needed: tuple[str, ...] = ()
            if found.restored:
                restoring = self._restoring(where, found.restored)
                needed = (restoring.id,)
                yield restoring
                for mark in idle_words(score, found.restored, moved):
                    yield self._without_word(score, restoring, mark)
            own = OwnNotes("open", serial, tuple(n.pitch for n in found.notes))
            yield OpenPoint(
                where, tuple(str(n.pitch) for n in found.notes), found.problem, found.suggestions
            )
            words = AddWords(
                first.id.part,
                own.id,
                MarkValue(first.id.index, first.offset, first.staff, found.text),
                above=outside(score, first.id.part, first.staff),
            )
            yield Change(
                self.id, where, found.problem, Fidelity.EXACT, (words,), depends_on=needed
            )

    def _rolled(self, where: Where, chord: WideChord) -> Change:
        names = ", ".join(str(note.pitch) for note in chord.notes)
        reason = f"On its strings, {names} is wider than a grip; the chord is rolled."
        return Change(self.id, where, reason, Fidelity.IDIOMATIC, (chord.roll,))

    def _without_word(self, score: Score, restoring: Change, mark: Mark) -> Change:
        """The other hand takes no note that is left to the editor at another place."""
        return Change(
            self.id,
            Where.of_mark(score, mark),
            f"There is no note here any more that '{mark.text}' speaks of.",
            Fidelity.EXACT,
            (RemoveMark(mark.id, MarkValue.of(mark)),),
            depends_on=(restoring.id,),
        )

    def _restoring(self, where: Where, edits: tuple[SetPitch, ...]) -> Change:
        """What is left to the editor stands as the source has it."""
        was, now = edits[0].before.pitch, edits[0].after.pitch
        reason = f"{now} is left to the editor, so it stands as the source has it, not as {was}."
        return Change(self.id, where, reason, Fidelity.EXACT, edits)
