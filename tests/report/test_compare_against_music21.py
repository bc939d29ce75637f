"""Which notes differ is what the music library's own reading of both files says."""

import warnings
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction

import pytest
from compared_sheets import public_score
from music21 import converter, stream
from music21.chord import Chord
from music21.note import Note as WitnessNote

from arrange.report.compare import Aspect, compare
from arrange.score.document import Document
from arrange.score.model import EventId, Score
from arrange.score.nodes import Node, element
from arrange.score.reading import Reading

PIECES = ("bach/bwv66.6.mxl", "mozart/k545/movement1_exposition.mxl", "bach/bwv846.mxl")
Heard = tuple[int, int, Fraction, Fraction, int]
"""Part, measure, offset, length, key number."""


def edited(raw: bytes, every: int) -> bytes:
    """The score with every so many-th note raised, lowered, respelled or made a rest in turn."""
    document = Document.read(raw, "piece")
    notes = [n for n in document.root.iter("note") if n.find("pitch") is not None]
    edits = (raise_octave, next_step, respell, make_rest)
    for turn, note in enumerate(notes[3::every]):
        edits[turn % len(edits)](document, note)
    return document.to_bytes()


def raise_octave(document: Document, note: Node) -> None:
    octave = next(note.iter("octave"))
    document.set_text(octave, str(int(octave.text) + 1))


def next_step(document: Document, note: Node) -> None:
    step = next(note.iter("step"))
    document.set_text(step, "CDEFGAB"["CDEFGAB".index(step.text) - 1])


def respell(document: Document, note: Node) -> None:
    """E as F flat; other notes stay."""
    pitch = next(note.iter("pitch"))
    if pitch.child_text("step") == "E" and pitch.find("alter") is None:
        document.set_text(next(note.iter("step")), "F")
        document.insert(pitch, element("alter", "-1"), before=pitch.find("octave"))


def make_rest(document: Document, note: Node) -> None:
    """A note that stands alone falls silent."""
    siblings = note.parent.children if note.parent is not None else []
    at = list(siblings).index(note)
    follows = siblings[at + 1] if at + 1 < len(siblings) else None
    is_chord = note.find("chord") is not None
    if is_chord or (follows is not None and follows.find("chord") is not None):
        return
    pitch = next(note.iter("pitch"))
    document.insert(note, element("rest"), before=pitch)
    document.remove(pitch)


def witnessed(raw: bytes) -> "Counter[Heard]":
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = converter.parseData(raw.decode(), format="musicxml")
    return Counter(_witnessed(score))


def _witnessed(score: stream.Score) -> Iterator[Heard]:
    for number, part in enumerate(score.parts):
        for index, measure in enumerate(part.getElementsByClass(stream.Measure)):
            for found in measure.recurse().notes:
                if isinstance(found, Chord | WitnessNote):
                    at = Fraction(found.getOffsetInHierarchy(measure))
                    length = Fraction(found.duration.quarterLength)
                    for pitch in found.pitches:
                        yield number, index, at, length, int(pitch.midi)


def told(score: Score, events: Iterator[EventId]) -> "Counter[tuple[object, ...]]":
    found: Counter[tuple[object, ...]] = Counter()
    for event in events:
        note = score.notes_by_id.get(event)
        if note is not None:
            found[event.index, note.offset, note.duration, note.pitch.midi] += 1
    return found


@pytest.mark.parametrize("name", PIECES)
@pytest.mark.parametrize("every", [5, 23])
def test_the_notes_that_differ_are_those_that_the_library_finds(name: str, every: int) -> None:
    before = public_score(name)
    after = edited(before, every)
    comparison = compare(before, after, ("before", "after"))
    found = [d for d in comparison.differences if d.aspect in (Aspect.NOTES, Aspect.RHYTHM)]
    one, two = (Reading(Document.read(raw, "x"), parts=None).score() for raw in (before, after))
    gone = told(one, (note for d in found for note in d.notes_before))
    new = told(two, (note for d in found for note in d.notes_after))
    heard_before = Counter(n[1:] for n in witnessed(before).elements())
    heard_after = Counter(n[1:] for n in witnessed(after).elements())
    assert (heard_before - heard_after).total() > 5
    assert gone - new == heard_before - heard_after
    assert new - gone == heard_after - heard_before


@pytest.mark.parametrize("name", PIECES)
def test_every_edit_is_one_difference(name: str) -> None:
    before = public_score(name)
    document = Document.read(before, "piece")
    notes = [n for n in document.root.iter("note") if n.find("pitch") is not None]
    for note in notes[::7]:
        raise_octave(document, note)
    found = compare(before, document.to_bytes(), ("before", "after"))
    told_of = [d for d in found.differences if d.aspect is not Aspect.LAYOUT]
    assert {d.aspect for d in told_of} == {Aspect.NOTES}
    assert len(told_of) == len(notes[::7])
