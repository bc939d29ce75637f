"""The overview of a folder as files: a page to look at, and a table for other programs."""

import csv
import io
from pathlib import Path

from arrange.bulk.page import page
from arrange.bulk.rows import Overview, Row
from arrange.report.targets import write_files

PAGE, TABLE = "bulk.html", "bulk.csv"
_COLUMNS = (
    "piece", "harp", "outcome", "reason", "from", "to", "semitones", "exact", "idiomatic",
    "lossy", "suggested", "changes by rule", "moves", "open points", "measures",
    "editor minutes", "result", "review", "edited since", "difficulty",
)  # fmt: skip


def write_tables(overview: Overview, folder: Path) -> None:
    """Write the page and the table into the folder of results.

    Raises:
        CannotWrite: they cannot be written.
    """
    write_files({folder / PAGE: page(overview).encode(), folder / TABLE: table(overview).encode()})


def table(overview: Overview) -> str:
    """The rows as comma-separated values, a line each; cells that could be formulas are quoted."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(_COLUMNS)
    for row in overview.rows:
        writer.writerow([_harmless(cell) for cell in _cells(row)])
    return text.getvalue()


def _cells(row: Row) -> list[str | int]:
    entry, facts = row.entry, row.entry.facts
    cells: list[str | int] = [entry.source, entry.harp, entry.outcome.value, entry.reason]
    if facts is None:
        cells += [""] * 11
    else:
        cells += [facts.key_from, facts.key_to, facts.semitones]
        cells += [facts.by_fidelity.get(n, 0) for n in ("EXACT", "IDIOMATIC", "LOSSY")]
        by_rule = "; ".join(f"{rule} {count}" for rule, count in facts.by_rule.items())
        cells += [facts.suggested, by_rule, facts.moves, facts.open_points, facts.measures]
    cells += [row.minutes or "", row.result, row.review, "yes" if row.is_edited else ""]
    return [*cells, "" if facts is None else facts.difficulty]


def _harmless(cell: str | int) -> str | int:
    """A text that a spreadsheet would take for a formula begins with an apostrophe."""
    if isinstance(cell, str) and cell.startswith(("=", "+", "-", "@", "\t", "\r")):
        return f"'{cell}"
    return cell
