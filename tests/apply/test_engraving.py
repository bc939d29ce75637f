"""Stems, heights, clefs and octave lines follow from notes that moved, and from nothing else."""

import pytest
from moved_sheets import document_of, note, sheet
from schema import schema_faults

from arrange.apply.clefs import RUNNING_ON, ledger_lines
from arrange.apply.engraving import Engraving
from arrange.apply.octave_lines import needless_octave_lines, octave_lines, remove_octave_line
from arrange.apply.transposing import transpose
from arrange.pitch import Interval, Pitch
from arrange.score.document import Document, Node
from arrange.score.model import Clef
from arrange.units import Quarters

UP = "<stem>up</stem>"
DOWN = "<stem>down</stem>"


def notes_of(document: Document) -> list[Node]:
    return list(document.root.iter("note"))


def stems(document: Document) -> list[str]:
    return [node.child_text("stem") for node in notes_of(document)]


def octave_apart(document: Document, octaves: dict[int, int], measures: int = 1) -> None:
    """Move notes, by their place in the score, by octaves, as an edit does."""
    engraving = Engraving(document)
    for index in range(measures):
        engraving.remember("P1", index)
    for place, octave in octaves.items():
        pitch = notes_of(document)[place].find("pitch")
        assert pitch is not None
        node = pitch.find("octave")
        assert node is not None
        document.set_text(node, str(int(node.text) + octave))
    engraving.refresh()
    assert schema_faults(document.to_bytes()) == []


def beamed(name: str, stem: str, beam: str) -> str:
    return note(name, after=f'{stem}<beam number="1">{beam}</beam>', kind="eighth")


def test_a_moved_note_turns_its_stem_and_the_others_keep_theirs() -> None:
    document = document_of(sheet(note("A4", after=UP) + note("G4", after=UP)))
    octave_apart(document, {0: 1})
    assert stems(document) == ["down", "up"]


def test_the_farthest_note_turns_the_stem_of_a_beam() -> None:
    pair = beamed("G4", UP, "begin") + beamed("A4", UP, "end")
    document = document_of(sheet(pair))
    octave_apart(document, {1: 1})
    assert stems(document) == ["down", "down"]
    near = document_of(sheet(beamed("C4", UP, "begin") + beamed("E4", UP, "end")))
    octave_apart(near, {1: 1})
    assert stems(near) == ["up", "up"]


def test_the_clef_says_where_the_middle_is() -> None:
    bass = "<clef><sign>F</sign><line>4</line></clef>"
    document = document_of(sheet(note("C3", after=UP), clef=bass))
    octave_apart(document, {0: 1})
    assert stems(document) == ["down"]


def test_two_voices_on_a_staff_keep_their_sides() -> None:
    second = "<backup><duration>4</duration></backup>" + note("D4", "<voice>2</voice>", DOWN)
    document = document_of(sheet(note("A4", "<voice>1</voice>", UP) + second))
    octave_apart(document, {0: 1})
    assert stems(document) == ["up", "down"]


def test_a_stem_that_stood_against_the_rule_is_somebodys_choice() -> None:
    document = document_of(sheet(note("G4", after=DOWN) + note("A4", after=UP)))
    octave_apart(document, {0: -1})
    assert stems(document) == ["down", "up"]


def test_a_score_without_stems_gets_none() -> None:
    document = document_of(sheet(note("A4")))
    octave_apart(document, {0: 1})
    assert stems(document) == [""]


def test_written_heights_of_a_moved_note_go_and_those_of_others_stay() -> None:
    stem = '<stem default-y="-20">up</stem>'
    slur = '<notations><slur type="start" number="1" default-y="8" default-x="3"/></notations>'
    placed = note("A4", after=stem + slur).replace(
        "<note>", '<note default-x="9" default-y="-25">'
    )
    other = note("G4", after=stem)
    document = document_of(sheet(placed + other))
    octave_apart(document, {0: 1})
    text = document.to_bytes().decode()
    assert '<note default-x="9">' in text
    assert "<stem>down</stem>" in text
    assert '<slur type="start" number="1" default-x="3"/>' in text
    assert stem in text


