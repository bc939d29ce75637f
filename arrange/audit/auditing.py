"""The audit: source, result and log brought together."""

from arrange.audit.head import head_differences
from arrange.audit.ledger import Ledger
from arrange.audit.marks import mark_differences
from arrange.audit.measures import Music
from arrange.audit.sounding import note_differences
from arrange.audit.views import View
from arrange.changes import ChangeLog
from arrange.pitch import Interval


def audit(  # noqa: PLR0913 - what a conversion knows, the last by name
    source: bytes,
    result: bytes,
    log: ChangeLog,
    interval: Interval,
    transposed_parts: tuple[str, ...],
    *,
    parts: tuple[str, ...] = (),
) -> tuple[str, ...]:
    """Read both files afresh and return every difference that the log does not account for.

    Args:
        source: the score's bytes before.
        result: its bytes after.
        log: what was proposed and applied.
        interval: by which parts were moved.
        transposed_parts: those parts, by id.
        parts: the harp's, where they are not found by name.

    Raises:
        BadInput: one of the files cannot be read.
    """
    if source == result and not log.applied() and not transposed_parts:
        return ()
    views = View.read(source, "source", parts), View.read(result, "result", parts)
    return audit_views(*views, log, interval, transposed_parts)


def audit_views(
    source: View,
    result: View,
    log: ChangeLog,
    interval: Interval,
    transposed_parts: tuple[str, ...],
) -> tuple[str, ...]:
    """Return every difference between two files that the log does not account for."""
    ledger = Ledger.of(log)
    moving = frozenset(transposed_parts)
    music = Music(source, result, ledger, interval, moving)
    return (
        *head_differences(source, result, ledger),
        *note_differences(source.score, result.score, ledger, interval, moving),
        *mark_differences(source.score, result.score, ledger),
        *music.differences(),
    )
