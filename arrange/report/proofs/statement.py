"""Whether the first page says what buyers and players must know."""

import re
from collections.abc import Collection, Iterator

from arrange.phrasing import counted
from arrange.report.proofs.layout import Layout
from arrange.report.proofs.records import ProofFinding, Subject
from arrange.score.own import SETTING, OwnCue

_STATED = (
    ("how many strings the harp has", re.compile(r"\b\d+ strings\b")),
    ("which strings are used", re.compile(r"\buses \S+ to \S+")),
    ("how many lever moves there are", re.compile(r"\b(?:\d+|[Nn]o) lever moves?\b")),
    ("the level", re.compile(r"\bLevel: \S+")),
    ("the tuning", re.compile(r"\bTuning: \S+")),
    ("how the levers are set", re.compile(r"\bSet levers for ")),
)
_MOVES = re.compile(r"\b(\d+|[Nn]o) lever moves?\b")


def statement(layout: Layout, rights_before: Collection[str]) -> Iterator[ProofFinding]:
    """Yield what the first page leaves unsaid.

    Args:
        layout: the printed pages.
        rights_before: the rights lines of the source; empty where no source is known.
    """
    said = " ".join(w.text for w in layout.copy.words if w.own.startswith(SETTING))
    said = " ".join(said.split())
    for what, pattern in _STATED:
        if not pattern.search(said):
            yield layout.finding(Subject.STATEMENT, -1, f"The first page does not say {what}.")
    yield from _wrong_count(layout, said)
    yield from _rights(layout, rights_before)


def _wrong_count(layout: Layout, said: str) -> Iterator[ProofFinding]:
    stated = _MOVES.search(said)
    if stated is None:
        return
    number = int(stated[1]) if stated[1].isdecimal() else 0
    cues = sum(1 for w in layout.copy.words if w.own and OwnCue.parse(w.own) is not None)
    if number != cues:
        text = (
            f"The first page speaks of {number} lever moves; the music has {counted(cues, 'cue')}."
        )
        yield layout.finding(Subject.STATEMENT, -1, text)


def _rights(layout: Layout, before: Collection[str]) -> Iterator[ProofFinding]:
    kept = " ".join(line for h in layout.copy.headings if h.is_footing for line in h.lines)
    for line in before:
        if line not in kept:
            yield layout.finding(Subject.STATEMENT, -1, f"The rights line “{line}” is gone.")
    if not kept:
        yield layout.finding(Subject.STATEMENT, -1, "The first page has no rights line.")
