"""Scores in other formats, brought into MusicXML by music21, which is loaded only when needed."""

import warnings
from collections.abc import Iterator
from pathlib import Path, PurePath

from arrange.errors import BadInput
from arrange.score.document import Document, Node
from arrange.score.files import file_bytes

IMPORTED_SUFFIXES = {
    ".abc": "ABC",
    ".krn": "Humdrum",
    ".mei": "MEI",
    ".mid": "MIDI",
    ".midi": "MIDI",
}
# What the importer writes where the source has no title or composer.
_STAND_INS = {"movement-title": "Music21 Fragment", "creator": "Music21"}
_VARYING = ("encoding-date", "software")


def import_score(path: Path) -> tuple[bytes, str]:
    """The MusicXML of a score file in another format, and a sentence for the log.

    Args:
        path: A file whose ending is one of `IMPORTED_SUFFIXES`.

    Raises:
        BadInput: No such file, an unknown ending, not one score, or one that cannot be read.
    """
    _kind(path.name)
    return import_bytes(file_bytes(path), path.name)


def import_bytes(raw: bytes, name: str) -> tuple[bytes, str]:
    """The MusicXML of a score in another format, and a sentence for the log.

    The same file gives the same bytes: dates, versions and names made by chance are left out.

    Args:
        raw: The whole file.
        name: Its name, whose ending is one of `IMPORTED_SUFFIXES`.

    Raises:
        BadInput: An unknown ending, not one score, or one that cannot be read.
    """
    kind = _kind(name)
    document = Document.read(_exported(raw, kind, name), name)
    _leave_out_chance(document)
    note = (
        f"imported from {kind}: the result is compared with the imported MusicXML, "
        "which is kept beside it"
    )
    return document.to_bytes(), note


def _kind(name: str) -> str:
    kind = IMPORTED_SUFFIXES.get(PurePath(name).suffix.lower())
    if kind is None:
        endings = ", ".join(sorted(IMPORTED_SUFFIXES))
        raise BadInput(f"cannot be imported; these can: {endings}", file=name)
    return kind


def _text(raw: bytes) -> str:
    """The text of a score that is written in letters; the old encoding where it is not UTF-8."""
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def _exported(raw: bytes, kind: str, name: str) -> bytes:
    from music21 import converter, stream  # noqa: PLC0415 - slow, and seldom needed
    from music21.musicxml.m21ToXml import GeneralObjectExporter  # noqa: PLC0415 - as above

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            content = raw if kind == "MIDI" else _text(raw)
            score = converter.parseData(content, format=kind.lower())
            if isinstance(score, stream.Opus):
                score = _only_score(list(score.scores), name)
            exported = GeneralObjectExporter(score).parse()
    except BadInput:
        raise
    except Exception as fault:  # the foreign reader raises whatever it meets
        raise BadInput(
            f"cannot be read as {kind} ({type(fault).__name__}: {' '.join(str(fault).split())}); "
            "export it as MusicXML",
            file=name,
        ) from fault
    return bytes(exported)


def _only_score(scores: list[object], name: str) -> object:
    if len(scores) != 1:
        raise BadInput(
            f"the file holds {len(scores)} pieces; keep the one that you want", file=name
        )
    return scores[0]


def _leave_out_chance(document: Document) -> None:
    nodes = list(document.root.iter())
    names = dict(_lasting_names(document.root))
    for node in nodes:
        if node.tag in _VARYING or _STAND_INS.get(node.tag, " ") == node.text:
            document.remove(node)
        elif node.attrs.get("id") in names:
            document.set_attribute(node, "id", names[node.attrs["id"]])


def _lasting_names(root: Node) -> Iterator[tuple[str, str]]:
    for number, part in enumerate(root.iter("score-part"), 1):
        yield part.attrs["id"], f"P{number}"
        for count, instrument in enumerate(part.find_all("score-instrument"), 1):
            yield instrument.attrs["id"], f"P{number}-I{count}"
