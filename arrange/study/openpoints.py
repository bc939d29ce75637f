"""Which notes are left to the editor, and why."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from arrange.changes import OpenPoint, Where
from arrange.edits import AddRoll
from arrange.harp.harp import Harp
from arrange.harp.wording import note_in_words
from arrange.pitch import Pitch
from arrange.score.model import EventId, HandName, Note, Score
from arrange.score.plucks import PluckKind, plucks
from arrange.study.decided import HeldLever
from arrange.study.giving_way import GivingWay
from arrange.study.grips import HeldMoment, unheld
from arrange.study.leaving_open import NO_PITCHES, LeftOpen, OpenNotes, Why, as_it_was
from arrange.study.levering import Treatment, plan_as_it_stands
from arrange.study.terms import Terms

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

    Whatever is left open or rolled may make something else impossible, so everything is asked
    again until nothing is found.

    *first* holds the transposed source's pitch of each note that has another one by now: what
    is left to the editor keeps that of the source.
    """
    left = LeftOpen(score, first)
    while True:
        found: list[OpenNotes | WideChord] = list(_open_levers(left, terms))
        if not found:
            found += _open_goals(left)
            found += _open_grips(left, terms, may_roll=may_roll)
        if not found:
            return
        yield from found


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


def _open_levers(left: LeftOpen, terms: Terms) -> Iterator[OpenNotes]:
    """What the plan leaves open and is not done."""
    score = left.score
    for plan in plan_as_it_stands(left.standing(), terms):
        words = GivingWay(score, plan, terms.harp)
        for treatment in plan.treatments:
            if treatment.label != "open" or treatment.pluck.note in left.done:
                continue
            chain = (*treatment.pluck.tied, *treatment.pluck.doubles)
            note = as_it_was(score, chain[:1], left.first)[0]
            yield from left.leave(chain, _why(treatment, note, terms.harp, words))
        chains = _chains(score) if plan.open_sweeps else {}
        for start in plan.open_sweeps:
            if start not in left.done:
                yield from left.leave(chains.get(start, (start,)), _OPEN_SWEEP)


def _open_goals(left: LeftOpen) -> Iterator[OpenNotes]:
    """Glissandi that lead to what is left open."""
    score = left.score
    chains = _chains(score) if score.sweeps else {}
    for sweep in score.sweeps:
        aside = {*score.left_open, *left.done}
        if sweep.end in aside and sweep.start not in aside:
            yield from left.leave(chains.get(sweep.start, (sweep.start,)), _OPEN_GOAL)


def _open_grips(
    left: LeftOpen, terms: Terms, *, may_roll: bool
) -> Iterator[OpenNotes | WideChord]:
    """What no hand holds, the notes that are done aside."""
    for staves in left.score.harps:
        for moment in unheld(left.standing(), staves, terms.player.grip, terms.prices):
            way = moment.way
            if may_roll and not way.taken and not way.left_out:
                for hand in way.rolled:
                    chord = WideChord(_played(moment, hand), moment.roll(hand))
                    left.rolled |= dict.fromkeys(chord.roll.notes)
                    yield chord
                continue
            rolled = () if may_roll else tuple(n for h in way.rolled for n in moment.played_by(h))
            for note in (*moment.of((*way.taken, *way.left_out)), *rolled):
                yield from left.leave(note.ids, _OPEN_GRIP)


def _chains(score: Score) -> dict[EventId, tuple[EventId, ...]]:
    """For each note of a tie, all of its notes: they are left open together."""
    return {
        note: pluck.tied
        for staves in score.harps
        for pluck in plucks(score, staves)
        if len(pluck.tied) > 1
        for note in pluck.tied
    }


def _played(moment: HeldMoment, hand: HandName) -> tuple[Note, ...]:
    return tuple(held.note for held in moment.played_by(hand))


def _why(treatment: Treatment, note: Note, harp: Harp, words: GivingWay) -> Why:
    is_auxiliary = treatment.pluck.kind is PluckKind.AUXILIARY
    if note.microtone:
        return "A harp string has no quarter tones.", ("write the nearest semitone",)
    if is_auxiliary:
        named = note_in_words(treatment.pluck.pitch)
        return (
            f"The ornament needs {named}, which no free string gives at this moment.",
            ("leave the ornament out", "play a mordent on the other side"),
        )
    if not harp.homes(note.pitch.midi) and not harp.homes(treatment.pluck.pitch.midi):
        return (
            f"No string of this harp gives {note.pitch}.",
            ("move it an octave", "leave it out", "choose another key"),
        )
    problem, suggestions = _not_in_time(treatment, note, words)
    if not harp.homes(note.pitch.midi):
        return f"No string gives {note.pitch}, and {problem}", suggestions
    return problem[0].upper() + problem[1:], suggestions


def _not_in_time(treatment: Treatment, note: Note, words: GivingWay) -> Why:
    """Its string stands otherwise; of a note that was moved, the string that it was moved to."""
    named = note_in_words(treatment.pluck.pitch)
    is_moved = treatment.pluck.pitch.line != note.pitch.line
    named += ", where the note was moved," if is_moved else ""
    stands = words.stands_for(treatment)
    problem = (
        f"no hand can set the lever for {named} in time: its string {stands}."
        if stands
        else f"no hand is free to set the lever for {named} in time, or its string must sound "
        "another note at this moment."
    )
    return problem, (
        "slow down here",
        "let the other hand take notes",
        words.instead(treatment),
        "choose another key",
    )
