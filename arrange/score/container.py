"""A score file, plain or compressed: finds the score in it and puts the result back."""

import hashlib
import re
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath

from arrange.errors import BadInput
from arrange.score.archive import Archive, lies_outside
from arrange.score.encodings import decoded
from arrange.score.files import file_bytes
from arrange.score.limits import Limits
from arrange.score.parsing import parsed

_ZIP_BEGINNINGS = (b"PK\3\4", b"PK\5\6")
_CONTAINER = "META-INF/container.xml"
_SCORE_SUFFIXES = (".xml", ".musicxml")
_SCORE_ROOT = re.compile(rb"<score-(?:partwise|timewise)[\s/>]")
# A score's root stands in this much of its file, whatever comments come first.
_BEGINNING_BYTES = 100_000
_NO_SCORE_FOLDERS = ("META-INF", "__MACOSX")


@dataclass(frozen=True, slots=True)
class Source:
    """A score file, as it was read.

    Attributes:
        name: The file's name, for messages.
        score_bytes: The MusicXML in it.
        archive: The archive that it came in; `None` for a plain file.
        notes: What was odd about the file, in sentences for the log.
    """

    name: str
    score_bytes: bytes
    archive: Archive | None
    notes: tuple[str, ...]

    @property
    def sha256(self) -> str:
        """The hash of the file."""
        raw = self.score_bytes if self.archive is None else self.archive.raw
        return hashlib.sha256(raw).hexdigest()


def read_source(path: Path) -> Source:
    """Read a plain or compressed score file; its content tells which, not its name.

    Raises:
        BadInput: No such file, one that cannot be read, or an archive without a clear score.
    """
    return read_source_bytes(file_bytes(path), path.name)


def read_source_bytes(raw: bytes, name: str, limits: Limits | None = None) -> Source:
    """Read the bytes of a plain or compressed score file.

    Args:
        raw: The whole file.
        name: The file's name; only its ending counts, and only for a note.
        limits: How much an archive may hold.

    Raises:
        BadInput: A broken or harmful archive, or one without a clear score.
    """
    is_archive = raw.startswith(_ZIP_BEGINNINGS)
    is_named_archive = name.lower().endswith(".mxl")
    if not is_archive:
        notes = ("the file is named .mxl but is not compressed",) if is_named_archive else ()
        return Source(name, raw, None, notes)
    notes = () if is_named_archive else ("the file is compressed but not named .mxl",)
    archive = Archive.open(raw, name, limits)
    score, odd = _score_member(archive)
    archive = replace(archive, score=score)
    return Source(name, archive.member(score), archive, (*notes, *odd))


def write_result(source: Source, score_bytes: bytes) -> bytes:
    """The bytes of the file with another score in it; the same score gives the same bytes.

    Raises:
        BadInput: The archive is laid out in a way that cannot be kept.
    """
    if source.archive is None:
        return score_bytes
    if score_bytes == source.score_bytes:
        return source.archive.raw
    return source.archive.replaced(score_bytes)


def _score_member(archive: Archive) -> tuple[str, tuple[str, ...]]:
    """The member that holds the score, and what was odd in finding it."""
    named, trouble = _named_member(archive)
    if named:
        return named, ()
    scores = [m for m in archive.members if _is_candidate(m) and _is_score(archive, m)]
    if len(scores) == 1:
        return scores[0], (f"{trouble}; the only score in the archive was used, {scores[0]}",)
    if not scores:
        raise BadInput(
            f"{trouble}, and the archive holds no MusicXML score; export the score again",
            file=archive.name,
        )
    raise BadInput(
        f"{trouble}, and the archive holds {len(scores)} scores ({', '.join(scores)}); "
        "unpack it and convert the one that you want",
        file=archive.name,
    )


def _named_member(archive: Archive) -> tuple[str, str]:
    """The score that the container names; or nothing, and why."""
    if _CONTAINER not in archive.members:
        return "", f"the archive has no {_CONTAINER}"
    try:
        text = decoded(archive.member(_CONTAINER), _CONTAINER).text
        root = parsed(text, _CONTAINER)
    except BadInput as fault:
        return "", f"the archive's container cannot be read ({fault.message})"
    trouble = f"{_CONTAINER} names no MusicXML file"
    for rootfile in root.iter("rootfile"):
        kind = rootfile.attrs.get("media-type", "").lower()
        if kind and "xml" not in kind:
            continue
        member = rootfile.attrs.get("full-path", "")
        _require_inside(member, archive.name)
        member = member.removeprefix("./")
        if member not in archive.members:
            trouble = f"{_CONTAINER} names {member or 'nothing'}, which the archive does not hold"
        elif _is_score(archive, member):
            return member, ""
    return "", trouble


def _require_inside(member: str, name: str) -> None:
    if lies_outside(member):
        raise BadInput(
            f"{_CONTAINER} names {member}, which lies outside the archive; export the score again",
            file=name,
        )


def _is_candidate(member: str) -> bool:
    path = PurePosixPath(member)
    return path.suffix.lower() in _SCORE_SUFFIXES and path.parts[0] not in _NO_SCORE_FOLDERS


def _is_score(archive: Archive, member: str) -> bool:
    beginning = archive.member(member)[:_BEGINNING_BYTES].replace(b"\0", b"")
    return _SCORE_ROOT.search(beginning) is not None
