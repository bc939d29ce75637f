"""How a piece will read once it has become as light as its level asks, in its own key."""

from collections.abc import Iterator
from dataclasses import replace

from arrange.apply.transaction import Transaction
from arrange.changes import Change, ChangeLog
from arrange.edits import RemoveNote
from arrange.pipeline.conversion import Settings
from arrange.rule import Rule, Stage
from arrange.score.document import Document
from arrange.score.model import EventId, Score, StaffHand
from arrange.score.reading import Reading
from arrange.study.roles import Role, roles


def lightened(document: Document, reading: Reading, settings: Settings) -> Score:
    """The score with what the level's rules take away; the document is then as it was.

    Keys are weighed on it, since what goes anyway needs no levers.
    """
    rules = level_rules(settings)
    score = reading.score()
    if not rules:
        return score
    mark, log, sung = document.mark(), ChangeLog(), melody_known(score, settings)
    for rule in rules:
        with Transaction(document, reading, log, limit=settings.limit) as transaction:
            for proposal in rule.propose(score, settings.harp, settings.book.player):
                if isinstance(proposal, Change):
                    transaction.offer(proposal)
        score = replace(reading.score(), sung=sung)
    document.rollback(mark)
    return score


def level_rules(settings: Settings) -> list[Rule]:
    """The rules of the book that make a piece lighter."""
    return [rule for rule in settings.book.rules if rule.stage is Stage.LEVEL]


def melody_known(score: Score, settings: Settings) -> frozenset[EventId] | None:
    """The notes of the melody, where the book makes the piece lighter; else None.

    What is melody is decided once: a broken chord that is played slower is none, though it may
    look so, and a melody note stays one whatever is left around it.
    """
    if not any(rule.on_request and rule.stage is not Stage.CUES for rule in settings.book.rules):
        return None
    named = roles(score)
    return frozenset(event for event, role in named.items() if role.role is Role.MELODY)


def melody_handed_on(score: Score, sung: frozenset[EventId], log: ChangeLog) -> frozenset[EventId]:
    """The notes that have the melody where a note of it was left out since an octave of it stays.

    Of a doubled octave the upper note is the melody; where no string gives it, the lower one is.
    """
    found: set[EventId] = set()
    if score.notes_by_id.keys() >= sung:
        return frozenset()
    for change in log.applied():
        for edit in change.edits:
            if isinstance(edit, RemoveNote) and edit.note in sung:
                found.update(_octave_of(score, edit))
    return frozenset(found)


def _octave_of(score: Score, gone: RemoveNote) -> Iterator[EventId]:
    """The nearest note that is struck with it and has its tone."""
    parts = {s.part for staves in score.harps for s in staves if _has(staves, gone.note.part)}
    alike = [
        note
        for part in sorted(parts)
        for note in score.measure(part, gone.note.index).notes
        if note.offset == gone.before.offset
        and not (note.is_grace or note.is_cue or gone.before.is_grace)
        and (note.pitch.midi - gone.before.pitch.midi) % 12 == 0
    ]
    if alike:
        yield min(alike, key=lambda note: abs(note.pitch.midi - gone.before.pitch.midi)).id


def _has(staves: tuple[StaffHand, ...], part: str) -> bool:
    return any(staff.part == part for staff in staves)
