"""Small scores in MusicXML for the tests of what moves, and the public ones at hand."""

import importlib.util
import zipfile
from pathlib import Path

from arrange.score.document import Document

_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<score-partwise version="4.0">\n  <part-list>\n'
    '    <score-part id="P1">\n      <part-name>Harp</part-name>\n    </score-part>\n'
    '  </part-list>\n  <part id="P1">\n'
)
_TAIL = "  </part>\n</score-partwise>\n"


def folder_of(package: str) -> Path:
    """Where an installed package lies; it is not loaded."""
    found = importlib.util.find_spec(package)
    assert found is not None
    assert found.origin is not None
    return Path(found.origin).parent


def public_score(name: str) -> bytes:
    """A score that ships with the music library, unpacked."""
    path = folder_of("music21") / "corpus" / name
    if not zipfile.is_zipfile(path):
        return path.read_bytes()
    with zipfile.ZipFile(path) as archive:
        names = [n for n in archive.namelist() if not n.startswith("META-INF")]
        return archive.read(next(n for n in names if n.endswith(("xml", "musicxml"))))


def note(text: str, inside: str = "", after: str = "", kind: str = "quarter") -> str:
    """A quarter note such as ``F#4`` in voice 1; *inside* goes before its type."""
    step, sign, octave = text[0], text[1:-1], text[-1]
    alter = sign.count("#") - sign.count("b")
    written = f"<alter>{alter}</alter>" if alter else ""
    pitch = f"<pitch><step>{step}</step>{written}<octave>{octave}</octave></pitch>"
    return f"<note>{pitch}<duration>4</duration>{inside}<type>{kind}</type>{after}</note>"


def sheet(*measures: str, key: str = "<key><fifths>0</fifths></key>", clef: str = "") -> str:
    """A score of one part in common time, four divisions to the quarter."""
    clef = clef or "<clef><sign>G</sign><line>2</line></clef>"
    time = "<time><beats>4</beats><beat-type>4</beat-type></time>"
    first = f"<attributes><divisions>4</divisions>{key}{time}{clef}</attributes>"
    bodies = (first + measures[0], *measures[1:])
    written = (f'<measure number="{n}">{body}</measure>' for n, body in enumerate(bodies, start=1))
    return _HEAD + "\n".join(written) + _TAIL


def document_of(text: str) -> Document:
    """The document in a score's text."""
    return Document.read(text.encode(), "sheet.musicxml")
