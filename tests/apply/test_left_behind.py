"""What a note leaves behind when it goes or is spelled anew: rolls, and notes of ornaments."""

from edit_pages import Page, attributes, moved, note, page

from arrange.edits import AddRoll, MarkValue, NoteValue, RemoveNote, SetPitch
from arrange.score.model import Sign
from arrange.units import Quarters


def test_a_roll_that_one_hand_was_given_does_not_pass_to_the_rest_of_the_chord() -> None:
    chord = note("C4", 16) + note("G4", 16, chord=True) + note("E5", 16, chord=True)
    written = Page(page(attributes() + chord))
    roll = AddRoll((written.at("E5").id,), MarkValue(0, Quarters(0), 1, "roll"))
    assert written.apply(roll) == "APPLIED"
    top = written.at("E5")
    assert written.apply(RemoveNote(top.id, NoteValue.of(top))) == "APPLIED"
    assert not any(n.has(Sign.ARPEGGIATE) for n in written.notes())


def test_a_roll_of_the_source_stays_with_its_chord() -> None:
    chord = note("C4", 16, "<arpeggiate/>") + note("G4", 16, chord=True)
    written = Page(page(attributes() + chord))
    low = written.at("C4")
    assert written.apply(RemoveNote(low.id, NoteValue.of(low))) == "APPLIED"
    assert written.at("G4").has(Sign.ARPEGGIATE)


def test_a_spelling_beside_which_an_ornament_cannot_be_written_is_refused() -> None:
    trill = "<ornaments><trill-mark/><accidental-mark>double-sharp</accidental-mark></ornaments>"
    written = Page(page(attributes() + note("F5", 16, trill)))
    note_ = written.at("F5")
    outcome = written.apply(SetPitch(note_.id, NoteValue.of(note_), moved(note_, "E#5")))
    assert outcome == "BLOCKED no accidental says what its ornament would sound"
    assert written.document.to_bytes() == written.raw
