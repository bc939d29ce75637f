"""The folder of results: what is written there, by whom, and what an editor has touched since."""

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from arrange.bulk.fingerprints import sha256
from arrange.bulk.ledger import Entry, Ledger
from arrange.errors import BadInput
from arrange.report.targets import DRAFT_SUFFIX, CannotWrite, write_files

_DRAFT = re.compile(rf"\.[0-9a-f]{{16}}\.\d+{re.escape(DRAFT_SUFFIX)}")


@dataclass(frozen=True, slots=True)
class Place:
    """Where one piece on one harp stands.

    Attributes:
        harp: the name of the harp; *folder*: of its own, or "" where there is only one.
        source: the path of the source from its folder; *result*: of the result from its.
    """

    harp: str
    folder: str
    source: str
    result: str

    @property
    def name(self) -> str:
        """What the ledger calls it."""
        return str(PurePosixPath(self.folder) / self.source)

    def path(self, ending: str) -> str:
        """The path of one of its files from the folder of results."""
        path = PurePosixPath(self.folder) / self.result
        return str(path.with_name(f"{path.stem}.{ending}") if ending else path)


class Results:
    """A folder of results and its ledger."""

    def __init__(self, root: Path, ledger: Ledger) -> None:
        """Open the folder *root*, which has this ledger."""
        self.root = root.resolve()
        self.ledger = ledger
        self._left: dict[str, set[str]] = {}

    def leave(self, entry: Entry) -> None:
        """Note that the source of an entry is gone: another one may have its names."""
        for path, found in entry.files.items():
            self._left.setdefault(path, set()).add(found)

    def sweep(self) -> int:
        """Take away what a run that was killed had begun to write; returns how many files."""
        count = 0
        for place, _, files in os.walk(self.root):
            for name in files:
                if _DRAFT.fullmatch(name):
                    (Path(place) / name).unlink()
                    count += 1
        return count

    def is_complete(self, entry: Entry) -> bool:
        """Whether every file of an entry is there, as it was written or as it was edited."""
        return all(self._hash(path) for path in entry.files)

    def is_edited(self, entry: Entry) -> bool:
        """Whether any file of an entry is there and is not as it was written."""
        return any(self._hash(path) not in ("", found) for path, found in entry.files.items())

    def in_the_way(self, place: Place, files: Mapping[str, bytes]) -> str:
        """A file that the program did not write, where these would go; or nothing.

        An editor may have touched a result since, or something else stands there.

        Args:
            place: the piece.
            files: what is to be written, by ending.
        """
        entry = self.ledger.entry(place.name)
        pending = self.ledger.pending(place.name)
        written = {} if entry is None else entry.files
        fresh = {place.path(ending): sha256(content) for ending, content in files.items()}
        for path in sorted({*written, *fresh}):
            found = self._hash(path)
            known = {written.get(path), pending.get(path), fresh.get(path)}
            if found and found not in known | self._left.get(path, set()):
                return path
        return ""

    def put(self, place: Place, files: Mapping[str, bytes], entry: Entry) -> None:
        """Write the files of a piece, take away those of an earlier run, and note it.

        Raises:
            CannotWrite: a file cannot be written; none is then left half written.
            BadInput: the place leads out of the folder, or the ledger cannot be written.
        """
        paths = {place.path(ending): content for ending, content in files.items()}
        for path in paths:
            self._require_inside(path)
        before = self.ledger.entry(place.name)
        old = {} if before is None else before.files
        pending = self.ledger.pending(place.name)
        self.ledger.intend(place.name, {**pending, **entry.files})
        write_files({self.root / path: content for path, content in paths.items()})
        for path in {*old, *pending} - paths.keys():
            self._take_away(path, {old.get(path, ""), pending.get(path, "")})
        self.ledger.keep(entry)

    def hashes(self, place: Place, files: Mapping[str, bytes]) -> dict[str, str]:
        """Path and hash of each file of a piece."""
        return {place.path(ending): sha256(content) for ending, content in files.items()}

    def _hash(self, path: str) -> str:
        """The hash of a file that is there and holds something; empty otherwise."""
        try:
            content = (self.root / path).read_bytes()
        except (FileNotFoundError, NotADirectoryError):
            return ""
        except OSError as error:
            raise BadInput(
                f"cannot be read ({error.strerror or error})", file=str(self.root / path)
            ) from error
        return sha256(content) if content else ""

    def _take_away(self, path: str, known: set[str]) -> None:
        """Remove what an earlier run wrote and this one does not, unless it was edited."""
        if self._hash(path) not in known:
            return
        try:
            (self.root / path).unlink(missing_ok=True)
        except OSError as error:
            raise CannotWrite(self.root / path, error) from error

    def _require_inside(self, path: str) -> None:
        """A link in the folder of results may lead out of it."""
        folder = (self.root / path).parent.resolve()
        if not folder.is_relative_to(self.root):
            raise BadInput(
                f"is a link that leads out of {self.root}; nothing is written there",
                file=str((self.root / path).parent),
            )
