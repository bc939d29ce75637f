"""What is left to the editor so far, and the score as it will stand then."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from arrange.edits import NoteValue, SetPitch
from arrange.harp.wording import question
from arrange.pitch import Pitch
from arrange.score.model import EventId, Mark, Notation, Note, Part, Score, Sign
from arrange.score.own import OwnNotes

Why = tuple[str, tuple[str, ...]]
"""What is wrong, and what could be done."""
NO_PITCHES: Mapping[EventId, Pitch] = {}
ROLL = Notation(Sign.ARPEGGIATE, "arpeggiate.0")


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


class LeftOpen:
    """What is left open so far: others may then be left open as well.

    Attributes:
        score: as it stands before; *first*: the source's pitches of notes that have others.
        done: notes that are left open; *rolled*: notes that are rolled now.
    """

    def __init__(self, score: Score, first: Mapping[EventId, Pitch]) -> None:
        self.score, self.first = score, first
        self.done: dict[EventId, None] = {}
        self.rolled: dict[EventId, None] = {}

    def leave(self, chain: tuple[EventId, ...], why: Why) -> Iterator[OpenNotes]:
        """Leave the notes of a tie open; yield what is to be marked."""
        self.done |= dict.fromkeys(chain)
        yield from _by_place(self.score, as_it_was(self.score, chain, self.first), *why)

    def standing(self) -> Score:
        """The score as it will stand.

        A note that gets its first pitch again is no longer the one that the other hand takes.
        """
        score = self.score
        if not self.done and not self.rolled:
            return score
        news = {n.id: n for n in as_it_was(score, tuple(self.done), self.first)}
        back = {event for event, note in news.items() if _is_moved(score, note)}
        for event in self.rolled:
            note = news.get(event, score.notes_by_id[event])
            news[event] = replace(note, notations=(*note.notations, ROLL))
        return replace(
            score,
            parts=tuple(_with_notes(part, news) for part in score.parts),
            left_open=(*score.left_open, *sorted(self.done)),
            reassigned=tuple(pair for pair in score.reassigned if pair[0] not in back),
        )


def _with_notes(part: Part, news: Mapping[EventId, Note]) -> Part:
    touched = {event.index for event in news if event.part == part.id}
    measures = tuple(
        replace(measure, notes=tuple(news.get(n.id, n) for n in measure.notes))
        if measure.index in touched
        else measure
        for measure in part.measures
    )
    return replace(part, measures=measures)


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
            if said is None or said.taker is None:
                continue
            keys = {pitch.midi for pitch in said.pitches}
            if here.pitch.midi in keys and not any(
                n.pitch.midi in keys and n.id not in moved
                for n in measure.notes
                if n.offset == mark.offset
            ):
                yield mark
