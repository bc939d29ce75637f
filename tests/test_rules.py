"""Every example of every rule, held to what a rule promises."""

import difflib
import re
from collections.abc import Iterator
from dataclasses import dataclass

import notation as short
import pytest

from arrange.apply.replay import replay
from arrange.apply.transaction import Transaction
from arrange.changes import Change, ChangeLog, OpenPoint, Outcome, from_lines, to_lines
from arrange.edits import (
    AddBracket,
    AddRoll,
    AddWords,
    Edit,
    NoteValue,
    RemoveMark,
    SetCredit,
    WriteRun,
)
from arrange.hands.player import Player
from arrange.harp.files import load_harp
from arrange.registry import installed
from arrange.rule import Keeps, Proposal, Rewrites, Rule
from arrange.rulebook import load_rulebook
from arrange.score.document import Document
from arrange.score.model import Finding, Score
from arrange.score.reading.reading import Reading
from rules import ORDER

REWRITES = [
    pytest.param(kind, example, id=f"{kind.id}: {example.title}")
    for kind in ORDER
    for example in kind.examples
    if isinstance(example, Rewrites)
]
KEEPS = [
    pytest.param(kind, example, id=f"{kind.id}: {example.title}")
    for kind in ORDER
    for example in kind.examples
    if isinstance(example, Keeps)
]
FOLLOWING = re.compile(
    rb"<chord/>|<accidental[^>]*>[^<]*</accidental>|<stem>[^<]*</stem>|<beam[^>]*>[^<]*</beam>"
)
"""What follows of itself from a changed note, on that note or others of its measure."""


@dataclass
class Run:
    """A rule carried out on an example."""

    source: bytes
    document: Document
    reading: Reading
    log: ChangeLog
    proposals: list[Proposal]
    transaction: Transaction
    before: Score


def _proposals(kind: type[Rule], text: str, score: Score) -> Iterator[Proposal]:
    header = short.parse(text).header
    harp = load_harp(header.get("harp", "lever-34")).harp
    if "book" not in header:
        return kind().propose(score, harp, Player())
    book = load_rulebook(header["book"], installed())
    rule = next(rule for rule in book.rules if rule.id == kind.id)
    return rule.propose(score, harp, book.player)


def _run(kind: type[Rule], text: str) -> Run:
    source = short.to_musicxml(text)
    document = Document.read(source, "example.musicxml")
    reading = Reading(document)
    log = ChangeLog()
    before = reading.score()
    proposals = list(_proposals(kind, text, before))
    with Transaction(document, reading, log) as transaction:
        for proposal in proposals:
            if isinstance(proposal, Change):
                transaction.offer(proposal)
            elif isinstance(proposal, OpenPoint):
                log.open_points.append(proposal)
            else:
                assert isinstance(proposal, Finding)
                log.findings.append(proposal)
    return Run(source, document, reading, log, proposals, transaction, before)


def _read(document: bytes) -> Score:
    return Reading(Document.read(document, "example.musicxml")).score()


def _same(wanted: str, found: str) -> None:
    """Fail with notation and a unified diff."""
    if wanted != found:
        diff = difflib.unified_diff(
            wanted.splitlines(), found.splitlines(), "as stated", "as found", lineterm=""
        )
        pytest.fail("\n".join(["", *diff]), pytrace=False)


@pytest.mark.parametrize(("kind", "example"), REWRITES)
def test_a_rewrite_gives_what_it_states(kind: type[Rule], example: Rewrites) -> None:
    run = _run(kind, example.before)
    _same(
        short.notation(_read(short.to_musicxml(example.after))),
        short.notation(run.reading.score()),
    )
    assert {entry.outcome for entry in run.log.entries} == {Outcome.APPLIED}


@pytest.mark.parametrize(("kind", "example"), REWRITES)
def test_every_proposal_is_logged_with_a_sentence_and_a_place(
    kind: type[Rule], example: Rewrites
) -> None:
    run = _run(kind, example.before)
    changes = [p for p in run.proposals if isinstance(p, Change)]
    assert [entry.change for entry in run.log.entries] == changes
    for change in changes:
        assert change.rule == kind.id
        assert change.reason[0].isupper()
        assert change.reason.endswith((".", "!"))
        measure = run.before.measure(change.where.part, change.where.index)
        assert change.where.measure == measure.number
        assert 0 <= change.where.offset < measure.length


