"""Accidentals are shown where they must be, changed where they must be, and left otherwise."""

import re

import pytest
from lxml import etree
from moved_sheets import document_of, note, public_score, sheet
from music21 import converter, harmony, stream
from schema import schema_faults

from arrange.apply import accidentals
from arrange.apply.accidentals import Accidentals
from arrange.apply.printed import part_measures, printed_part
from arrange.apply.transposing import transpose
from arrange.pitch import Interval, Pitch, pitch_on_line
from arrange.score.document import Document, Node, element

SHARP = "<accidental>sharp</accidental>"
FLAT = "<accidental>flat</accidental>"
NATURAL = "<accidental>natural</accidental>"
CAUTION = '<accidental cautionary="yes">natural</accidental>'
Place = tuple[int, str, int, float]


def notes_of(document: Document) -> list[Node]:
    return list(document.root.iter("note"))


def write(document: Document, node: Node, name: str) -> None:
    """Give a note another pitch, and nothing else."""
    pitch = node.find("pitch")
    assert pitch is not None
    wanted = Pitch.parse(name)
    for child in list(pitch.children):
        document.remove(child)
    document.insert(pitch, element("step", wanted.step))
    if wanted.alter:
        document.insert(pitch, element("alter", str(wanted.alter)))
    document.insert(pitch, element("octave", str(wanted.octave)))


def shown(document: Document) -> list[str]:
    return [node.child_text("accidental") for node in notes_of(document)]


def edited(text: str, **changes: str) -> list[str]:
    """What the notes show when the notes of the first measure named ``n0`` ... are changed."""
    document = document_of(text)
    keeper = Accidentals(document)
    keeper.remember("P1", 0)
    for place, name in changes.items():
        write(document, notes_of(document)[int(place[1:])], name)
    keeper.refresh()
    assert schema_faults(document.to_bytes()) == []
    return shown(document)


def test_a_new_accidental_is_shown_and_the_next_note_of_its_line_is_corrected() -> None:
    text = sheet(note("F4") + note("G4") + note("F4") + note("F5"))
    assert edited(text, n0="F#4") == ["sharp", "", "natural", ""]


def test_the_last_of_a_line_corrects_nobody() -> None:
    assert edited(sheet(note("F4") + note("F4")), n1="F#4") == ["", "sharp"]


def test_a_sign_that_is_needed_no_more_goes_and_its_follower_takes_it() -> None:
    text = sheet(note("F#4", after=SHARP) + note("F#4") + note("G4"))
    assert edited(text, n0="F4") == ["", "sharp", ""]
    assert edited(text, n0="E4", n1="E4") == ["", "", ""]


def test_a_sign_that_is_wrong_says_what_the_note_is() -> None:
    text = sheet(note("D#4", after=SHARP) + note("D4", after=NATURAL))
    assert edited(text, n0="Eb4") == ["flat", ""]
    assert edited(text, n0="Db4") == ["flat", "natural"]


def test_a_cautionary_sign_is_kept_and_says_what_the_note_now_is() -> None:
    text = sheet(note("C4") + note("B4", after=CAUTION) + note("A4", after=NATURAL))
    assert edited(text, n0="D4") == ["", "natural", "natural"]
    assert edited(text, n2="Ab4") == ["", "natural", "flat"]
    assert edited(text, n1="A4", n2="A5") == ["", "natural", "natural"]


def test_a_sign_that_contradicts_its_note_is_left_where_the_note_is() -> None:
    text = sheet(note("C4") + note("B4", after=SHARP))
    assert edited(text, n0="D4") == ["", "sharp"]


def test_a_missing_sign_is_left_missing_unless_its_note_changes() -> None:
    text = sheet(note("C4") + note("F#4"))
    assert edited(text, n0="D4") == ["", ""]
    assert edited(text, n1="F#5") == ["", "sharp"]


