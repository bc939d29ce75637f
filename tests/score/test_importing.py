"""Scores in other formats come in as MusicXML, the same bytes each time."""

import subprocess
import sys
from pathlib import Path

import pytest

from arrange.errors import BadInput
from arrange.score.document import Document
from arrange.score.importing import import_score

ABC = "X:1\nT:Brook at dusk\nM:3/4\nL:1/4\nK:Eb\nEGB|e3|\n"
KERN = "**kern\t**kern\n*M2/4\t*M2/4\n=1\t=1\n4C\t4e-\n4G\t4g\n==\t==\n*-\t*-\n"
MEI = (
    '<mei xmlns="http://www.music-encoding.org/ns/mei"><music><body><mdiv><score><scoreDef>'
    '<staffGrp><staffDef n="1" lines="5" clef.shape="G" clef.line="2"/></staffGrp></scoreDef>'
    '<section><measure n="1"><staff n="1"><layer n="1"><note pname="d" oct="4" dur="1"/></layer>'
    "</staff></measure></section></score></mdiv></body></music></mei>"
)
# Two tracks of one quarter each (C4, E4), 96 ticks to the quarter, the first on a harp.
MIDI = bytes.fromhex(
    "4d546864 00000006 0001 0002 0060"
    "4d54726b 0000000f 00c02e 00903c40 60803c00 00ff2f00"
    "4d54726b 0000000c 00914040 60814000 00ff2f00"
)
SCORES = {
    "brook.abc": (ABC.encode(), "ABC", ["E", "G", "B", "E"]),
    "brook.krn": (KERN.encode(), "Humdrum", ["C", "G", "E", "G"]),
    "brook.mei": (MEI.encode(), "MEI", ["D"]),
    "brook.MID": (MIDI, "MIDI", ["C", "E"]),
}


@pytest.mark.parametrize("name", SCORES)
def test_another_format_comes_in_as_musicxml_with_a_note(name: str, tmp_path: Path) -> None:
    raw, kind, steps = SCORES[name]
    path = tmp_path / name
    path.write_bytes(raw)
    result, note = import_score(path)
    document = Document.read(result, name)
    assert sorted(node.text for node in document.root.iter("step")) == sorted(steps)
    assert note.startswith(f"imported from {kind}: ")
    assert b"usic21" not in result
    assert b"encoding-date" not in result
    assert import_score(path)[0] == result


def test_another_run_imports_the_same_bytes(tmp_path: Path) -> None:
    path = tmp_path / "brook.mid"
    path.write_bytes(MIDI)
    script = (
        "import sys, pathlib; from arrange.score.importing import import_score;"
        "sys.stdout.buffer.write(import_score(pathlib.Path(sys.argv[1]))[0])"
    )
    other = subprocess.run(
        [sys.executable, "-c", script, str(path)],
        capture_output=True,
        check=True,
        cwd=Path(__file__).parents[2],
    )
    assert other.stdout == import_score(path)[0]
    assert b'id="P1"' in other.stdout


def test_the_importer_is_loaded_only_when_it_is_needed() -> None:
    script = "import sys, arrange.score.importing; sys.exit('music21' in sys.modules)"
    subprocess.run([sys.executable, "-c", script], check=True, cwd=Path(__file__).parents[2])


@pytest.mark.parametrize(
    ("name", "raw", "sentence"),
    [
        ("a.mid", b"nonsense", "cannot be read as MIDI"),
        ("a.mei", b"nonsense", "cannot be read as MEI"),
        ("two.abc", (ABC + "\n" + ABC.replace("X:1", "X:2")).encode(), "holds 2 pieces"),
        ("a.pdf", b"%PDF", r"cannot be imported; these can: \.abc, "),
        ("none.abc", None, "there is no such file"),
    ],
)
def test_what_cannot_be_imported_is_refused_in_a_sentence(
    name: str, raw: bytes | None, sentence: str, tmp_path: Path
) -> None:
    path = tmp_path / name
    if raw is not None:
        path.write_bytes(raw)
    with pytest.raises(BadInput, match=sentence) as caught:
        import_score(path)
    assert name in str(caught.value)
    assert "\n" not in str(caught.value)
