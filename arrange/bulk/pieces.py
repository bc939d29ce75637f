"""The pieces of a folder: every score file in it, in order, and nothing that lies outside."""

import os
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from arrange.errors import BadInput
from arrange.report.result_files import IMPORTED
from arrange.score.files import file_bytes
from arrange.score.limits import Limits
from arrange.score.opening import SCORE_SUFFIXES, is_imported

_PLAIN_SUFFIXES = (".musicxml", ".xml", ".mxl")


@dataclass(frozen=True, slots=True)
class Piece:
    """A score file of the folder.

    Attributes:
        name: its path from the folder, with slashes; signs that are no text are spelled out.
        file: the file itself.
        refusal: why it is not even opened; empty where it is.
    """

    name: str
    file: Path
    refusal: str = ""

    @property
    def result(self) -> str:
        """The path of its result from the folder of results; results keep their names."""
        path = PurePosixPath(self.name)
        if path.suffix.lower() in _PLAIN_SUFFIXES:
            return self.name
        return str(path.with_suffix(".musicxml"))

    def content(self, limits: Limits) -> bytes:
        """Its bytes.

        Raises:
            BadInput: it has vanished, cannot be read, is too long, or has become a link.
        """
        if self.refusal:
            raise BadInput(self.refusal)
        return file_bytes(self.file, limits, follows_links=False)


def pieces_in(folder: Path, out: Path) -> list[Piece]:
    """Every score file in *folder*, sorted by name.

    Hidden files and folders are left alone, and so is *out* where it lies inside. A link is
    followed only where it leads to a file in the folder; of two files whose results would have
    the same name the second is refused.

    Raises:
        BadInput: the folder is none, or the results would be written over it.
    """
    if not folder.is_dir():
        raise BadInput("is no folder; name the folder of the scores", file=str(folder))
    inside, results = folder.resolve(), out.resolve()
    if results == inside or results in inside.parents:
        raise BadInput(
            "results cannot be written into the folder of the scores or above it; name another "
            "with -o",
            file=str(out),
        )
    taken: dict[str, str] = {}
    found = []
    for path in sorted(_files(inside, results), key=os.fsencode):
        piece = _piece(path, inside)
        refusal = piece.refusal or _claimed(piece, taken)
        found.append(Piece(piece.name, piece.file, refusal))
    return found


def _files(folder: Path, results: Path) -> Iterator[Path]:
    for place, folders, files in os.walk(folder, onerror=_refuse_folder):
        here = Path(place)
        folders[:] = [
            name for name in folders if not name.startswith(".") and here / name != results
        ]
        for name in files:
            if not name.startswith(".") and Path(name).suffix.lower() in SCORE_SUFFIXES:
                yield here / name


def _refuse_folder(error: OSError) -> None:
    raise BadInput(
        f"the folder cannot be read ({error.strerror or error})", file=str(error.filename or "")
    ) from error


def _piece(path: Path, folder: Path) -> Piece:
    shown = path.relative_to(folder).as_posix()
    name = shown.encode("utf-8", "backslashreplace").decode()
    if name != shown:
        return Piece(name, path, "its name is not written in UTF-8; rename it")
    try:
        kind = path.lstat().st_mode
        if not stat.S_ISLNK(kind):
            usable = stat.S_ISREG(kind)
            return Piece(name, path, "" if usable else "it is no plain file")
        target = path.resolve(strict=True)
    except (OSError, RuntimeError):
        return Piece(name, path, "it is a link that leads nowhere")
    if not target.is_relative_to(folder):
        return Piece(name, path, "it is a link that leads out of the folder; it is not followed")
    return Piece(name, target, "" if target.is_file() else "it is a link to no plain file")


def _claimed(piece: Piece, taken: dict[str, str]) -> str:
    """Why the piece cannot have the name of its result; empty where it can."""
    stem = str(PurePosixPath(piece.result).with_suffix(""))
    stems = [stem]
    if is_imported(piece.name):
        stems.append(f"{stem}.{IMPORTED.rpartition('.')[0]}")
    for claimed in stems:
        other = taken.get(claimed)
        if other is not None:
            return f"its result would have the same name as that of {other}; rename one of them"
    taken.update(dict.fromkeys(stems, piece.name))
    return ""
