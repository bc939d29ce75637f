"""The change log as JSON Lines: a header, then one line an entry, finding or open point.

The same log gives the same text on any machine: keys in a fixed order, fractions as text, no
clock and no path. What a line says of a change is what the summary says of it, with the edits
themselves beside it, so that the log can be carried out again.
"""

import json
from collections.abc import Mapping
from typing import Any

from arrange.changes.coding import (
    Coded,
    coded_edit,
    coded_value,
    coded_where,
    read_edit,
    read_where,
)
from arrange.changes.records import (
    Change,
    ChangeLog,
    Fidelity,
    LogEntry,
    OpenPoint,
    Option,
    Outcome,
)
from arrange.errors import BadInput
from arrange.score.model import Finding

FORMAT = "leverwright-changes"
VERSION = 1


def to_lines(log: ChangeLog, header: Mapping[str, Any] | None = None) -> str:
    """The log as text.

    Args:
        log: Entries are numbered in their order by ``seq``.
        header: Fields for the first line beside format and version: source, harp, book.
    """
    lines: list[Coded] = [{"format": FORMAT, "version": VERSION, **(header or {})}]
    lines += (_coded_entry(seq, entry) for seq, entry in enumerate(log.entries))
    lines += (_coded_finding(finding) for finding in log.findings)
    lines += (_coded_open_point(point) for point in log.open_points)
    return "".join(json.dumps(line, ensure_ascii=False) + "\n" for line in lines)


def from_lines(text: str, *, file: str = "") -> ChangeLog:
    """The log that `to_lines` wrote.

    Raises:
        BadInput: not a change log, of another version, or a line that cannot be read.
    """
    header_of(text, file=file)
    log = ChangeLog()
    for number, line in enumerate(text.split("\n")[1:], start=2):
        if line:
            try:
                _read_line(log, json.loads(line))
            except (ValueError, KeyError, TypeError, IndexError, BadInput) as error:
                message = f"line {number} of the change log cannot be read: {error!r}"
                raise BadInput(message, file=file) from error
    return log


def header_of(text: str, *, file: str = "") -> Coded:
    """The first line of a log.

    Raises:
        BadInput: not a change log, or one of another version.
    """
    try:
        header = json.loads(text.split("\n", 1)[0])
    except ValueError:
        header = None
    if not isinstance(header, dict) or header.get("format") != FORMAT:
        raise BadInput("not a change log; it begins with a line that says so", file=file)
    if header.get("version") != VERSION:
        message = f"a change log of version {header.get('version')}; this is for {VERSION}"
        raise BadInput(message, file=file)
    return header


def summary_change(entry: LogEntry) -> Coded:
    """A change and its outcome, exactly as the summary file shows it."""
    change = entry.change
    sides = {"before": change.before, "after": change.after}
    return {
        "id": change.id,
        "rule": change.rule,
        "kind": "note" if change.is_of_notes else "mark",
        "part": change.where.part,
        "index": change.where.index,
        "measure": change.where.measure,
        "outcome": entry.outcome.value,
        "fidelity": change.fidelity.value,
        **{name: [coded_value(v) for v in side] for name, side in sides.items()},
        "reason": change.reason,
        "options": [_coded_option(option) for option in change.options],
        "depends_on": list(change.depends_on),
    }


def _coded_option(option: Option) -> Coded:
    return {
        "text": option.text,
        "cost": option.cost,
        "taken": option.taken,
        "key": option.key,
        "choosable": option.is_choosable,
    }


def _coded_entry(seq: int, entry: LogEntry) -> Coded:
    where = coded_where(entry.change.where)
    return {
        "entry": "change",
        "seq": seq,
        **summary_change(entry),
        "offset": where["offset"],
        "staff": where["staff"],
        "voice": where["voice"],
        "detail": entry.detail,
        "anchor": entry.change.anchor,
        "edits": [coded_edit(edit) for edit in entry.change.edits],
    }


def _coded_finding(finding: Finding) -> Coded:
    return {
        "entry": "finding",
        "part": finding.part,
        "index": finding.index,
        "measure": finding.measure,
        "text": finding.text,
    }


def _coded_open_point(point: OpenPoint) -> Coded:
    return {
        "entry": "open",
        **coded_where(point.where),
        "pitches": list(point.pitches),
        "problem": point.problem,
        "suggestions": list(point.suggestions),
    }


def _read_line(log: ChangeLog, coded: Mapping[str, Any]) -> None:
    match coded["entry"]:
        case "change":
            log.entries.append(_read_entry(coded))
        case "finding":
            place = (str(coded["part"]), int(coded["index"]), str(coded["measure"]))
            log.findings.append(Finding(str(coded["text"]), *place))
        case "open":
            pitches, suggestions = tuple(coded["pitches"]), tuple(coded["suggestions"])
            point = OpenPoint(read_where(coded), pitches, str(coded["problem"]), suggestions)
            log.open_points.append(point)
        case other:
            raise ValueError(f"an entry of the kind {other!r}")


def _read_option(coded: Mapping[str, Any]) -> Option:
    text, cost, taken = coded["text"], coded["cost"], bool(coded["taken"])
    return Option(text, cost, taken, str(coded.get("key", "")))


def _read_entry(coded: Mapping[str, Any]) -> LogEntry:
    change = Change(
        str(coded["rule"]),
        read_where(coded),
        str(coded["reason"]),
        Fidelity(coded["fidelity"]),
        tuple(read_edit(edit) for edit in coded["edits"]),
        tuple(map(_read_option, coded["options"])),
        tuple(coded["depends_on"]),
    )
    if change.id != coded["id"]:
        raise ValueError(f"the change {coded['id']} says something else than it did")
    return LogEntry(change, Outcome(coded["outcome"]), str(coded["detail"]))
