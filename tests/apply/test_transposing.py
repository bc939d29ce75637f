"""Whole parts move by an interval as an independent library moves them, and nothing else does."""

import re
from fractions import Fraction

import pytest
from lxml import etree
from moved_sheets import document_of, note, public_score, sheet
from music21.interval import Interval as Witness
from music21.key import KeySignature
from music21.pitch import Accidental
from music21.pitch import Pitch as WitnessPitch
from schema import schema_faults

from arrange.apply.transposing import transpose
from arrange.pitch import Interval
from arrange.score.document import Document

INTERVALS = ("m2", "-m2", "M2", "-M2", "m3", "-m3", "M3", "-M3", "P4", "-P4", "A4", "-d5")
PIECES = {
    "schumann_clara/polonaise_op1n1.mxl": ("m3", "-M2"),
    "joplin/maple_leaf_rag.mxl": ("-m2", "A4"),
    "mozart/k545/movement1_exposition.mxl": ("M3", "-P4"),
    "leadSheet/fosterBrownHair.mxl": ("m2", "-A4"),
    "bach/bwv846.mxl": ("-m3", "P8"),
}
CASES = [(name, interval) for name, intervals in PIECES.items() for interval in intervals]
Spelled = tuple[str, float, int]


def moved(raw: bytes, interval: str) -> bytes:
    document = Document.read(raw, "piece.musicxml")
    parts = tuple(part.attrs["id"] for part in document.root.find_all("part"))
    transpose(document, parts, Interval.parse(interval))
    return document.to_bytes()


def pitches(raw: bytes) -> list[Spelled]:
    found = etree.fromstring(raw).iter("pitch")
    return [
        (p.findtext("step", ""), float(p.findtext("alter") or 0), int(p.findtext("octave", "")))
        for p in found
    ]


def witnessed(spelled: Spelled, interval: str) -> Spelled:
    step, alter, octave = spelled
    pitch = WitnessPitch(step=step, octave=octave)
    if alter:
        pitch.accidental = Accidental(alter)
    after = Witness(interval).transposePitch(pitch)
    return after.step, after.accidental.alter if after.accidental else 0.0, after.octave


@pytest.mark.parametrize(("name", "interval"), CASES)
def test_every_note_is_spelled_as_the_music_library_spells_it(name: str, interval: str) -> None:
    source = public_score(name)
    before, after = pitches(source), pitches(moved(source, interval))
    wanted = {spelled: witnessed(spelled, interval) for spelled in set(before)}
    assert len(before) > 80
    assert after == [wanted[spelled] for spelled in before]


@pytest.mark.parametrize(("name", "interval"), CASES)
def test_key_signatures_move_as_in_the_music_library(name: str, interval: str) -> None:
    source = public_score(name)
    keys = [int(k) for k in re.findall(rb"<fifths>(-?\d+)</fifths>", source)]
    after = [int(k) for k in re.findall(rb"<fifths>(-?\d+)</fifths>", moved(source, interval))]
    exact = [KeySignature(k).transpose(Witness(interval)).sharps for k in keys]
    assert [k % 12 for k in after] == [k % 12 for k in exact]
    assert all(a == e for a, e in zip(after, exact, strict=True) if abs(e) <= 7)
    assert all(abs(k) <= 7 for k in after)


def test_chord_symbols_move_with_their_roots() -> None:
    source = public_score("leadSheet/fosterBrownHair.mxl")
    roots = re.compile(rb"<root-step>(.)</root-step>\s*(?:<root-alter>(-?\d)</root-alter>)?")
    before = roots.findall(source)
    after = roots.findall(moved(source, "m3"))
    wanted = []
    for step, alter in before:
        root = witnessed((step.decode(), float(alter or 0), 4), "m3")
        wanted.append((root[0].encode(), root[1]))
    assert len(before) > 10
    assert [(step, float(alter or 0)) for step, alter in after] == wanted


def _back(raw: bytes, interval: str) -> bytes:
    move = Interval.parse(interval)
    return moved(raw, str(Interval(-move.steps, -move.semitones)))


