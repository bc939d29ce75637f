"""The change log carried out again, whole or without what was declined."""

from collections.abc import Iterator, Sequence
from itertools import groupby

from arrange.apply.transaction import Readable, Transaction
from arrange.changes import EDITOR, Change, ChangeLog, Fidelity, LogEntry, Outcome
from arrange.edits import AddWords, NoteValue
from arrange.errors import BadInput
from arrange.score.document import Document
from arrange.score.model import Score
from arrange.score.own import OwnNotes
from arrange.units import Quarters

_Heard = set[tuple[str, int, Quarters, int]]
"""Part, measure, offset and key number of what is written there."""


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
        BadInput: the log belongs to another score, or to a result that was edited by hand.
    """
    for entry in log.entries:
        if entry.change.rule == EDITOR:
            where = entry.change.where
            message = "an editor's own changes stand in the log; it cannot be carried out again"
            raise BadInput(message, file=file, part=where.part, measure=where.measure)
    again = ChangeLog()
    applied = [entry for entry in log.entries if entry.outcome is Outcome.APPLIED]
    for row in _by_rule(applied):
        with Transaction(document, reading, again, limit=Fidelity.LOSSY) as transaction:
            for entry in row:
                if transaction.offer(entry.change) is not Outcome.APPLIED:
                    _refuse(entry.change, again.entries[-1], file)
    return again


def replay_without(
    document: Document, reading: Readable, log: ChangeLog, declined: frozenset[str]
) -> ChangeLog:
    """Apply what the log says was applied, save what was declined and what needs that.

    A change needs those that it names, what stood there when it was proposed, and, where it
    speaks of notes at its place, these notes.

    Args:
        document: the transposed source.
        reading: of that document.
        log: of a conversion in which nothing was declined.
        declined: ids of changes.

    Returns:
        A log with the same changes in the same order and what became of each by now.
    """
    again = ChangeLog()
    for row in _by_rule(log.entries):
        with Transaction(
            document, reading, again, limit=Fidelity.LOSSY, declined=declined
        ) as transaction:
            heard = _heard(reading.score())
            for entry in row:
                change = entry.change
                silent = "" if change.id in declined else _unheard(change, heard)
                if entry.outcome is not Outcome.APPLIED:
                    again.entries.append(_set_aside(entry, declined))
                elif silent:
                    again.entries.append(LogEntry(change, Outcome.STALE, silent))
                elif transaction.offer(change) is Outcome.APPLIED:
                    heard |= _sounds(change)
    return again


def _by_rule(entries: Sequence[LogEntry]) -> Iterator[list[LogEntry]]:
    """The entries, those of one rule together."""
    for _, row in groupby(entries, lambda entry: entry.change.rule):
        yield list(row)


def _set_aside(entry: LogEntry, declined: frozenset[str]) -> LogEntry:
    """An entry that was not applied anyway; a suggestion may be declined all the same."""
    if entry.outcome is Outcome.SUGGESTED and entry.change.id in declined:
        return LogEntry(entry.change, Outcome.DECLINED, "declined")
    return entry


def _heard(score: Score) -> _Heard:
    return {
        (note.id.part, note.id.index, note.offset, note.pitch.midi)
        for note in score.notes_by_id.values()
    }


def _sounds(change: Change) -> _Heard:
    part = change.where.part
    values = (value for value in change.after if isinstance(value, NoteValue))
    return {(part, value.index, value.offset, value.pitch.midi) for value in values}


def _unheard(change: Change, heard: _Heard) -> str:
    """Which note that the change speaks of is not there; empty where all are."""
    for edit in change.edits:
        said = OwnNotes.parse(edit.own) if isinstance(edit, AddWords) else None
        if said is None or said.kind not in {"open", "take-left", "take-right"}:
            continue
        where = change.where
        for pitch in said.pitches:
            if (where.part, where.index, where.offset, pitch.midi) not in heard:
                return f"the note {pitch} that it speaks of is not there"
    return ""


def _refuse(change: Change, entry: LogEntry, file: str) -> None:
    message = (
        f"the change {change.id} ({change.rule}) of the log does not fit the score: "
        f"{entry.detail}; use the score that the log was made from"
    )
    raise BadInput(message, file=file, part=change.where.part, measure=change.where.measure)
