"""The ledger of a folder of results: what was made of what, so that a later run does the rest.

It is written by one program at a time, and in two steps for each piece: what is about to be
written, then that it was. So whatever ends a run, the next one knows every file as its own.
"""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path

from arrange.bulk.facts import Facts
from arrange.bulk.outcomes import PieceOutcome
from arrange.errors import BadInput

FILE = "bulk.sqlite"
FORMAT = 1
_SCHEMA = f"""
CREATE TABLE IF NOT EXISTS pieces (
    place TEXT PRIMARY KEY,       -- path of the source, in the harp's folder if it has one
    harp TEXT NOT NULL,           -- the name of the harp
    source TEXT NOT NULL,         -- path from the folder of scores
    input_sha256 TEXT NOT NULL,   -- of the source; empty: to be done again
    settings_sha256 TEXT NOT NULL,
    outcome TEXT NOT NULL CHECK (outcome IN ({", ".join(f"'{o}'" for o in PieceOutcome)})),
    reason TEXT NOT NULL,         -- why it was refused or failed
    is_limited INTEGER NOT NULL,  -- refused because it took too long or too much
    facts TEXT NOT NULL,          -- JSON: figures of the result, or null
    files TEXT NOT NULL,          -- JSON: path from the folder of results, to sha256
    seconds REAL NOT NULL,        -- what the conversion took
    finished TEXT NOT NULL        -- when, in UTC
) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS pending (
    place TEXT PRIMARY KEY,
    files TEXT NOT NULL           -- JSON: about to be written
) WITHOUT ROWID;
PRAGMA user_version = {FORMAT};
"""
_NAMES = (
    "input_sha256", "settings_sha256", "outcome", "reason", "is_limited", "facts", "files",
    "seconds", "harp", "source", "place",
)  # fmt: skip
_COLUMNS = ", ".join(_NAMES)
_PLACES = ", ".join("?" * len(_NAMES))


@dataclass(frozen=True, slots=True)
class Entry:
    """What the ledger knows of one piece on one harp.

    Attributes:
        place: where it stands: the path of its source, in the harp's folder if it has one.
        input_sha256: of the source; empty where the piece is to be done again in any case.
        files: path from the folder of results, to the hash of what was written there.
    """

    place: str
    harp: str
    source: str
    input_sha256: str
    settings_sha256: str
    outcome: PieceOutcome
    reason: str = ""
    is_limited: bool = False
    facts: Facts | None = None
    files: dict[str, str] = field(default_factory=dict)
    seconds: float = 0.0


class Ledger:
    """The ledger in a folder of results; one program at a time writes it."""

    def __init__(self, folder: Path) -> None:
        """Open the ledger, or begin one.

        Raises:
            BadInput: it cannot be written, is none, or is of a later version.
        """
        self.path = folder / FILE
        with self._explained():
            self._base = sqlite3.connect(self.path, isolation_level=None)
            found = self._base.execute("PRAGMA user_version").fetchone()[0]
            if found > FORMAT:
                self._base.close()
                raise BadInput(
                    "was written by a later version of the program; use that, or another folder",
                    file=str(self.path),
                )
            self._base.execute("PRAGMA journal_mode = WAL")
            self._base.execute("PRAGMA synchronous = NORMAL")
            self._base.executescript(_SCHEMA)

    def close(self) -> None:
        """Close it; everything is in its one file then."""
        with self._explained():
            self._base.close()

    def entry(self, place: str) -> Entry | None:
        """What is known of a piece on a harp."""
        with self._explained():
            row = self._base.execute(
                f"SELECT {_COLUMNS} FROM pieces WHERE place = ?",  # noqa: S608 - no text from outside
                (place,),
            ).fetchone()
        return None if row is None else _entry(row)

    def entries(self) -> Iterator[Entry]:
        """Every entry, sorted by source and harp."""
        with self._explained():
            rows = self._base.execute(
                f"SELECT {_COLUMNS} FROM pieces ORDER BY source, harp"  # noqa: S608 - as above
            ).fetchall()
        yield from map(_entry, rows)

    def pending(self, place: str) -> dict[str, str]:
        """What an earlier run was about to write for a piece when it ended."""
        with self._explained():
            row = self._base.execute(
                "SELECT files FROM pending WHERE place = ?", (place,)
            ).fetchone()
        return {} if row is None else dict(json.loads(row[0]))

    def intend(self, place: str, files: dict[str, str]) -> None:
        """Note what is about to be written for a piece."""
        with self._explained():
            self._base.execute(
                "INSERT OR REPLACE INTO pending VALUES (?, ?)", (place, json.dumps(files))
            )

    def keep(self, entry: Entry) -> None:
        """Note what became of a piece; what was about to be written is written."""
        facts = None if entry.facts is None else asdict(entry.facts)
        row = (
            entry.input_sha256,
            entry.settings_sha256,
            entry.outcome.value,
            entry.reason,
            int(entry.is_limited),
            json.dumps(facts),
            json.dumps(entry.files),
            entry.seconds,
            entry.harp,
            entry.source,
            entry.place,
        )
        with self._explained(), self._base:
            self._base.execute("BEGIN")
            self._base.execute(
                f"INSERT OR REPLACE INTO pieces ({_COLUMNS}, finished) "  # noqa: S608 - as above
                f"VALUES ({_PLACES}, datetime('now'))",
                row,
            )
            self._base.execute("DELETE FROM pending WHERE place = ?", (entry.place,))

    @contextmanager
    def _explained(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            raise BadInput(
                f"the ledger cannot be read or written ({error}); make room, or name another "
                "folder with -o",
                file=str(self.path),
            ) from error


def _entry(row: tuple[str, str, str, str, int, str, str, float, str, str, str]) -> Entry:
    facts = json.loads(row[5])
    return Entry(
        place=row[10],
        harp=row[8],
        source=row[9],
        input_sha256=row[0],
        settings_sha256=row[1],
        outcome=PieceOutcome(row[2]),
        reason=row[3],
        is_limited=bool(row[4]),
        facts=None if facts is None else _facts(facts),
        files=dict(json.loads(row[6])),
        seconds=row[7],
    )


def _facts(content: dict[str, object]) -> Facts:
    lists = {name: tuple(value) for name, value in content.items() if isinstance(value, list)}
    return Facts(**{**content, **lists})  # type: ignore[arg-type] # what `asdict` made
