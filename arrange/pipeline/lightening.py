"""How a piece will read once it has become as light as its level asks, in its own key."""

from dataclasses import replace

from arrange.apply.transaction import Transaction
from arrange.changes import Change, ChangeLog
from arrange.pipeline.conversion import Settings
from arrange.rule import Rule, Stage
from arrange.score.document import Document
from arrange.score.model import EventId, Score
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
