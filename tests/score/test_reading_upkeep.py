"""A reading follows its document: only what changed is read again, and it is always right."""

from tiny_scores import START, TEMPO, document, n, part

from arrange.score.document import Document
from arrange.score.nodes import element
from arrange.score.reading import Reading


def made() -> Document:
    return document(part(START + TEMPO + n("C4", 16), n("D4", 16), n("E4", 16)))


def test_what_did_not_change_is_not_read_again() -> None:
    file = made()
    reading = Reading(file)
    before = reading.score()
    assert reading.score() is before
    step = next(iter(reading.measure_node("P1", 1).iter("step")))
    file.set_text(step, "F")
    after = reading.score()
    assert [str(m.notes[0].pitch) for m in after.parts[0].measures] == ["C4", "F4", "E4"]
    old, new = before.parts[0].measures, after.parts[0].measures
    assert [a is b for a, b in zip(old, new, strict=True)] == [True, False, True]


def test_what_inherits_a_change_is_read_again() -> None:
    file = made()
    reading = Reading(file)
    reading.score()
    divisions = next(iter(file.root.iter("divisions")))
    file.set_text(divisions, "8")
    assert [str(m.length) for m in reading.score().parts[0].measures] == ["2", "2", "2"]


def test_a_rollback_is_seen() -> None:
    file = made()
    reading = Reading(file)
    before = reading.score()
    mark = file.mark()
    note = reading.measure_node("P1", 2).find("note")
    assert note is not None
    file.remove(note)
    assert reading.score().parts[0].measures[2].notes == ()
    file.rollback(mark)
    assert reading.score().parts == before.parts


def test_a_reading_after_edits_equals_a_fresh_one_of_the_bytes() -> None:
    file = made()
    reading = Reading(file)
    reading.score()
    measure = reading.measure_node("P1", 0)
    file.insert(measure, element("barline", "", element("repeat", direction="backward")))
    fresh = Reading(Document.read(file.to_bytes(), "tiny.musicxml")).score()
    assert reading.score().parts == fresh.parts
    assert reading.score().performed == fresh.performed == (0, 0, 1, 2)


def test_ids_stay_when_other_notes_go_and_new_ones_keep_their_own() -> None:
    file = document(part(START + TEMPO + n("C4") + n("D4") + n("E4")))
    reading = Reading(file)
    reading.score()
    measure = reading.measure_node("P1", 0)
    first = measure.find("note")
    assert first is not None
    new = element(
        "note",
        "",
        element("pitch", "", element("step", "G"), element("octave", "4")),
        element("duration", "4"),
    )
    new.key = "n0.1"
    file.insert(measure, new, before=first)
    file.remove(first)
    notes = reading.score().parts[0].measures[0].notes
    assert [(str(note.id), str(note.pitch)) for note in notes] == [
        ("P1/0/n0.1", "G4"),
        ("P1/0/n1", "D4"),
        ("P1/0/n2", "E4"),
    ]
