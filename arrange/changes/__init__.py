"""The change log: what a change is, and how the log is written and read."""

from arrange.changes.lines import FORMAT, VERSION, from_lines, header_of, summary_change, to_lines
from arrange.changes.records import (
    Change,
    ChangeLog,
    Fidelity,
    LogEntry,
    OpenPoint,
    Option,
    Outcome,
    RuleId,
    Where,
)

__all__ = [
    "FORMAT",
    "VERSION",
    "Change",
    "ChangeLog",
    "Fidelity",
    "LogEntry",
    "OpenPoint",
    "Option",
    "Outcome",
    "RuleId",
    "Where",
    "from_lines",
    "header_of",
    "summary_change",
    "to_lines",
]
