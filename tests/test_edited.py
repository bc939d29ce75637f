"""Results that an editor changed by hand: planned anew there, kept everywhere else."""

import json
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import pytest
from notation import to_musicxml
from test_decisions import CORPUS, SCORES, settings

from arrange.apply.replay import replay
from arrange.audit import View
from arrange.changes import EDITOR, Change, Outcome, from_lines, to_lines
from arrange.cli import main
from arrange.errors import BadInput
from arrange.pipeline import Conversion, convert, convert_edited
from arrange.score.container import read_source, read_source_bytes
from arrange.score.document import Document
from arrange.score.model import Measure, Note
from arrange.score.nodes import Node
from arrange.score.reading import Reading

HURRIED = (
    "key=0 tempo=60 name=Harp\nRH: F5h rh | G5h rh | F#5h rh | G5h rh | F5h rh\n"
    "LH: C3w | C3w | C3w | C3w | C3w"
)


@cache
def converted(path: Path) -> Conversion:
    return convert(read_source(path), settings())


def plain_bytes(conversion: Conversion) -> bytes:
    return read_source_bytes(conversion.result, conversion.source.name).score_bytes


def spelled(raw: bytes) -> dict[tuple[str, int], str]:
    """How a file spells each measure."""
    view = View.read(raw)
    return {
        (part, index): view.spelled(node)
        for part, nodes in view.measures().items()
        for index, node in enumerate(nodes)
    }


def single_notes(measure: Measure) -> Iterator[Note]:
    """The notes of a measure that are neither tied nor in a chord, nor small."""
    chords = [note.chord for note in measure.notes]
    for note in measure.notes:
        is_bound = note.tied_from or note.tied_to or note.is_grace or note.notations
        if chords.count(note.chord) == 1 and not is_bound:
            yield note


def by_hand(raw: bytes, edit: Callable[[Document, Node], None], start: int) -> tuple[bytes, int]:
    """Edit the first such note from measure *start* on; return the bytes and its measure."""
    document = Document.read(raw, "")
    reading = Reading(document)
    score = reading.score()
    for measure in score.by_part[score.harp_parts[0]].measures[start:]:
        for note in single_notes(measure):
            node = reading.note_node(note.id)
            if node.find("accidental") is None and node.find("lyric") is None:
                edit(document, node)
                return document.to_bytes(), measure.index
    raise LookupError("no note to edit")


def to_an_octave_below(document: Document, note: Node) -> None:
    pitch = note.find("pitch")
    octave = None if pitch is None else pitch.find("octave")
    if octave is None:
        raise LookupError("a note without an octave")
    document.set_text(octave, str(int(octave.text) - 1))


def to_a_rest(document: Document, note: Node) -> None:
    pitch = note.find("pitch")
    document.insert(note, Node("rest", {}, []), before=pitch)
    for tag in ("pitch", "stem", "beam", "notations"):
        for node in note.find_all(tag):
            document.remove(node)


EDITS = (to_an_octave_below, to_a_rest)


@pytest.mark.parametrize(
    ("path", "edit"),
    [(path, EDITS[place % 2]) for place, path in enumerate(SCORES)],
    ids=[path.stem for path in SCORES],
)
def test_only_what_was_edited_is_planned_anew(
    path: Path, edit: Callable[[Document, Node], None]
) -> None:
    earlier = converted(path)
    middle = len(earlier.score.parts[0].measures) // 2
    edited, index = by_hand(plain_bytes(earlier), edit, middle)
    found = convert_edited(earlier.source, read_source_bytes(edited, path.name), settings())
    assert found.is_sound, (found.violations, found.unlogged)
    before, after = spelled(edited), spelled(plain_bytes(found))
    changed = {place for (_, place) in before if before[_, place] != after[_, place]}
    assert changed <= {0, *range(index - 2, index + 3)}
    own = [e.change for e in found.log.entries if e.change.rule == EDITOR]
    assert [change.where.index for change in own] == [index]
    assert len(found.log.entries) >= len(earlier.log.entries) + 1


def test_what_was_not_edited_comes_out_byte_for_byte() -> None:
    earlier = converted(CORPUS / "bells-three-staves.mxl")
    again = read_source_bytes(earlier.result, "bells.mxl")
    found = convert_edited(earlier.source, again, settings())
    assert found.result == earlier.result
    assert found.log.applied() == earlier.log.applied()


