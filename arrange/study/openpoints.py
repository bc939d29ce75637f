"""Which notes are left to the editor, and why."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from arrange.changes import OpenPoint, Where
from arrange.edits import AddRoll, NoteValue, SetPitch
from arrange.harp.harp import Harp
from arrange.harp.wording import note_in_words, question
from arrange.pitch import Pitch
from arrange.score.model import EventId, HandName, Mark, Note, Score
from arrange.score.own import OwnNotes
from arrange.score.plucks import PluckKind, plucks
from arrange.study.decided import HeldLever
from arrange.study.grips import HeldMoment, unheld
from arrange.study.levering import Treatment, plan_as_it_stands
from arrange.study.terms import Terms

TAKES = ("take-left", "take-right")
NO_PITCHES: Mapping[EventId, Pitch] = {}
_OPEN_SWEEP = (
    "The levers cannot be set in time for the tones of this glissando.",
    ("sweep with the tones that stand", "write out a scale"),
)
_OPEN_GOAL = (
    "The glissando leads to a note that is left open.",
    ("let it end on another string", "leave the glissando out"),
)
_OPEN_GRIP = (
    "The notes of this chord are more, or lie wider, than one hand holds.",
    ("break the chord", "leave out a note", "revoice the chord"),
)


@dataclass(frozen=True, slots=True)
class OpenNotes:
    """Notes of one moment and staff that are left open for one reason.

    Attributes:
        notes: with the pitch that they keep; *text*: the mark on the page.
        restored: with the first note of a pluck: what gives all its notes that pitch again.
        stands_alone: nothing else stands at that moment on that staff.
    """

    notes: tuple[Note, ...]
    problem: str
    suggestions: tuple[str, ...]
    restored: tuple[SetPitch, ...] = ()
    stands_alone: bool = False

    @property
    def text(self) -> str:
        """A question to the editor; it says the note only where one may ask which."""
        return "?" if self.stands_alone else question(n.pitch for n in self.notes)


@dataclass(frozen=True, slots=True)
class WideChord:
    """A chord that has become too wide to be plucked together, and how it is rolled."""

    notes: tuple[Note, ...]
    roll: AddRoll


def open_notes(
    score: Score,
    terms: Terms,
    first: Mapping[EventId, Pitch] = NO_PITCHES,
    *,
    may_roll: bool = True,
) -> Iterator[OpenNotes | WideChord]:
    """Yield what the score as it stands leaves open: levers harp by harp, then grips.

    *first* holds the transposed source's pitch of each note that has another one by now: what
    is left to the editor keeps that of the source.
    """
    done: set[EventId] = set()
    while True:
        found = list(_open_levers(_with_open(score, done, first), terms, done, first))
        if not found:
            break
        yield from found
    yield from _open_goals(score, done, first)
    for moment in _unheld(score, terms, done, first):
        way = moment.way
        if may_roll and not way.taken and not way.left_out:
            yield from (WideChord(_played(moment, hand), moment.roll(hand)) for hand in way.rolled)
            continue
        rolled = () if may_roll else tuple(n for h in way.rolled for n in moment.played_by(h))
        for note in (*moment.of((*way.taken, *way.left_out)), *rolled):
            done.update(note.ids)
            notes = as_it_was(score, note.ids, first)
            yield from _by_place(score, notes, *_OPEN_GRIP)


def open_levers(score: Score, terms: Terms) -> Iterator[OpenPoint]:
    """Yield the levers that an editor pinned and that cannot be had so."""
    for plan in plan_as_it_stands(score, terms):
        for lever in plan.open_levers:
            if not isinstance(lever, HeldLever):
                continue
            number = score.measure(lever.part, lever.index).number
            yield OpenPoint(
                Where(lever.part, lever.index, number, lever.offset, plan.staves[0].staff),
                (),
                f"The lever of {lever.string} is pinned {lever.position.value} from here, and "
                "cannot be had so: no hand is free for it, or another pin is against it.",
                ("take the pin back", "pin it at another place"),
            )


def _with_open(score: Score, done: set[EventId], first: Mapping[EventId, Pitch]) -> Score:
    """The score as it stands when *done* is marked too: others may then be left open.

    A note that gets its first pitch again is no longer the one that the other hand takes.
    """
    if not done:
        return score
    back = {note.id for note in as_it_was(score, tuple(done), first) if _is_moved(score, note)}
    return replace(
        score,
        left_open=(*score.left_open, *sorted(done)),
        reassigned=tuple(pair for pair in score.reassigned if pair[0] not in back),
    )


def _open_levers(
    score: Score, terms: Terms, done: set[EventId], first: Mapping[EventId, Pitch]
) -> Iterator[OpenNotes]:
    """What the plan leaves open and is not *done*; it is put there."""
    for plan in plan_as_it_stands(score, terms):
        for treatment in plan.treatments:
            if treatment.label != "open" or treatment.pluck.note in done:
                continue
            chain = (*treatment.pluck.tied, *treatment.pluck.doubles)
            done.update(chain)
            notes = as_it_was(score, chain, first)
            problem, suggestions = _why(treatment, notes[0], terms.harp)
            yield from _by_place(score, notes, problem, suggestions)
        chains = _chains(score) if plan.open_sweeps else {}
        for start in plan.open_sweeps:
            if start in done:
                continue
            chain = chains.get(start, (start,))
            done.update(chain)
            yield from _by_place(score, as_it_was(score, chain, first), *_OPEN_SWEEP)


def _open_goals(
    score: Score, done: set[EventId], first: Mapping[EventId, Pitch]
) -> Iterator[OpenNotes]:
    """Glissandi that lead to what is left open; they are *done* then."""
    aside = {*score.left_open, *done}
    chains = _chains(score) if score.sweeps else {}
    for sweep in score.sweeps:
        if sweep.end in aside and sweep.start not in aside:
            chain = chains.get(sweep.start, (sweep.start,))
            done.update(chain)
            yield from _by_place(score, as_it_was(score, chain, first), *_OPEN_GOAL)


def _chains(score: Score) -> dict[EventId, tuple[EventId, ...]]:
    """For each note of a tie, all of its notes: they are left open together."""
    return {
        note: pluck.tied
        for staves in score.harps
        for pluck in plucks(score, staves)
        if len(pluck.tied) > 1
        for note in pluck.tied
    }


def _unheld(
    score: Score, terms: Terms, done: set[EventId], first: Mapping[EventId, Pitch]
) -> Iterator[HeldMoment]:
    """What no hand holds, the notes that are *done* aside.

    What is left of a chord whose notes were put there is looked at again.
    """
    seen: set[tuple[EventId, ...]] = set()
    news = -1
    while news != len(done):
        news = len(done)
        standing = _with_open(score, done, first)
        for staves in score.harps:
            for moment in unheld(standing, staves, terms.player.grip, terms.prices):
                struck = tuple(held.note.id for held in moment.struck)
                if struck not in seen:
                    seen.add(struck)
                    yield moment


def _played(moment: HeldMoment, hand: HandName) -> tuple[Note, ...]:
    return tuple(held.note for held in moment.played_by(hand))


def as_it_was(
    score: Score, chain: tuple[EventId, ...], first: Mapping[EventId, Pitch]
) -> tuple[Note, ...]:
    """The notes of a chain with the pitches of the transposed source."""
    notes = (score.notes_by_id[i] for i in chain)
    return tuple(replace(n, pitch=first[n.id]) if n.id in first else n for n in notes)


def _by_place(
    score: Score, notes: tuple[Note, ...], problem: str, suggestions: tuple[str, ...]
) -> Iterator[OpenNotes]:
    """One mark a printed note: a tied note that goes on elsewhere has its own."""
    back = tuple(restored(score, notes))
    for note in notes:
        alone = _stands_alone(score, note)
        yield OpenNotes((note,), problem, suggestions, back if note is notes[0] else (), alone)


def _stands_alone(score: Score, note: Note) -> bool:
    around = score.measure(note.id.part, note.id.index).notes
    here = [n for n in around if (n.staff, n.offset) == (note.staff, note.offset)]
    return len(here) == 1 and not note.auxiliaries


def restored(score: Score, notes: tuple[Note, ...]) -> Iterator[SetPitch]:
    """The edits that give notes of the score the pitches that they have in *notes*."""
    for note in notes:
        if _is_moved(score, note):
            now = NoteValue.of(score.notes_by_id[note.id])
            yield SetPitch(note.id, now, replace(now, pitch=note.pitch))


def _is_moved(score: Score, note: Note) -> bool:
    """Whether a note of the score has another pitch now than *note* says."""
    return score.notes_by_id[note.id].pitch != note.pitch


def idle_words(score: Score, edits: tuple[SetPitch, ...], moved: set[EventId]) -> Iterator[Mark]:
    """Our words for the other hand that speak of no note any more, once *edits* are made.

    *moved* are the notes of earlier edits; those of these are put there.
    """
    moved.update(edit.note for edit in edits)
    for note in sorted(edit.note for edit in edits):
        measure = score.measure(note.part, note.index)
        here = score.notes_by_id[note]
        for mark in measure.marks:
            said = OwnNotes.parse(mark.own) if mark.own and mark.offset == here.offset else None
            if said is None or said.kind not in TAKES:
                continue
            keys = {pitch.midi for pitch in said.pitches}
            if here.pitch.midi in keys and not any(
                n.pitch.midi in keys and n.id not in moved
                for n in measure.notes
                if n.offset == mark.offset
            ):
                yield mark


def _why(treatment: Treatment, note: Note, harp: Harp) -> tuple[str, tuple[str, ...]]:
    is_auxiliary = treatment.pluck.kind is PluckKind.AUXILIARY
    pitch = treatment.pluck.pitch if is_auxiliary else note.pitch
    named = note_in_words(pitch)
    if note.microtone:
        return "A harp string has no quarter tones.", ("write the nearest semitone",)
    if is_auxiliary:
        return (
            f"The ornament needs {named}, which no free string gives at this moment.",
            ("leave the ornament out", "play a mordent on the other side"),
        )
    if not harp.homes(pitch.midi):
        return (
            f"No string of this harp gives {named}.",
            ("move it an octave", "leave it out", "choose another key"),
        )
    problem = (
        f"No hand is free to set the lever for {named} in time, or its string must sound "
        "another note at this moment."
    )
    return problem, (
        "slow down here",
        "let the other hand take notes",
        "leave it out",
        "choose another key",
    )
