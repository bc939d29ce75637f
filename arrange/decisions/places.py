"""Places found again by their content, whatever stands before them by now.

A measure is known by a fingerprint of what is played in it. The fingerprints of the score that a
decision was made for stand in its file; brought into line with those of the score at hand, they
tell where each measure is now, equal passages in their order.
"""

import hashlib
from collections.abc import Mapping, Sequence
from difflib import SequenceMatcher
from typing import Any

from arrange.changes import Change, ChangeLog
from arrange.changes.coding import coded_where
from arrange.decisions.records import FORMAT, VERSION
from arrange.edits import AddBracket, AddRoll, AddWords, RemoveMark, SetCredit
from arrange.score.model import Measure, Note, Score

_DIGITS = 8


def fingerprint(measure: Measure) -> str:
    """Eight hexadecimal digits for the notes and rests of a measure, wherever it stands."""
    notes = [
        (n.offset, n.duration, n.staff, n.voice, n.pitch, n.is_grace, n.tied_from, n.tied_to)
        for n in measure.notes
    ]
    rests = [(r.offset, r.duration, r.staff, r.voice) for r in measure.rests]
    content = repr((measure.length, notes, rests)).encode()
    return hashlib.sha256(content).hexdigest()[:_DIGITS]


def fingerprints(score: Score) -> dict[str, tuple[str, ...]]:
    """The fingerprints of all measures, by part."""
    return {part.id: tuple(map(fingerprint, part.measures)) for part in score.parts}


def aligned(before: Sequence[str], after: Sequence[str]) -> dict[int, int]:
    """Where each measure of *before* stands in *after*, as far as it is there, in order."""
    shortest = min(len(before), len(after))
    head = next((i for i in range(shortest) if before[i] != after[i]), shortest)
    most = shortest - head
    tail = next((i for i in range(most) if before[-1 - i] != after[-1 - i]), most)
    found = {i: i for i in range(head)}
    found |= {len(before) - 1 - i: len(after) - 1 - i for i in range(tail)}
    inner = before[head : len(before) - tail], after[head : len(after) - tail]
    for block in SequenceMatcher(None, *inner, autojunk=False).get_matching_blocks():
        for i in range(block.size):
            found[head + block.a + i] = head + block.b + i
    return found


def subject(score: Score, change: Change) -> Note | None:
    """The note that a change is about: the first that it edits, else the first at its place."""
    edit = change.edits[0]
    if isinstance(edit, AddRoll):
        return score.notes_by_id.get(edit.notes[0])
    if not isinstance(edit, AddWords | AddBracket | RemoveMark | SetCredit):
        return score.notes_by_id.get(edit.note)
    where = change.where
    for note in score.measure(where.part, where.index).notes:
        if (note.offset, note.staff) == (where.offset, where.staff):
            return note
    return None


def numbered(changes: Sequence[Change]) -> dict[str, int]:
    """For each change's id, which one of those with its anchor in its measure it is, from 1."""
    counts: dict[tuple[str, int, str], int] = {}
    found = {}
    for change in changes:
        key = (change.where.part, change.where.index, change.anchor)
        counts[key] = found[change.id] = counts.get(key, 0) + 1
    return found


def decisions_basis(
    before: Score, log: ChangeLog, *, file: str = "", sha256: str = ""
) -> dict[str, Any]:
    """What a program needs to write a file of decisions, as JSON content.

    Args:
        before: the source as it was read.
        log: of its conversion.
        file: the source file's name.
        sha256: the hash of the source file.

    Returns:
        ``format``, ``version``, ``source`` (file, sha256 and, by part, the fingerprints of all
        measures in one text) and ``changes``: by id, what an entry about that change says.
    """
    changes = [entry.change for entry in log.entries]
    order = numbered(changes)
    return {
        "format": FORMAT,
        "version": VERSION,
        "source": {
            "file": file,
            "sha256": sha256,
            "measures": {part: " ".join(row) for part, row in fingerprints(before).items()},
        },
        "changes": {c.id: _change_record(before, c, order[c.id]) for c in changes},
    }


def _change_record(before: Score, change: Change, nth: int) -> Mapping[str, Any]:
    where, note = change.where, subject(before, change)
    place = {
        **coded_where(where),
        "note": "" if note is None or note.id.index != where.index else note.id.key,
    }
    return {
        "change": change.id,
        "rule": change.rule,
        "anchor": change.anchor,
        "nth": nth,
        "place": place,
        "sentence": change.reason,
    }
