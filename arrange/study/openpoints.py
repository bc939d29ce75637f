"""Which notes are left to the editor, and why."""

from collections.abc import Iterator
from dataclasses import dataclass

from arrange.harp.harp import Harp
from arrange.harp.wording import note_in_words
from arrange.score.model import EventId, Note, Score
from arrange.score.plucks import PluckKind
from arrange.study.levering import LeverPlan, Treatment, plan_as_it_stands
from arrange.study.terms import Terms


@dataclass(frozen=True, slots=True)
class OpenNotes:
    """Notes of one moment and staff that are left open for one reason.

    Attributes:
        text: the mark on the page.
    """

    notes: tuple[Note, ...]
    problem: str
    suggestions: tuple[str, ...]

    @property
    def text(self) -> str:
        """A question to the editor, short enough for the page."""
        return "? " + ", ".join(
            str(n.pitch).replace("b", "♭").replace("#", "♯") for n in self.notes
        )


def open_notes(score: Score, terms: Terms) -> Iterator[OpenNotes]:
    """Yield what the plan of the score as it stands leaves open, in score order."""
    done: set[EventId] = set()
    for plan in plan_as_it_stands(score, terms):
        for treatment in plan.treatments:
            note = score.notes_by_id[treatment.pluck.note]
            if treatment.label != "open" or note.id in done:
                continue
            done.update(treatment.pluck.tied)
            chain = (*treatment.pluck.tied, *treatment.pluck.doubles)
            problem, suggestions = _why(treatment, note, terms.harp)
            yield from _by_place(tuple(score.notes_by_id[i] for i in chain), problem, suggestions)
        yield from _open_sweeps(score, plan)


def _by_place(
    notes: tuple[Note, ...], problem: str, suggestions: tuple[str, ...]
) -> Iterator[OpenNotes]:
    """One mark a printed note: a tied note that goes on elsewhere has its own."""
    for note in notes:
        yield OpenNotes((note,), problem, suggestions)


def _why(treatment: Treatment, note: Note, harp: Harp) -> tuple[str, tuple[str, ...]]:
    pitch = treatment.pluck.pitch
    named = note_in_words(pitch)
    if note.microtone:
        return "A harp string has no quarter tones.", ("write the nearest semitone",)
    if treatment.pluck.kind is PluckKind.AUXILIARY:
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


def _open_sweeps(score: Score, plan: LeverPlan) -> Iterator[OpenNotes]:
    for start in plan.open_sweeps:
        yield OpenNotes(
            (score.notes_by_id[start],),
            "The levers cannot be set in time for the tones of this glissando.",
            ("sweep with the tones that stand", "write out a scale"),
        )
