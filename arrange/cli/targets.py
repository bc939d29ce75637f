"""Where results are written, and how: whole files or nothing."""

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from arrange.errors import BadInput

PLAIN_SUFFIXES = (".musicxml", ".xml")
PACKED_SUFFIX = ".mxl"


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
        """A file beside the result: ``changes.jsonl``, ``rejected``."""
        return self.result.with_name(f"{self.name}.{ending}")


def beside_source(source: Path, suffix: str) -> Target:
    """The usual place: beside the source, as ``STEM.lever.musicxml``."""
    return Target(source.with_name(f"{source.stem}.lever{suffix}"))


def in_folder(folder: Path, source: Path, suffix: str) -> Target:
    """In a folder of results, where each keeps the name of its source."""
    kept = source.suffix if source.suffix.lower() in (*PLAIN_SUFFIXES, PACKED_SUFFIX) else suffix
    return Target(folder / f"{source.stem}{kept}")


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
        BadInput: a file cannot be written; none is then left half written.
    """
    drafts = {path: path.with_name(f".{path.name}.{os.getpid()}") for path in contents}
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


@contextmanager
def _explained(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        reason = error.strerror or str(error)
        raise BadInput(
            f"cannot be written ({reason}); choose another place with -o", file=str(path)
        ) from error
