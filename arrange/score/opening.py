"""A score file of any kind that is known: MusicXML is read, other formats are imported."""

import re
from pathlib import Path

from arrange.errors import BadInput
from arrange.score.container import Source, read_source_bytes
from arrange.score.files import file_bytes
from arrange.score.importing import IMPORTED_SUFFIXES, import_bytes
from arrange.score.limits import Limits

SCORE_SUFFIXES = (".musicxml", ".xml", ".mxl", *IMPORTED_SUFFIXES)
"""The endings of score files."""
_MUSICXML = "MusicXML"
_KINDS = (
    (re.compile(rb"MThd"), "MIDI"),
    (re.compile(rb"PK[\3\5][\4\6]"), _MUSICXML),
    (re.compile(rb"%PDF"), "a PDF"),
    (re.compile(rb"\x89PNG|\xff\xd8\xff|GIF8|II\*\0|MM\0\*"), "a picture"),
    (re.compile(rb"\x1f\x8b|Rar!|7z\xbc\xaf|BZh|\xfd7zXZ"), "a packed file of another kind"),
    (re.compile(rb"\x7fELF|MZ[\x80-\xff\0]"), "a program"),
    (re.compile(rb"RIFF|ID3|OggS|fLaC"), "a recording"),
    (re.compile(rb"\*\*(?:kern|recip|dynam)\b"), "Humdrum"),
)
"""What the first bytes of a file say about it, where they leave no doubt."""
_ROOTS = (
    (re.compile(rb"<score-(?:partwise|timewise)[\s/>]"), _MUSICXML),
    (re.compile(rb"<(?:\w+:)?mei[\s/>]"), "MEI"),
    (re.compile(rb"<html[\s/>]", re.IGNORECASE), "a web page"),
)
_BEGINNING_BYTES = 4_000
_ENDINGS = {kind: suffix for suffix, kind in reversed(IMPORTED_SUFFIXES.items())}


def open_score(path: Path, limits: Limits | None = None) -> Source:
    """Read a score file of any kind that is known.

    Raises:
        BadInput: it is not there, cannot be read, or is something else than its name says.
    """
    return opened(file_bytes(path, limits), path.name, limits)


def opened(raw: bytes, name: str, limits: Limits | None = None) -> Source:
    """The score in the bytes of a file.

    Raises:
        BadInput: it cannot be read, or is something else than its name says.
    """
    suffix = Path(name).suffix.lower()
    named = IMPORTED_SUFFIXES.get(suffix, _MUSICXML)
    found = _kind(raw)
    if found and found != named:
        raise BadInput(f"is named {suffix or name} but is {found}; {_advice(found)}", file=name)
    if named == _MUSICXML:
        return read_source_bytes(raw, name, limits)
    score_bytes, note = import_bytes(raw, name)
    return Source(name, score_bytes, None, (note,))


def is_imported(name: str) -> bool:
    """Whether a score file of this name comes in through another format's reader."""
    return Path(name).suffix.lower() in IMPORTED_SUFFIXES


def _advice(found: str) -> str:
    if found == _MUSICXML:
        return "give its name the ending .musicxml, or .mxl where it is compressed"
    if found in _ENDINGS:
        return f"give its name the ending {_ENDINGS[found]}"
    return "name a score file"


def _kind(raw: bytes) -> str:
    """What the content says the file is; empty where it leaves a doubt."""
    for beginning, kind in _KINDS:
        if beginning.match(raw):
            return kind
    start = raw[:_BEGINNING_BYTES].replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xff\xfe\t\r\n ")
    if start.startswith(b"<"):
        for root, kind in _ROOTS:
            if root.search(start):
                return kind
    return ""