@pytest.mark.parametrize(("kind", "example"), REWRITES)
def test_undoing_a_rewrite_gives_the_source_bytes(kind: type[Rule], example: Rewrites) -> None:
    run = _run(kind, example.before)
    assert run.document.to_bytes() != run.source
    run.transaction.undo()
    assert run.document.to_bytes() == run.source
    assert not run.log.entries


@pytest.mark.parametrize(("kind", "example"), REWRITES)
def test_the_log_replays_from_its_lines_to_the_same_bytes(
    kind: type[Rule], example: Rewrites
) -> None:
    run = _run(kind, example.before)
    lines = to_lines(run.log, {"source": "example.musicxml"})
    again = Document.read(run.source, "example.musicxml")
    replay(again, Reading(again), from_lines(lines))
    assert again.to_bytes() == run.document.to_bytes()


@pytest.mark.parametrize(("kind", "example"), REWRITES)
def test_a_rule_is_silent_on_its_own_result(kind: type[Rule], example: Rewrites) -> None:
    result = _run(kind, example.before).document.to_bytes()
    proposals = list(_proposals(kind, example.before, _read(result)))
    assert [p for p in proposals if isinstance(p, Change | OpenPoint)] == []


@pytest.mark.parametrize(("kind", "example"), REWRITES)
def test_bytes_outside_the_changed_notes_stay(kind: type[Rule], example: Rewrites) -> None:
    run = _run(kind, example.before)
    touched = {
        place
        for entry in run.log.entries
        for e in entry.change.edits
        for place in _places(e, run.before)
    }
    before, after = _measures(run.source), _measures(run.document.to_bytes())
    assert len(before) == len(after)
    for index, (old, new) in enumerate(zip(before, after, strict=True)):
        if not any(place[0] == index for place in touched):
            assert old == new
            continue
        kept = [
            _plain(line)
            for key, line in _keyed(old)
            if (index, key) not in touched and (index, "") not in touched
        ]
        rest = iter([_plain(line) for line in new])
        assert all(line in rest for line in kept), f"measure {index + 1} lost something"


def _places(edit: Edit, score: Score) -> list[tuple[int, str]]:
    """The elements of the source that an edit lays its hands on: measure and key."""
    match edit:
        case AddWords() | AddBracket():
            return [(edit.after.index, "+")]
        case SetCredit():
            return [(-1, "+")]
        case RemoveMark():
            return [(edit.mark.index, edit.mark.key)]
        case WriteRun():
            values = {value.index: set(edit.before) for value in edit.before}
            return [
                (index, note.id.key)
                for index, row in values.items()
                for note in score.measure(edit.note.part, index).notes
                if NoteValue.of(note) in row
            ]
        case AddRoll():
            return [(note.index, note.key) for note in edit.notes]
        case _:
            return [(edit.note.index, edit.note.key)]


def _measures(document: bytes) -> list[list[bytes]]:
    lines = document.split(b"\n")
    rows: list[list[bytes]] = []
    for line in lines:
        if line.startswith(b"<measure"):
            rows.append([])
        elif rows:
            rows[-1].append(line)
    return rows


def _keyed(lines: list[bytes]) -> Iterator[tuple[str, bytes]]:
    """The elements of a measure of the source with the keys that the reading gives them."""
    counts = {"n": 0, "d": 0}
    for line in lines:
        kind = "n" if line.startswith(b"<note>") else "d" if line.startswith(b"<direction") else ""
        yield (f"{kind}{counts[kind]}" if kind else "+"), line
        if kind:
            counts[kind] += 1


def _plain(line: bytes) -> bytes:
    return FOLLOWING.sub(b"", line)


@pytest.mark.parametrize(("kind", "example"), KEEPS)
def test_a_near_miss_is_left_alone(kind: type[Rule], example: Keeps) -> None:
    proposals = list(_proposals(kind, example.score, _read(short.to_musicxml(example.score))))
    assert [p for p in proposals if isinstance(p, Change | OpenPoint)] == [], example.because


@pytest.mark.parametrize("kind", [pytest.param(kind, id=kind.id) for kind in ORDER])
def test_every_rule_shows_two_rewrites_and_two_near_misses(kind: type[Rule]) -> None:
    assert sum(isinstance(e, Rewrites) for e in kind.examples) >= 2
    assert sum(isinstance(e, Keeps) for e in kind.examples) >= 2
    titles = [example.title for example in kind.examples]
    assert len(set(titles)) == len(titles)
