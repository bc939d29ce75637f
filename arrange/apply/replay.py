"""The change log carried out again, from the transposed source to the same bytes."""

from collections.abc import Iterator

from arrange.apply.transaction import Readable, Transaction
from arrange.changes import Change, ChangeLog, Fidelity, LogEntry, Outcome
from arrange.errors import BadInput
from arrange.score.document import Document


def replay(document: Document, reading: Readable, log: ChangeLog, *, file: str = "") -> ChangeLog:
    """Apply to the document what the log says was applied.

    Args:
        document: the transposed source.
        reading: of that document.
        log: from `arrange.changes.from_lines`.
        file: the log's name, for messages.

    Returns:
        The log of the replay; it has the applied entries alone.

    Raises:
        BadInput: the log belongs to another score.
    """
    again = ChangeLog()
    for row in _by_rule(log):
        with Transaction(document, reading, again, limit=Fidelity.LOSSY) as transaction:
            for change in row:
                if transaction.offer(change) is not Outcome.APPLIED:
                    _refuse(change, again.entries[-1], file)
    return again


def _by_rule(log: ChangeLog) -> Iterator[list[Change]]:
    """The applied changes, those of one rule together."""
    row: list[Change] = []
    for change in log.applied():
        if row and row[-1].rule != change.rule:
            yield row
            row = []
        row.append(change)
    if row:
        yield row


def _refuse(change: Change, entry: LogEntry, file: str) -> None:
    message = (
        f"the change {change.id} ({change.rule}) of the log does not fit the score: "
        f"{entry.detail}; use the score that the log was made from"
    )
    raise BadInput(message, file=file, part=change.where.part, measure=change.where.measure)
