"""Scores in other formats, brought into MusicXML by music21, which is loaded only when needed."""

import warnings
from collections.abc import Iterator
from pathlib import Path

from arrange.errors import BadInput
from arrange.score.document import Document, Node

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
    """The MusicXML of a score in another format, and a sentence for the log.

    The same file gives the same bytes: dates, versions and names made by chance are left out.

    Args:
        path: A file whose ending is one of `IMPORTED_SUFFIXES`.

    Raises:
        BadInput: No such file, an unknown ending, not one score, or one that cannot be read.
    """
    kind = IMPORTED_SUFFIXES.get(path.suffix.lower())
    if kind is None:
        endings = ", ".join(sorted(IMPORTED_SUFFIXES))
        raise BadInput(f"cannot be imported; these can: {endings}", file=path.name)
    if not path.is_file():
        raise BadInput("there is no such file; check the name", file=str(path))
    document = Document.read(_exported(path, kind), path.name)
    _leave_out_chance(document)
    note = (
        f"imported from {kind}: the result is compared with the imported MusicXML, "
        "which is kept beside it"
    )
    return document.to_bytes(), note


def _exported(path: Path, kind: str) -> bytes:
    from music21 import converter, stream  # noqa: PLC0415 - slow, and seldom needed
    from music21.musicxml.m21ToXml import GeneralObjectExporter  # noqa: PLC0415 - as above

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            # From a file that is no MIDI, the library would leave the file open.
            score = (
                converter.parseData(path.read_bytes(), format="midi")
                if kind == "MIDI"
                else converter.parse(path, forceSource=True)
            )
            if isinstance(score, stream.Opus):
                score = _only_score(list(score.scores), path.name)
            exported = GeneralObjectExporter(score).parse()
    except BadInput:
        raise
    except Exception as fault:  # the foreign reader raises whatever it meets
        raise BadInput(
            f"cannot be read as {kind} ({type(fault).__name__}: {' '.join(str(fault).split())}); "
            "export it as MusicXML",
            file=path.name,
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