@pytest.mark.parametrize("interval", INTERVALS)
def test_there_and_back_gives_the_bytes_of_the_source(interval: str) -> None:
    source = public_score("bach/bwv66.6.mxl")
    there = moved(source, interval)
    assert there != source
    if not _has_far_key(source, Interval.parse(interval)):
        assert _back(there, interval) == source
    else:
        assert pitches(_back(there, interval)) == pitches(source)


@pytest.mark.parametrize("name", ["bach/bwv846.mxl", "mozart/k545/movement1_exposition.mxl"])
@pytest.mark.parametrize("interval", INTERVALS)
def test_a_stem_on_the_middle_line_is_all_that_may_differ_there_and_back(
    name: str, interval: str
) -> None:
    source = public_score(name)
    stem = re.compile(rb"<stem[^>]*>(up|down)</stem>")
    if not _has_far_key(source, Interval.parse(interval)):
        back = _back(moved(source, interval), interval)
        assert stem.sub(b"", back) == stem.sub(b"", source)


def _has_far_key(source: bytes, move: Interval) -> bool:
    keys = [int(k) for k in re.findall(rb"<fifths>(-?\d+)</fifths>", source)]
    return any(abs(key + move.fifths) > 7 for key in keys)


@pytest.mark.parametrize("interval", ["m2", "-M3"])
def test_the_result_is_valid_where_the_source_was(interval: str) -> None:
    source = public_score("joplin/maple_leaf_rag.mxl")
    assert schema_faults(source) == []
    assert schema_faults(moved(source, interval)) == []


def _after(text: str, interval: str) -> etree._Element:
    raw = moved(text.encode(), interval)
    assert schema_faults(raw) == []
    return etree.fromstring(raw)


def _texts(root: etree._Element, path: str) -> list[str]:
    return [element.text or "" for element in root.iterfind(f".//{path}")]


def test_a_part_without_a_signature_gets_the_one_it_now_has() -> None:
    assert _texts(_after(sheet(note("C4"), key=""), "m3"), "fifths") == ["-3"]
    assert _texts(_after(sheet(note("C4"), key=""), "P8"), "fifths") == []


def test_only_the_staff_without_a_signature_gets_one() -> None:
    key = '<key number="2"><fifths>1</fifths></key>'
    text = sheet(note("C4"), key=key).replace("</time>", "</time><staves>2</staves>")
    root = _after(text, "M2")
    assert [(k.get("number"), k.findtext("fifths")) for k in root.iterfind(".//key")] == [
        ("1", "2"),
        ("2", "3"),
    ]


def test_a_key_beyond_seven_signs_is_written_enharmonically_and_said_so() -> None:
    document = document_of(sheet(note("B4"), key="<key><fifths>5</fifths></key>"))
    findings = transpose(document, ("P1",), Interval.parse("M3"))
    assert b"<fifths>-3</fifths>" in document.to_bytes()
    assert pitches(document.to_bytes()) == [("D", 1.0, 5)]
    assert any("9 sharps" in finding.text for finding in findings)


def test_a_signature_of_single_letters_moves_as_a_scale() -> None:
    key = (
        "<key><key-step>F</key-step><key-alter>1</key-alter>"
        "<key-step>B</key-step><key-alter>-1</key-alter></key>"
    )
    root = _after(sheet(note("D4"), key=key), "M2")
    assert _texts(root, "key-step") == ["G", "F"]
    assert _texts(root, "key-alter") == ["1", "1"]


def test_quarter_tones_keep_their_fraction() -> None:
    text = sheet(note("C#4").replace("<alter>1<", "<alter>-0.5<"))
    assert [Fraction(a) for a in _texts(_after(text, "M3"), "alter")] == [Fraction(-1, 2)]
    assert [Fraction(a) for a in _texts(_after(text, "m2"), "alter")] == [Fraction(-3, 2)]


def test_a_part_that_spells_out_naturals_goes_on_to() -> None:
    spelled = note("C4").replace("<octave>", "<alter>0</alter><octave>")
    root = _after(sheet(note("C#4") + spelled), "A1")
    assert _texts(root, "alter") == ["2", "1"]
    assert _texts(_after(sheet(note("C#4") + spelled), "m2"), "alter") == ["0", "-1"]
    assert _texts(_after(sheet(note("C#4") + spelled + note("G4")), "m2"), "alter") == ["-1", "-1"]