def test_the_key_decides_what_needs_no_sign() -> None:
    text = sheet(note("F#4") + note("G4"), key="<key><fifths>1</fifths></key>")
    assert edited(text, n1="F4") == ["", "natural"]
    assert edited(text, n0="F4", n1="F#4") == ["natural", "sharp"]


def test_each_staff_has_its_own_key_and_its_own_lines() -> None:
    keys = '<key number="1"><fifths>0</fifths></key><key number="2"><fifths>1</fifths></key>'
    second = "<backup><duration>4</duration></backup>" + note("G4", after="<staff>2</staff>")
    text = sheet(note("G4", after="<staff>1</staff>") + second, key=keys).replace(
        "</time>", "</time><staves>2</staves>"
    )
    assert edited(text, n0="F#4", n1="F#4") == ["sharp", ""]


def test_a_sign_holds_for_the_other_voice_of_its_staff() -> None:
    second = "<backup><duration>8</duration></backup>" + note("F4", "<voice>2</voice>") * 2
    text = sheet(note("F4", "<voice>1</voice>") + note("G4", "<voice>1</voice>") + second)
    assert edited(text, n0="F#4") == ["sharp", "", "natural", "natural"]
    assert edited(text, n0="F#4", n2="F#4") == ["sharp", "", "", "natural"]


def test_grace_notes_are_read_before_what_they_lean_on() -> None:
    grace = note("F4").replace("<note>", "<note><grace/>").replace("<duration>4</duration>", "")
    assert edited(sheet(grace + note("F4")), n0="F#4") == ["sharp", "natural"]


def test_a_tied_note_needs_no_sign_but_the_note_behind_it_does() -> None:
    tied = note("F#4", '<tie type="start"/>', SHARP)
    end = note("F#4", '<tie type="stop"/>')
    document = document_of(sheet(note("C4") * 3 + tied, end + note("G4")))
    keeper = Accidentals(document)
    keeper.remember("P1", 0)
    keeper.remember("P1", 1)
    write(document, notes_of(document)[5], "F#4")
    keeper.refresh()
    assert shown(document) == ["", "", "", "sharp", "", "sharp"]


def test_a_measure_that_a_tie_leads_into_is_looked_after_as_well() -> None:
    tied = note("F#4", '<tie type="start"/>', SHARP)
    document = document_of(sheet(note("C4") * 3 + tied, note("F#4", '<tie type="stop"/>')))
    keeper = Accidentals(document)
    keeper.remember("P1", 0)
    last = notes_of(document)[4]
    tie = last.find("tie")
    assert tie is not None
    document.remove(tie)
    keeper.refresh()
    assert shown(document) == ["", "", "", "sharp", "sharp"]


def _ornament(inside: str) -> str:
    return f"<notations><ornaments>{inside}</ornaments></notations>"


def _marks(document: Document) -> list[str]:
    return [mark.text for mark in document.root.iter("accidental-mark")]


@pytest.mark.parametrize(
    ("before", "after", "inside", "marks"),
    [
        ("D#4", "Eb4", "<trill-mark/>", ["flat"]),
        ("D#4", "Eb4", "<mordent/>", ["flat-flat"]),
        ("C#4", "Db4", "<turn/>", ["flat-flat", "flat"]),
        ("A4", "A5", "<trill-mark/><accidental-mark>flat</accidental-mark>", ["flat"]),
        ("G#4", "Ab4", "<trill-mark/><accidental-mark>sharp</accidental-mark>", ["flat"]),
    ],
)
def test_ornaments_of_a_note_that_is_spelled_anew_sound_as_before(
    before: str, after: str, inside: str, marks: list[str]
) -> None:
    document = document_of(sheet(note(before, after=_ornament(inside))))
    keeper = Accidentals(document)
    keeper.remember("P1", 0)
    write(document, notes_of(document)[0], after)
    keeper.refresh()
    assert _marks(document) == marks
    assert schema_faults(document.to_bytes()) == []


