"""The scores that are spoiled: a test suite of single signs, and pieces of our own scores."""

import importlib.util
import re
from collections.abc import Iterator
from pathlib import Path

from mutating import ZIP_BEGINNING, spans

CORPUS = Path(__file__).parents[2] / "corpus"


def text_of(raw: bytes) -> str:
    """The bytes as text that gives the same bytes again."""
    return raw.decode("utf-8", "surrogateescape")


def bytes_of(text: str) -> bytes:
    """The bytes of such a text."""
    return text.encode("utf-8", "surrogateescape")


def small(longest: int) -> Iterator[bytes]:
    """Scores of *longest* bytes or fewer, packed ones among them."""
    for raw in suite():
        if len(raw) <= longest:
            yield raw
    for path in sorted(CORPUS.glob("*.mxl")):
        yield path.read_bytes()
    for text in own():
        for first in telling(text):
            piece = bytes_of(stretch(text, first, 1))
            if len(piece) <= longest:
                yield piece


def telling(text: str) -> list[int]:
    """Where measures stand that hold something which those before do not: the first is 0."""
    seen: set[str] = set()
    found = []
    measures = [span.of(text) for span in spans(text) if span.tag == "measure"]
    for number, measure in enumerate(measures[1:]):
        words = set(re.findall(r"<words[^>]*>([^<]*)<", measure))
        new = {span.tag for span in spans(measure)} | words
        if not new <= seen:
            found.append(number)
        seen |= new
    return found


def suite() -> Iterator[bytes]:
    """A test suite that comes with music21: one sign or notation a file."""
    library = importlib.util.find_spec("music21")
    if library is None or library.origin is None:
        return
    folder = Path(library.origin).parent / "musicxml" / "lilypondTestSuite"
    for path in sorted(folder.iterdir()):
        if path.suffix in (".xml", ".mxl"):
            yield path.read_bytes()


def own() -> Iterator[str]:
    """Our own scores, as texts."""
    for path in sorted(CORPUS.glob("*.musicxml")):
        raw = path.read_bytes()
        if raw[:4] != ZIP_BEGINNING and b"\0" not in raw[:100]:
            yield text_of(raw)


def stretch(text: str, first: int, count: int) -> str:
    """The first measure of a score and *count* more, *first* measures further on."""
    found = spans(text)
    measures = [span for span in found if span.tag == "measure"]
    for part in sorted((s for s in found if s.tag == "part"), key=lambda s: -s.begin):
        inside = [m for m in measures if part.begin < m.begin < part.end]
        kept = [*inside[:1], *inside[1:][first : first + count]]
        content = "\n".join(measure.of(text) for measure in kept)
        text = text[: part.inner] + content + text[part.close :]
    return text
