"""Sees to it that no hand is asked for more notes, or a wider span, than it holds."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from typing import ClassVar

from arrange.changes import Change, Fidelity, OpenPoint, RuleId, Where
from arrange.edits import AddWords, MarkValue, NoteValue, RemoveNote
from arrange.hands.player import Grip, Player
from arrange.harp.harp import Harp
from arrange.harp.wording import pitches_in_signs, question
from arrange.phrasing import listed
from arrange.pitch import Pitch
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import EventId, HandName, Score
from arrange.score.own import OwnNotes, last_serial
from arrange.sources import COMMON_PRACTICE, HOUSE_JUDGEMENT, Source
from arrange.study.cueing import crosses_over, outside
from arrange.study.giving_way import spared_in_words
from arrange.study.grips import HeldMoment, unheld
from arrange.study.leaving_open import as_it_was, restored
from arrange.study.prices import PriceList
from arrange.study.roles import roles
from arrange.study.timeline import Sounding

SHORT = {HandName.LEFT: "L.H.", HandName.RIGHT: "R.H."}


SUGGESTIONS = ("break the chord", "leave out a note", "revoice the chord")


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareWideGrips(Rule):
    """Too many notes or too wide for a hand: shared, rolled, or thinned.

    What it does:
        Where one hand would strike more notes than it has fingers for, or more strings apart
        than it reaches, gives notes to the other hand if that is free and near, marked "L.H."
        or "R.H."; else rolls the chord where a roll reaches; else leaves out doublings, then
        inner notes that the harmony can spare.

    Why it helps:
        A pianist's hand has five fingers and a thumb at the other side; a harpist plays with
        four, over a tenth at most.

    When it holds back:
        Melody and bass are never left out, nor the third of a cadence; where no way is left
        the notes that do not fit are an open point.

    What it costs:
        EXACT for notes that change hands, IDIOMATIC for a roll, LOSSY for a note left out.

    Sources:
        Four notes and a tenth a hand, sharing and rolling: common practice; the order and the
        prices are house judgement.
    """

    id: ClassVar[RuleId] = "share-wide-grips"
    stage: ClassVar[Stage] = Stage.GRIP
    after: ClassVar[frozenset[RuleId]] = frozenset({"fold-into-compass"})
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE, HOUSE_JUDGEMENT)
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="the top of a left hand too wide goes to the free right hand",
            before="RH: rh G5h\nLH: C3+G3+G4h C3+E3h",
            after='RH: rh G5h\nLH: "R.H."#leverwright.take-right.1.G4 C3+G3+G4h C3+E3h',
        ),
        Rewrites(
            title="an eleventh is rolled where the right hand is away",
            before="RH: C6q D6q E6q F6q\nLH: C3+G3+C4+F4h C3h",
            after="RH: C6q D6q E6q F6q\nLH: C3(roll)+G3(roll)+C4(roll)+F4(roll)h C3h",
        ),
        Rewrites(
            title="a fifth note that doubles another is left out",
            before="RH: C4+E4+G4+C5+E5w\nLH: C2+G2+C3w",
            after="RH: E4+G4+C5+E5w\nLH: C2+G2+C3w",
        ),
        Rewrites(
            title="the leading note of a cadence that neither hand reaches is an open point",
            before="RH: D6+F6w | C6+E6w\nLH: G2+B4w | C3+G3w",
            after='RH: D6+F6w | C6+E6w\nLH: "? B4"#leverwright.open.1.B4 G2+B4w | C3+G3w',
        ),
        Keeps(
            title="four notes over a tenth are one grip",
            score="RH: C4+E4+G4+E5w\nLH: C2+G2+C3+E3w",
            because="four fingers reach ten strings",
        ),
        Keeps(
            title="an eleventh that is rolled already stays",
            score="RH: C6w\nLH: C3(roll)+G3(roll)+C4(roll)+F4(roll)w",
            because="a roll reaches eleven strings",
        ),
        Keeps(
            title="a wide broken chord is no grip",
            score="RH: C5w\nLH: C2q C3q E3q C4q",
            because="its notes come one after another",
        ),
    )

    prices: PriceList = PriceList()
    first_pitches: tuple[tuple[EventId, Pitch], ...] = ()
    """The transposed source's pitches of the notes that have others by now."""

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield what each moment takes, in score order."""
        del harp
        serials = count(last_serial(score) + 1)
        for staves in score.harps:
            for moment in unheld(score, staves, player.grip, self.prices):
                if moment.is_open:
                    yield from self._left_open(score, moment, player.grip, next(serials))
                    continue
                needed = []
                for note in moment.of(moment.way.left_out):
                    gone = self._left_out(score, moment, note, player.grip)
                    needed.append(gone.id)
                    yield gone
                if moment.way.taken:
                    yield self._taken(score, moment, player.grip, next(serials), tuple(needed))
                for hand in moment.way.rolled:
                    yield self._rolled(score, moment, hand, tuple(needed))

    def _left_out(self, score: Score, moment: HeldMoment, note: Sounding, grip: Grip) -> Change:
        edits = tuple(RemoveNote(i, NoteValue.of(score.notes_by_id[i])) for i in note.ids)
        pitch = note.note.pitch
        return Change(
            self.id,
            Where.of_note(score, note.note),
            f"{_trouble(moment, grip, note.hand)}; {pitch} is left out, and "
            f"{spared_in_words(roles(score)[note.note.id])}.",
            Fidelity.LOSSY,
            edits,
        )

    def _taken(
        self, score: Score, moment: HeldMoment, grip: Grip, serial: int, needed: tuple[str, ...]
    ) -> Change:
        notes = moment.of(moment.way.taken)
        hand = moment.way.by or HandName.RIGHT
        first = notes[0].note
        own = OwnNotes(f"take-{hand.value}", serial, tuple(n.note.pitch for n in notes))
        crosses = crosses_over(score, first.id.part, first.id.index)
        text = f"{SHORT[hand]} {pitches_in_signs(own.pitches)}" if crosses else SHORT[hand]
        words = AddWords(
            first.id.part,
            own.id,
            MarkValue(first.id.index, first.offset, first.staff, text),
            above=hand is HandName.RIGHT and not crosses,
        )
        named, giver = _named(notes), notes[0].hand
        return Change(
            self.id,
            Where.of_note(score, first),
            f"{_trouble(moment, grip, giver)}; the {hand.value} hand is near and takes {named}.",
            Fidelity.EXACT,
            (words,),
            depends_on=needed,
        )

    def _rolled(
        self, score: Score, moment: HeldMoment, hand: HandName, needed: tuple[str, ...]
    ) -> Change:
        notes = moment.played_by(hand)
        first = notes[0].note
        return Change(
            self.id,
            Where.of_note(score, first),
            f"{_named(notes)} are too wide to be plucked together by the {hand.value} hand; "
            "rolled, they can be reached.",
            Fidelity.IDIOMATIC,
            (moment.roll(hand),),
            depends_on=needed,
        )

    def _left_open(
        self, score: Score, moment: HeldMoment, grip: Grip, serial: int
    ) -> Iterator[Proposal]:
        held = moment.of(moment.way.left_out)
        where = Where.of_note(score, held[0].note)
        first_pitches = dict(self.first_pitches)
        chains = [as_it_was(score, note.ids, first_pitches) for note in held]
        back = tuple(edit for chain in chains for edit in restored(score, chain))
        notes = [chain[0] for chain in chains]
        problem = (
            f"{_trouble(moment, grip, held[0].hand)}, and no note of it can be spared or shared."
        )
        needed: tuple[str, ...] = ()
        if back:
            names = ", ".join(str(note.pitch) for note in notes)
            reason = f"{names} is left to the editor, so it stands as the source has it."
            restoring = Change(self.id, where, reason, Fidelity.EXACT, back)
            needed = (restoring.id,)
            yield restoring
        for staff in sorted({n.staff for n in notes}):
            here = [n for n in notes if n.staff == staff]
            pitches = tuple(n.pitch for n in here)
            place = Where.of_note(score, here[0])
            yield OpenPoint(place, tuple(map(str, pitches)), problem, SUGGESTIONS)
            own = OwnNotes("open", serial, pitches)
            value = MarkValue(place.index, place.offset, staff, question(pitches))
            side = outside(score, place.part, staff)
            words = AddWords(place.part, own.id, value, above=side)
            yield Change(self.id, place, problem, Fidelity.EXACT, (words,), depends_on=needed)


def _trouble(moment: HeldMoment, grip: Grip, first: HandName) -> str:
    """``The left hand would strike 5 notes`` or ``would span 12 strings``; *first* if it does."""
    for hand in sorted(HandName, key=lambda hand: hand is not first):
        notes = moment.of_hand(hand)
        strings = {n.line for n in notes}
        if len(strings) > grip.notes:
            return f"The {hand.value} hand would strike {len(strings)} notes, {grip.notes} is most"
        span = max(strings, default=0) - min(strings, default=0) + 1
        if span > grip.strings:
            ends = f"{notes[0].note.pitch} to {notes[-1].note.pitch}"
            return f"The {hand.value} hand would span {span} strings, {ends}"
    return "The grip is too much for one hand"  # pragma: no cover - one of the two is


def _named(notes: tuple[Sounding, ...]) -> str:
    return listed(str(note.note.pitch) for note in notes)