def test_nothing_changes_without_a_changed_note() -> None:
    raw = public_score("joplin/maple_leaf_rag.mxl")
    document = Document.read(raw, "rag.musicxml")
    keeper = Accidentals(document)
    for index in range(len(part_measures(document, "P1"))):
        keeper.remember("P1", index)
    keeper.refresh()
    assert not document.mark()


@pytest.mark.parametrize("interval", ["m2", "-M2", "m3", "-P4"])
def test_a_moved_part_shows_signs_at_the_same_notes(interval: str) -> None:
    document = Document.read(public_score("bach/bwv846.mxl"), "prelude.musicxml")
    before = [bool(text) for text in shown(document)]
    transpose(document, ("P1",), Interval.parse(interval))
    assert sum(before) > 10
    assert [bool(text) for text in shown(document)] == before


def test_a_moved_part_keeps_its_cautionary_signs() -> None:
    text = sheet(note("B4", after=CAUTION) + note("F#4", after=SHARP))
    document = document_of(text)
    transpose(document, ("P1",), Interval.parse("m3"))
    assert shown(document) == ["natural", "natural"]
    transpose(document, ("P1",), Interval.parse("-A1"))
    assert shown(document) == ["flat", "flat"]


def _place(index: int, name: str, octave: int, offset: float) -> Place:
    return index, name, octave, offset


def _ours(raw: bytes) -> set[Place]:
    document = Document.read(raw, "piece.musicxml")
    found = set()
    for part in document.root.find_all("part"):
        for measure in printed_part(part_measures(document, part.attrs["id"])):
            needs = accidentals.needed(measure)
            for printed in measure.notes:
                if needs.get(printed.node):
                    letter = pitch_on_line(printed.line)
                    offset = float(printed.onset / measure.divisions)
                    found.add(_place(measure.index, letter.step, letter.octave, offset))
    return found


def _theirs(raw: bytes) -> set[Place]:
    score = converter.parseData(raw.decode(), format="musicxml")
    return {place for part in score.parts for place in _shown_by_library(part)}


def _shown_by_library(part: stream.Part) -> set[Place]:
    found: set[Place] = set()
    tied: set[str] = set()
    for index, measure in enumerate(part.getElementsByClass(stream.Measure)):
        measure.makeAccidentals(
            inPlace=True,
            overrideStatus=True,
            cautionaryPitchClass=False,
            cautionaryNotImmediateRepeat=False,
            useKeySignature=measure.keySignature or measure.getContextByClass("KeySignature"),
            tiePitchSet=tied,
        )
        sounding = [n for n in measure.recurse().notes if not isinstance(n, harmony.ChordSymbol)]
        for struck in sounding:
            for pitch in struck.pitches:
                if pitch.accidental is not None and pitch.accidental.displayStatus:
                    offset = float(struck.getOffsetInHierarchy(measure))
                    found.add(_place(index, pitch.step, pitch.octave, offset))
        single = [n for struck in sounding for n in getattr(struck, "notes", (struck,))]
        tied = {n.pitch.nameWithOctave for n in single if n.tie and n.tie.type != "stop"}
    return found


@pytest.mark.parametrize(
    "name",
    [
        "bach/bwv66.6.mxl",
        "bach/bwv846.mxl",
        "leadSheet/fosterBrownHair.mxl",
        "mozart/k545/movement1_exposition.mxl",
    ],
)
@pytest.mark.parametrize("interval", ["", "m3"])
def test_notes_need_a_sign_where_the_music_library_shows_one(name: str, interval: str) -> None:
    raw = public_score(name)
    if interval:
        document = Document.read(raw, name)
        parts = tuple(part.attrs["id"] for part in document.root.find_all("part"))
        transpose(document, parts, Interval.parse(interval))
        raw = document.to_bytes()
    stripped = re.sub(rb"<accidental[^>]*>[^<]*</accidental>", b"", raw)
    assert etree.fromstring(stripped).find(".//accidental") is None
    assert _ours(stripped)
    assert _ours(stripped) == _theirs(stripped)