def edited_piece(text: str) -> tuple[Conversion, Conversion]:
    """A piece converted, and again after the notes of its result became those of *text*."""
    source = read_source_bytes(to_musicxml(HURRIED), "piece.musicxml")
    earlier = convert(source, settings("keep"))
    wanted = Reading(Document.read(to_musicxml(text), "")).score().notes_by_id
    document = Document.read(earlier.result, "")
    reading = Reading(document)
    for event, note in reading.score().notes_by_id.items():
        pitch = reading.note_node(event).find("pitch")
        assert pitch is not None
        if wanted[event].pitch != note.pitch:
            for tag in ("alter", "accidental"):
                for holder in (pitch, reading.note_node(event)):
                    for node in holder.find_all(tag):
                        document.remove(node)
    edited = read_source_bytes(document.to_bytes(), "piece.lever.musicxml")
    return earlier, convert_edited(source, edited, settings("keep"))


def test_what_cannot_be_had_there_is_left_open_rather_than_altering_what_was_kept() -> None:
    """The F lever is up before the third measure, and no hand is free for it at its start."""
    earlier, found = edited_piece(HURRIED.replace("F#5", "F5"))
    assert found.instructions.harps[0].moves[0] == earlier.instructions.harps[0].moves[0]
    assert [(p.where.index, p.pitches) for p in found.log.open_points] == [(2, ("F5",))]
    assert found.is_sound
    before, after = spelled(earlier.result), spelled(found.result)
    changed = {index for (part, index) in before if before[part, index] != after[part, index]}
    assert changed <= {0, 2}
    assert b"? = left open" in found.result


def test_the_log_tells_rules_and_editor_apart_and_is_not_carried_out_again() -> None:
    earlier, found = edited_piece(HURRIED.replace("F#5", "F5"))
    entries = found.log.entries[len(earlier.log.entries) :]
    own: list[Change] = [e.change for e in entries if e.change.rule == EDITOR]
    assert [(str(c.before[0].pitch), str(c.after[0].pitch)) for c in own] == [("F#5", "F5")]  # type: ignore[union-attr] # these are notes
    assert all(e.outcome is Outcome.APPLIED for e in entries if e.change.rule == EDITOR)
    document = Document.read(found.source.score_bytes, "")
    with pytest.raises(BadInput, match="an editor's own changes"):
        replay(document, Reading(document), from_lines(to_lines(found.log)))


def test_a_result_of_another_harp_or_of_nobody_is_refused(tmp_path: Path) -> None:
    source = read_source_bytes(to_musicxml(HURRIED), "piece.musicxml")
    with pytest.raises(BadInput, match="no result of this program"):
        convert_edited(source, source, settings())
    earlier = convert(source, settings())
    other = read_source_bytes(earlier.result.replace(b">lever-34<", b">lever-36<"), "r.musicxml")
    with pytest.raises(BadInput, match="made for the harp lever-36"):
        convert_edited(source, other, settings())
    longer = read_source_bytes(to_musicxml(HURRIED + " | C3w"), "long.musicxml")
    result = read_source_bytes(earlier.result, "r.musicxml")
    with pytest.raises(BadInput, match="other parts, measures or repeats"):
        convert_edited(longer, result, settings())
    assert main(["convert", str(tmp_path / "a.musicxml"), "--edited", str(tmp_path / "b")]) == 2


def test_the_command_writes_beside_the_edited_file(tmp_path: Path) -> None:
    score = tmp_path / "piece.musicxml"
    score.write_bytes(to_musicxml(HURRIED))
    assert main(["convert", str(score), "--harp", "lever-36"]) == 0
    result = tmp_path / "piece.lever.musicxml"
    before = result.read_bytes()
    edited, _ = by_hand(before, to_an_octave_below, 1)
    result.write_bytes(edited)
    assert main(["convert", str(score), "--edited", str(result)]) == 0
    again = tmp_path / "piece.lever.again.musicxml"
    assert again.read_bytes() == edited
    assert result.read_bytes() == edited
    told = json.loads((tmp_path / "piece.lever.again.summary.json").read_text("utf-8"))
    assert told["harp"]["name"] == "lever-36"
    assert EDITOR in {change["rule"] for change in told["changes"]}
    assert told["audit"]["accounted"]
