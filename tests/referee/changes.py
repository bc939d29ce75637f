"""Do the changes compose to the difference between the transposed source and the result?"""

from collections import Counter
from collections.abc import Iterable
from fractions import Fraction

from referee import pitches
from referee.faults import Fault, said
from referee.sheet import NoteKey, Sheet
from referee.summary import Change, Summary

APPLIED = "APPLIED"
ROUNDING = Fraction(1, 24)
"""Quarters within which a rounded time is the exact one (house judgement)."""
OUTCOMES = frozenset({APPLIED, "SUGGESTED", "DECLINED", "STALE", "CONFLICT", "BLOCKED"})


def transposed_notes(source: Sheet, summary: Summary) -> Counter[NoteKey]:
    """Every note of the transposed source."""
    notes: Counter[NoteKey] = Counter()
    for part in source.parts:
        moves = part in summary.transposed_parts
        for note in source.notes(part):
            key = note.key
            if moves:
                key = (*key[:7], pitches.transposed(key[7], summary.interval))
            notes[key] += 1
    return notes


def printed_notes(sheet: Sheet) -> Counter[NoteKey]:
    """Every note of a score."""
    return Counter(note.key for part in sheet.parts for note in sheet.notes(part))


def note_in_words(key: NoteKey) -> str:
    """A note for a sentence."""
    part, index, offset, staff, voice, duration, grace, pitch = key
    kind = "grace " if grace else ""
    return (
        f"{kind}{pitch} ({said(part, index, offset)}, staff {staff}, voice {voice}, "
        f"{duration} quarters)"
    )


class Times:
    """Puts right what a rounded tuplet does to the times of an entry.

    Where divisions cannot express a value, a file rounds it and readers differ in how they put
    it right; an entry then speaks of the note of its pitch that lies within the rounding.
    """

    def __init__(self, keys: Iterable[NoteKey]) -> None:
        self.exact = set(keys)
        self.near: dict[tuple[object, ...], list[NoteKey]] = {}
        for key in sorted(self.exact):
            self.near.setdefault((*key[:2], *key[3:5], *key[6:]), []).append(key)

    def settled(self, key: NoteKey) -> NoteKey:
        """The note that an entry means."""
        if key in self.exact:
            return key
        for other in self.near.get((*key[:2], *key[3:5], *key[6:]), ()):
            if abs(other[2] - key[2]) < ROUNDING and abs(other[5] - key[5]) < ROUNDING:
                return other
        return key


def change_faults(source: Sheet, result: Sheet, summary: Summary) -> list[Fault]:
    """Compose the changes in order and compare."""
    faults: list[Fault] = []
    notes, there = transposed_notes(source, summary), printed_notes(result)
    times = Times([*notes, *there])
    for change in summary.changes:
        if change.outcome == APPLIED and change.kind == "note":
            faults += compose(change, notes, times)
    notes = Counter({key: count for key, count in notes.items() if count > 0})
    for key, count in sorted((notes - there).items()):
        sentence = f"{note_in_words(key)} is gone or moved without a change, {count} time(s)"
        faults.append(Fault("change", said(*key[:3]), sentence))
    for key, count in sorted((there - notes).items()):
        sentence = f"{note_in_words(key)} has come without a change, {count} time(s)"
        faults.append(Fault("change", said(*key[:3]), sentence))
    return faults


def compose(change: Change, notes: Counter[NoteKey], times: Times) -> list[Fault]:
    """Apply one change to the notes as they stand."""
    faults = []
    before, after = (Counter(map(times.settled, side)) for side in change.notes)
    place = said(change.part, change.index)
    if before == after:
        faults.append(Fault("change", place, f"{change.rule} changes nothing"))
    for key, count in before.items():
        if notes[key] < count:
            sentence = f"{change.rule} starts from {note_in_words(key)}, which is not there"
            faults.append(Fault("change", place, sentence))
        notes[key] -= count
    notes.update(after)
    return faults


def log_faults(summary: Summary) -> list[Fault]:
    """Is every entry well formed, and does it name only what exists?"""
    faults = []
    ids = Counter(change.id for change in summary.changes)
    for name, count in sorted(ids.items()):
        if count > 1:
            faults.append(Fault("change", name, f"{count} changes share an id"))
    for change in summary.changes:
        place = said(change.part, change.index)
        unknown = [d for d in change.depends_on if d not in ids]
        if unknown:
            sentence = f"{change.rule} depends on {unknown[0]}, which is not in the log"
            faults.append(Fault("change", place, sentence))
        if change.outcome not in OUTCOMES or change.kind not in {"note", "mark"}:
            sentence = f"{change.rule}: {change.outcome} of a {change.kind} is no entry"
            faults.append(Fault("change", place, sentence))
    return faults


def changed_places(source: Sheet, result: Sheet, summary: Summary) -> set[tuple[object, ...]]:
    """(part, index, offset) of every net difference of notes."""
    before, after = transposed_notes(source, summary), printed_notes(result)
    return places((before - after) + (after - before))


def places(keys: Iterable[NoteKey]) -> set[tuple[object, ...]]:
    """Where those notes stand."""
    return {key[:3] for key in keys}
