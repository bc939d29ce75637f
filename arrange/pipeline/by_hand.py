"""What an editor has changed in a result of ours, measure by measure."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from arrange.audit import View
from arrange.changes import EDITOR, Change, Fidelity, Where
from arrange.edits import (
    AddWords,
    MarkValue,
    NoteEdit,
    NoteValue,
    RemoveMark,
    RemoveNote,
    WriteRun,
)
from arrange.errors import BadInput
from arrange.score.model import EventId, Finding, Mark, Measure, Score
from arrange.score.nodes import Node
from arrange.score.own import is_line
from arrange.units import Quarters


@dataclass(frozen=True)
class ByHand:
    """The editor's differences.

    Attributes:
        changes: one for the notes and one for the words of each measure that has others now.
        findings: what else differs: signs, layout, words around the music.
        measures: those whose notes, rests or marks of ours differ in a part of the harp.
    """

    changes: tuple[Change, ...]
    findings: tuple[Finding, ...]
    measures: frozenset[int]


def by_hand(earlier: View, edited: View, file: str) -> ByHand:
    """Compare an earlier result with what has become of it.

    Raises:
        BadInput: it has other parts, another number or another order of measures; names *file*.
    """
    _require_alike(earlier.score, edited.score, file)
    changes: list[Change] = []
    findings: list[Finding] = []
    measures: set[int] = set()
    before, after = earlier.measures(), edited.measures()
    for part, nodes in before.items():
        for index, pair in enumerate(zip(nodes, after[part], strict=True)):
            if earlier.spelled(pair[0]) == edited.spelled(pair[1]):
                continue
            one, two = earlier.score.measure(part, index), edited.score.measure(part, index)
            made = [*_notes(one, two), *_words(one, two)]
            changes += made
            if part in edited.score.harp_parts and not _is_played_alike(one, two):
                measures.add(index)
            if not made:
                text = f"The editor changed signs or layout in measure {two.number}."
                findings.append(Finding(text, part, index, two.number))
    if _around(earlier) != _around(edited):
        findings.append(Finding("The editor changed what stands around the music."))
    return ByHand(tuple(changes), tuple(findings), frozenset(measures))


def _require_alike(earlier: Score, edited: Score, file: str) -> None:
    def shape(score: Score) -> list[tuple[str, int]]:
        return [(part.id, len(part.measures)) for part in score.parts]

    if shape(earlier) != shape(edited) or earlier.performed != edited.performed:
        raise BadInput(
            "has other parts, measures or repeats than the conversion of the source; put measures "
            "in or take them out in the source, and convert it",
            file=file,
        )


def _is_played_alike(one: Measure, two: Measure) -> bool:
    def played(measure: Measure) -> tuple[object, ...]:
        own = [(m.own, m.offset, m.staff) for m in measure.marks if m.own and not is_line(m.own)]
        notes = [(NoteValue.of(n), n.tied_from, n.tied_to, n.chord.key) for n in measure.notes]
        return notes, own, measure.fifths, measure.meter

    return played(one) == played(two)


def _notes(one: Measure, two: Measure) -> Iterator[Change]:
    """One change for all the notes that differ."""
    was, now = Counter(map(NoteValue.of, one.notes)), Counter(map(NoteValue.of, two.notes))
    gone, new = tuple((was - now).elements()), tuple((now - was).elements())
    if gone or new:
        first = (*gone, *new)[0]
        where = Where(one.part, one.index, one.number, first.offset, first.staff, first.voice)
        edits = tuple(_note_edits(one, gone, new))
        yield Change(EDITOR, where, "The editor changed this by hand.", Fidelity.LOSSY, edits)


def _note_edits(
    one: Measure, gone: tuple[NoteValue, ...], new: tuple[NoteValue, ...]
) -> Iterator[NoteEdit]:
    ids = [n.id for n in one.notes if NoteValue.of(n) in gone]
    if new:
        first = ids[0] if ids else EventId(one.part, one.index, "n0")
        yield WriteRun(first, gone, new)
    else:
        yield from (RemoveNote(i, value) for i, value in zip(ids, gone, strict=False))


def _words(one: Measure, two: Measure) -> Iterator[Change]:
    """One change for all the words that are there or gone."""
    was, now = Counter(map(_said, one.marks)), Counter(map(_said, two.marks))
    edits: list[AddWords | RemoveMark] = []
    gone, new = was - now, now - was
    for mark in one.marks:
        if gone[_said(mark)] > 0:
            gone[_said(mark)] -= 1
            edits.append(RemoveMark(mark.id, MarkValue.of(mark)))
    for mark in two.marks:
        if new[_said(mark)] > 0:
            new[_said(mark)] -= 1
            edits.append(AddWords(mark.id.part, mark.own, MarkValue.of(mark)))
    if edits:
        where = Where(one.part, one.index, one.number, Quarters(0), 1)
        yield Change(EDITOR, where, "The editor changed this by hand.", Fidelity.EXACT, (*edits,))


def _said(mark: Mark) -> tuple[str, Quarters, int, str]:
    return mark.text, mark.offset, mark.staff, mark.own


def _around(view: View) -> list[str]:
    """What stands around the parts."""
    return [view.spelled(node) for node in view.root.children if _is_beside(node)]


def _is_beside(node: Node) -> bool:
    return node.tag not in {"part", "measure"}
