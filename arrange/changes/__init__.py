"""The change log: what a change is, and how the log is written and read."""

from arrange.changes.lines import FORMAT, VERSION, from_lines, header_of, summary_change, to_lines
from arrange.changes.records import (
    EDITOR,
    Change,
    ChangeLog,
    Fidelity,
    LogEntry,
    OpenPoint,
    Option,
    Outcome,
    Refusal,
    RuleId,
    Where,
)

__all__ = [
    "EDITOR",
    "FORMAT",
    "VERSION",
    "Change",
    "ChangeLog",
    "Fidelity",
    "LogEntry",
    "OpenPoint",
    "Option",
    "Outcome",
    "Refusal",
    "RuleId",
    "Where",
    "from_lines",
    "header_of",
    "summary_change",
    "to_lines",
]
