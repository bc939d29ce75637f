"""What a replay found, as text and as a record for other programs."""

from collections.abc import Mapping, Sequence
from typing import Any

from arrange.check import Violation
from arrange.harp.harp import Harp

FORMAT = "leverwright-check"
VERSION = 1


def check_record(
    source: Mapping[str, str], harp: Harp, violations: Sequence[Violation]
) -> dict[str, Any]:
    """The verdict as JSON content, in the words of the summary file."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "score": dict(source),
        "harp": {"name": harp.name, "tuning": harp.tuning},
        "playable": not violations,
        "violations": [violation_record(v) for v in violations],
    }


def violation_record(violation: Violation) -> dict[str, Any]:
    """One violation, with its place."""
    return {
        "part": violation.part,
        "index": violation.index,
        "measure": violation.measure,
        "staff": violation.staff,
        "offset": str(violation.offset),
        "pitches": list(violation.pitches),
        "problem": violation.problem,
    }


def check_text(name: str, harp: Harp, violations: Sequence[Violation]) -> str:
    """The verdict in words, a line a violation."""
    if not violations:
        return f"{name}: playable on {harp.name}"
    count = f"{len(violations)} violation{'s' if len(violations) > 1 else ''}"
    return "\n".join([f"{name}: {count} on {harp.name}", *map(_line, violations)])


def _line(violation: Violation) -> str:
    place = f"part {violation.part}, measure {violation.measure}, staff {violation.staff}"
    notes = f" ({', '.join(violation.pitches)})" if violation.pitches else ""
    return f"  {place}, offset {violation.offset}{notes}: {violation.problem}"
