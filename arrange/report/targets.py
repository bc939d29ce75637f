"""Where results are written, and how: whole files or nothing."""

import hashlib
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path, PurePath

from arrange.errors import BadInput
from arrange.score.container import Source
from arrange.score.packing import packed, unpacked

PLAIN_SUFFIXES = (".musicxml", ".xml")
PACKED_SUFFIX = ".mxl"
DRAFT_SUFFIX = ".draft"
"""The ending of a file that is still being written; its name begins with a dot."""


class CannotWrite(BadInput):
    """A file that cannot be written.

    Attributes:
        cause: the system's number for why (`errno`), or 0.
    """

    def __init__(self, path: Path, error: OSError) -> None:
        reason = error.strerror or str(error)
        super().__init__(
            f"cannot be written ({reason}); choose another place with -o", file=str(path)
        )
        self.cause = error.errno or 0


@dataclass(frozen=True, slots=True)
class Target:
    """Where one result goes; its other files stand beside it under the same stem."""

    result: Path

    @property
    def name(self) -> str:
        """The result's stem, which its other files share."""
        return self.result.stem

    @property
    def key(self) -> Path:
        """Where it and its other files stand, without an ending."""
        return self.result.resolve().with_name(self.name)

    def beside(self, ending: str) -> Path:
        """A file beside the result: ``changes.jsonl``, ``rejected``; "" is the result."""
        return self.result.with_name(f"{self.name}.{ending}") if ending else self.result


def beside_source(source: Path, suffix: str) -> Target:
    """The usual place: beside the source, as ``STEM.lever.musicxml``."""
    return Target(source.with_name(f"{source.stem}.lever{suffix}"))


def in_folder(folder: Path, source: Path, suffix: str, version: str = "") -> Target:
    """In a folder of results, where each keeps the name of its source.

    Of several versions each has its own, ``STEM.VERSION.musicxml``.
    """
    kept = source.suffix if source.suffix.lower() in (*PLAIN_SUFFIXES, PACKED_SUFFIX) else suffix
    stem = f"{source.stem}.{version}" if version else source.stem
    return Target(folder / f"{stem}{kept}")


def in_container_of(result: PurePath, source: Source) -> Source:
    """The source, plain or in an archive as the result's name says."""
    suffix = result.suffix.lower()
    if suffix == PACKED_SUFFIX:
        return packed(source)
    return unpacked(source) if suffix in PLAIN_SUFFIXES else source


def require_free(target: Target, sources: list[Path], taken: Mapping[Path, Path]) -> None:
    """Refuse to write over a source, or over another result of the same run.

    Raises:
        BadInput: the place is not free.
    """
    place = target.result.resolve()
    for source in sources:
        if source.resolve() == place:
            raise BadInput(
                "the result would overwrite the source; name another place with -o, or leave -o "
                f"out to write {source.stem}.lever{source.suffix} beside it",
                file=str(source),
            )
    other = taken.get(target.key)
    if other is not None:
        raise BadInput(
            f"its result would have the same name as that of {other}; convert it alone",
            file=str(target.result),
        )


def write_files(contents: Mapping[Path, bytes]) -> None:
    """Write files, each whole: first beside its place, then renamed.

    Raises:
        CannotWrite: a file cannot be written; none is then left half written.
    """
    drafts = {path: _draft(path) for path in contents}
    try:
        for path, draft in drafts.items():
            with _explained(path):
                path.parent.mkdir(parents=True, exist_ok=True)
                draft.write_bytes(contents[path])
        for path, draft in drafts.items():
            with _explained(path):
                draft.replace(path)
    finally:
        for draft in drafts.values():
            with suppress(OSError):
                draft.unlink()


def _draft(path: Path) -> Path:
    """Where a file is written first; short, however long its name is."""
    name = hashlib.sha256(os.fsencode(path.name)).hexdigest()[:16]
    return path.with_name(f".{name}.{os.getpid()}{DRAFT_SUFFIX}")


@contextmanager
def _explained(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise CannotWrite(path, error) from error
