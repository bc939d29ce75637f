"""What the toolkit's own marks say about a glissando, at its start and on its staff."""

from collections.abc import Iterable
from dataclasses import dataclass

from arrange.score.model import Mark, MarkKind, Note
from arrange.score.own import PREFIX, OwnNotes

KINDS = ("tones", "foreign", "held")


@dataclass(frozen=True, slots=True)
class SweepWords:
    """What is said about one glissando.

    Attributes:
        tones: letter to alteration, for the letters that are named.
        foreign: names of strings that sound beside its tones; *held*: of strings that the other
            hand damps.
    """

    tones: tuple[tuple[str, int], ...] = ()
    foreign: tuple[str, ...] = ()
    held: tuple[str, ...] = ()


SILENCE = SweepWords()


def sweep_words(marks: Iterable[Mark], start: Note) -> SweepWords:
    """Read what the marks of a measure say about the glissando that leaves *start*."""
    said: dict[str, list[OwnNotes]] = {}
    for mark in marks:
        if mark.kind is not MarkKind.OWN or not mark.own.startswith(PREFIX):
            continue
        if (mark.offset, mark.staff) != (start.offset, start.staff):
            continue
        notes = OwnNotes.parse(mark.own)
        if notes is not None and notes.kind in KINDS:
            said.setdefault(notes.kind, []).append(notes)
    if not said:
        return SILENCE
    return SweepWords(
        tuple((p.step, p.alter) for notes in said.get("tones", ()) for p in notes.pitches),
        _strings(said.get("foreign", ())),
        _strings(said.get("held", ())),
    )


def _strings(said: Iterable[OwnNotes]) -> tuple[str, ...]:
    return tuple(f"{p.step}{p.octave}" for notes in said for p in notes.pitches)