def test_alterations_may_become_triple() -> None:
    root = _after(sheet(note("F##4")), "A4")
    assert _texts(root, "step") == ["B"]
    assert _texts(root, "alter") == ["2"]
    assert _texts(_after(sheet(note("B##4")), "A4"), "alter") == ["3"]


def test_figures_keep_their_meaning() -> None:
    """In c minor a natural raises the leading note; in a minor a sharp does."""
    figure = "<figured-bass><figure><prefix>{}</prefix></figure></figured-bass>"
    key = "<key><fifths>-3</fifths></key>"
    for shown in ("natural", "sharp"):
        text = sheet(figure.format(shown) + note("G3"), key=key)
        assert _texts(_after(text, "-m3"), "prefix") == ["sharp"]
    text = sheet(figure.format("sharp") + note("E3"))
    assert _texts(_after(text, "m3"), "prefix") == ["natural"]


def test_signs_of_ornaments_keep_their_meaning() -> None:
    signs = (
        "<notations><ornaments><trill-mark/><accidental-mark>{}</accidental-mark>"
        "</ornaments></notations>"
    )
    text = sheet(note("A4", after=signs.format("flat")))
    assert _texts(_after(text, "M3"), "accidental-mark") == ["natural"]
    assert _texts(_after(text, "-m2"), "accidental-mark") == ["natural"]


def test_a_spelled_out_chord_text_follows_and_a_word_does_not() -> None:
    harmony = (
        '<harmony><root><root-step text="{0}">D</root-step></root>'
        '<kind text="{1}">{2}</kind></harmony>'
    )
    text = sheet(harmony.format("D", "Dm7", "minor-seventh") + note("D4"))
    root = _after(text, "m2")
    step, kind = root.find(".//root-step"), root.find(".//kind")
    assert step is not None
    assert kind is not None
    assert (step.text, step.get("text"), kind.get("text")) == ("E", "E♭", "E♭m7")
    dim = _after(sheet(harmony.format("D", "Dim", "diminished") + note("D4")), "m2").find(
        ".//kind"
    )
    assert dim is not None
    assert dim.get("text") == "Dim"


def test_a_transposing_part_keeps_its_transposition_and_moves_as_written() -> None:
    transposition = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    text = sheet(note("C4")).replace("</attributes>", transposition + "</attributes>")
    root = _after(text, "m3")
    assert _texts(root, "chromatic") == ["-2"]
    assert _texts(root, "step") == ["E"]


def test_what_names_the_old_key_is_found_and_left() -> None:
    words = "<direction><direction-type><words>in F minor</words></direction-type></direction>"
    tempo = "<direction><direction-type><words>in a tempo</words></direction-type></direction>"
    fret = "<notations><technical><string>3</string><fret>2</fret></technical></notations>"
    document = document_of(sheet(words + tempo + note("F4", after=fret)))
    findings = transpose(document, ("P1",), Interval.parse("M2"))
    assert [finding.measure for finding in findings] == ["1", "1"]
    assert "'in F minor'" in findings[0].text
    assert "frets" in findings[1].text
    assert b"in F minor" in document.to_bytes()


def test_parts_that_are_not_named_stay() -> None:
    document = document_of(sheet(note("F4")))
    assert transpose(document, (), Interval.parse("M2")) == ()
    assert not document.mark()


def test_measures_inside_measures_are_found_in_timewise_scores() -> None:
    text = (
        '<score-timewise version="4.0"><part-list><score-part id="P1"><part-name/></score-part>'
        f'</part-list><measure number="7"><part id="P1">{note("C4")}</part></measure>'
        "</score-timewise>"
    )
    document = document_of(text)
    transpose(document, ("P1",), Interval.parse("m2"))
    assert pitches(document.to_bytes()) == [("D", -1.0, 4)]
    assert b"<fifths>-5</fifths>" in document.to_bytes()