def test_heights_follow_a_part_that_moves() -> None:
    placed = note("D4", after='<stem default-y="-10.5">up</stem>')
    document = document_of(sheet(placed))
    transpose(document, ("P1",), Interval.parse("M3"))
    assert b'<stem default-y="-0.5">up</stem>' in document.to_bytes()


@pytest.mark.parametrize(("interval", "wanted"), [("m3", "down"), ("-m3", "up"), ("m2", "down")])
def test_stems_of_a_part_that_moves_turn_by_the_rule(interval: str, wanted: str) -> None:
    document = document_of(
        sheet(note("A4", after=UP) if wanted == "down" else note("B4", after=DOWN))
    )
    transpose(document, ("P1",), Interval.parse(interval))
    assert stems(document) == [wanted]


@pytest.mark.parametrize(
    ("pitch", "sign", "line", "lines"),
    [
        ("B4", "G", 2, 0),
        ("G5", "G", 2, 0),
        ("A5", "G", 2, 1),
        ("C4", "G", 2, 1),
        ("E6", "G", 2, 3),
        ("F6", "G", 2, 3),
        ("G6", "G", 2, 4),
        ("C4", "F", 4, 1),
        ("E2", "F", 4, 1),
        ("C2", "F", 4, 2),
        ("A1", "F", 4, 3),
    ],
)
def test_ledger_lines_are_counted(pitch: str, sign: str, line: int, lines: int) -> None:
    clef = Clef(Quarters(0), 1, sign, line)
    assert ledger_lines(Pitch.parse(pitch), clef) == lines


def _clefs(document: Document) -> list[str]:
    clefs = document.root.iter("clef")
    return [f"{clef.child_text('sign')} before {_next_note(clef)}" for clef in clefs]


def _next_note(clef: Node) -> str:
    attributes = clef.parent
    assert attributes is not None
    assert attributes.parent is not None
    row = list(attributes.parent.children)
    following = row[row.index(attributes) + 1 :]
    return next(
        pitch.child_text("step") + pitch.child_text("octave")
        for pitch in (node.find("pitch") for node in following)
        if pitch is not None
    )


def test_notes_that_run_on_below_the_staff_get_a_bass_clef_and_the_old_one_returns() -> None:
    assert RUNNING_ON == 4
    low = [note(name) for name in ("D4", "C4", "B3", "C4")]
    document = document_of(sheet("".join(low), note("G4") + note("A4") * 3))
    octave_apart(document, dict.fromkeys(range(4), -1), measures=2)
    assert _clefs(document) == ["G before D3", "F before D3", "G before G4"]


def test_a_few_low_notes_and_notes_that_did_not_move_get_no_clef() -> None:
    few = document_of(sheet(note("D4") + note("C4") + note("B3") + note("G4")))
    octave_apart(few, dict.fromkeys(range(3), -1))
    assert _clefs(few) == ["G before D3"]
    own = document_of(sheet(note("D3") * 4, note("G4")))
    octave_apart(own, {4: 1}, measures=2)
    assert len(_clefs(own)) == 1


def _line(name: str, *attributes: str) -> str:
    words = " ".join(attributes)
    return f"<direction><direction-type><{name} {words}/></direction-type></direction>"


def test_an_octave_line_over_notes_that_moved_onto_the_staff_is_needless() -> None:
    begin, end = (_line("octave-shift", f'type="{kind}"', 'size="8"') for kind in ("down", "stop"))
    document = document_of(sheet(begin + note("E6") + note("F6") + end + note("C5")))
    (line,) = octave_lines(document, "P1")
    assert line.is_needed
    assert [node.find("pitch") is not None for node in line.notes] == [True, True]
    octave_apart(document, {0: -1, 1: -1})
    moved = notes_of(document)[:2]
    assert needless_octave_lines(document, "P1", notes_of(document)[2:]) == []
    (line,) = needless_octave_lines(document, "P1", moved)
    remove_octave_line(document, line)
    assert b"octave-shift" not in document.to_bytes()
    assert b"<direction" not in document.to_bytes()


def test_an_octave_line_counts_for_the_stem() -> None:
    begin = _line("octave-shift", 'type="down"', 'size="8"')
    document = document_of(sheet(begin + note("A6", after=DOWN)))
    octave_apart(document, {0: -1})
    assert stems(document) == ["up"]
