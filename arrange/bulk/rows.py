"""What the tables of a folder show: a row a piece and harp, and the queue for an editor."""

from collections import Counter
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from arrange.bulk.estimates import likely_minutes
from arrange.bulk.ledger import Entry, Ledger
from arrange.bulk.outcomes import PieceOutcome
from arrange.bulk.results import Place, Results
from arrange.report.extras import REVIEW
from arrange.report.result_files import RESULT


@dataclass(frozen=True, slots=True)
class Row:
    """One piece on one harp.

    Attributes:
        entry: what the ledger says of it.
        result, review: paths of its files from the folder of results; empty where there is none.
        report: of the report about a fault.
        minutes: that an editor is likely to need; 0 where none is needed.
        is_edited: a result has been edited by hand since it was written.
    """

    entry: Entry
    result: str = ""
    review: str = ""
    report: str = ""
    minutes: int = 0
    is_edited: bool = False


@dataclass(frozen=True, slots=True)
class Overview:
    """A whole folder.

    Attributes:
        rows: sorted by piece and harp.
        unknown: pieces that no run has settled yet.
        gone: sources of earlier runs that are no longer there; their results were kept.
    """

    rows: tuple[Row, ...]
    unknown: int = 0
    gone: tuple[str, ...] = ()
    counts: dict[PieceOutcome, int] = field(default_factory=dict)

    @property
    def queue(self) -> tuple[Row, ...]:
        """The pieces that need an editor; those that need least come first."""
        waiting = [row for row in self.rows if row.minutes]
        return tuple(sorted(waiting, key=lambda r: (r.minutes, r.entry.source, r.entry.harp)))

    @property
    def harps(self) -> tuple[str, ...]:
        """The harps, in the order of their names."""
        return tuple(sorted({row.entry.harp for row in self.rows}))


def overview(ledger: Ledger, results: Results, places: list[Place]) -> Overview:
    """The tables for the pieces at these places, as the ledger has them."""
    asked = {place.name: place for place in places}
    sources = {place.source for place in places}
    rows, gone = [], []
    for entry in ledger.entries():
        place = asked.get(entry.place)
        if place is not None:
            rows.append(_row(entry, place, results))
        elif entry.source not in sources:
            gone.append(entry.source)
    counts = Counter(row.entry.outcome for row in rows)
    return Overview(
        tuple(rows),
        len(asked) - len(rows),
        tuple(dict.fromkeys(gone)),
        {outcome: counts[outcome] for outcome in PieceOutcome},
    )


def _row(entry: Entry, place: Place, results: Results) -> Row:
    def known(ending: str) -> str:
        path = place.path(ending)
        return path if path in entry.files else ""

    report = next((p for p in entry.files if PurePosixPath(p).name.endswith(".fault.txt")), "")
    return Row(
        entry,
        known(RESULT),
        known(REVIEW),
        report,
        0 if entry.facts is None or report else likely_minutes(entry.facts),
        results.is_edited(entry),
    )
