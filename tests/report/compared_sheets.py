"""Public scores and small ones for the tests of comparing, and edits of their bytes."""

import importlib.util
import re
import zipfile
from pathlib import Path

from arrange.apply.transposing import transpose
from arrange.pitch import Interval
from arrange.score.document import Document

MEASURE = re.compile(rb"[ \t]*<measure\b.*?</measure>\s*?\n", re.DOTALL)


def public_score(name: str) -> bytes:
    """A score that ships with the music library, unpacked; the library is not loaded."""
    found = importlib.util.find_spec("music21")
    assert found is not None
    assert found.origin is not None
    path = Path(found.origin).parent / "corpus" / name
    if not zipfile.is_zipfile(path):
        return path.read_bytes()
    with zipfile.ZipFile(path) as archive:
        names = [n for n in archive.namelist() if not n.startswith("META-INF")]
        return archive.read(next(n for n in names if n.endswith(("xml", "musicxml"))))


def transposed(raw: bytes, interval: str) -> bytes:
    """Every part moved."""
    document = Document.read(raw, "piece.musicxml")
    parts = tuple(part.attrs["id"] for part in document.root.find_all("part"))
    transpose(document, parts, Interval.parse(interval))
    return document.to_bytes()


def measures(raw: bytes) -> list[bytes]:
    """The measures of a score of one part, as they are spelled."""
    return MEASURE.findall(raw)


def with_measures(raw: bytes, chosen: list[bytes]) -> bytes:
    """The score with other measures in place of its own."""
    spans = [match.span() for match in MEASURE.finditer(raw)]
    return raw[: spans[0][0]] + b"".join(chosen) + raw[spans[-1][1] :]


def note(pitch: str = "C4", inside: str = "", *, duration: int = 4, before: str = "") -> str:
    """A note in voice 1, four divisions to the quarter; *before* goes before its pitch."""
    step, sign, octave = pitch[0], pitch[1:-1], pitch[-1]
    alter = sign.count("#") - sign.count("b")
    written = f"<alter>{alter}</alter>" if alter else ""
    return (
        f"<note>{before}<pitch><step>{step}</step>{written}<octave>{octave}</octave></pitch>"
        f"<duration>{duration}</duration><voice>1</voice>{inside}</note>"
    )


def rest(duration: int = 4) -> str:
    """A rest in voice 1."""
    return f"<note><rest/><duration>{duration}</duration><voice>1</voice></note>"


def direction(inside: str, after: str = "") -> str:
    """A direction of one kind."""
    return f"<direction><direction-type>{inside}</direction-type>{after}</direction>"


ATTRIBUTES = (
    "<attributes><divisions>4</divisions><key><fifths>0</fifths></key>"
    "<time><beats>4</beats><beat-type>4</beat-type></time>"
    "<clef><sign>G</sign><line>2</line></clef></attributes>"
)


def sheet(*contents: str, head: str = "", name: str = "Flute", first: str = ATTRIBUTES) -> bytes:
    """A score of one part, which is no harp and no keyboard."""
    body = "".join(
        f"<measure number='{number}'>{first if number == 1 else ''}{content}</measure>"
        for number, content in enumerate(contents, start=1)
    )
    return (
        f"<score-partwise version='4.0'>{head}<part-list><score-part id='P1'>"
        f"<part-name>{name}</part-name></score-part></part-list>"
        f"<part id='P1'>{body}</part></score-partwise>"
    ).encode()
