"""The log's marks: each stands where its entry says, and each that was taken out was there."""

from collections import Counter
from collections.abc import Iterator

from arrange.audit.ledger import Ledger
from arrange.edits import MarkValue
from arrange.score.model import EventId, Mark, Score, Sign


def mark_differences(before: Score, after: Score, ledger: Ledger) -> Iterator[str]:
    """Yield a sentence for every entry about a mark that the scores do not bear out."""
    yield from _added(after, ledger)
    if any(page.marks for page in ledger.pages.values()):
        yield from _taken_out(before, ledger)
    yield from _signs(before, ledger)
    yield from _fingers(after, ledger)


def _added(after: Score, ledger: Ledger) -> Iterator[str]:
    there: dict[str, list[Mark]] = {}
    measures = (m for part in after.parts for m in part.measures if m.marks)
    for measure in measures:
        for mark in measure.marks:
            if mark.own in ledger.words:
                there.setdefault(mark.own, []).append(mark)
    for own, (part, edit) in ledger.words.items():
        marks = there.get(own, [])
        if len(marks) == 1:
            yield from _compared(marks[0], part, edit.after)
        else:
            yield f"the direction “{edit.after.text}” of the entries is there {len(marks)} times"


def _fingers(after: Score, ledger: Ledger) -> Iterator[str]:
    for (part, index), page in ledger.pages.items():
        if not page.fingers or part not in after.by_part:
            continue
        there = Counter(
            (note.offset, note.staff, sign.text)
            for note in after.measure(part, index).notes
            if note.notations
            for sign in note.signs(Sign.FINGERING)
        )
        told = Counter((value.offset, value.staff, value.text) for value in page.fingers)
        for _, _, finger in (told - there).elements():
            yield f"part {part}: the finger {finger} of an entry is not there"


def _compared(mark: Mark, part: str, value: MarkValue) -> Iterator[str]:
    place = (mark.id.part, mark.id.index, mark.offset, mark.staff)
    if place != (part, value.index, value.offset, value.staff):
        yield f"the direction “{value.text}” stands elsewhere than its entry says"
    if mark.text != value.text.strip():
        yield f"a direction says “{mark.text}”; its entry says “{value.text}”"


def _taken_out(before: Score, ledger: Ledger) -> Iterator[str]:
    known: dict[EventId, Mark] = {
        mark.id: mark
        for part in before.parts
        for measure in part.measures
        for mark in measure.marks
    }
    for (part, index), page in ledger.pages.items():
        for key, value in page.marks.items():
            mark = known.get(EventId(part, index, key))
            is_it = mark is not None and mark.text == value.text and mark.offset == value.offset
            if not is_it:
                yield f"part {part}: the mark “{value.text}” of the entries was never there"


def _signs(before: Score, ledger: Ledger) -> Iterator[str]:
    """Entries that take signs off which neither the note nor another of its chord had.

    A note that leaves its chord hands its signs on.
    """
    for (part, index), page in ledger.pages.items():
        if not page.signs or part not in before.by_part:
            continue
        notes = {note.id.key: note for note in before.measure(part, index).notes}
        for key, kinds in page.signs.items():
            note = notes.get(key)
            if note is None:
                continue
            there = Counter(
                sign.text if sign.sign is Sign.OTHER else sign.sign.value
                for member in notes.values()
                if member.chord == note.chord
                for sign in member.notations
            )
            for kind, count in Counter(kinds).items():
                if there[kind] < count:
                    yield f"part {part}: the {kind} of an entry was never there"
