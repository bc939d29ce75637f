"""Notes as sounding values: the transposed source, the log's chains, the result."""

from collections import Counter
from collections.abc import Iterator

from arrange.audit.ledger import Ledger
from arrange.edits import NoteValue
from arrange.pitch import UNISON, Interval
from arrange.score.model import Measure, Note, Score

_Key = tuple[int, int, int, int, str, int, int, bool, str, int, int]
"""A note as numbers and letters: quick to compare."""


def note_differences(
    before: Score, after: Score, ledger: Ledger, interval: Interval, moving: frozenset[str]
) -> Iterator[str]:
    """Yield a sentence for every note that the log does not account for."""
    for part in before.parts:
        other = after.by_part.get(part.id)
        if other is None or len(other.measures) != len(part.measures):
            yield f"part {part.id}: its measures are not those of the source"
            continue
        by = interval if part.id in moving else UNISON
        chains = [row for row in ledger.notes if row[0] == part.id]
        touched = {value.index for _, one, two, _ in chains for value in (*one, *two)}
        standing: dict[int, Counter[_Key]] = {}
        for measure, now in zip(part.measures, other.measures, strict=True):
            if measure.length != now.length:
                yield f"part {part.id}, measure {now.number}: it lasts {now.length} quarters"
            if measure.index in touched:
                standing[measure.index] = Counter(_keys(measure, by))
            elif not _is_same(measure, now, by):
                yield from _told(part.id, Counter(_keys(measure, by)), now)
        yield from _composed(part.id, chains, standing)
        for index, counted in standing.items():
            yield from _told(part.id, counted, other.measures[index])


def _composed(
    part: str,
    chains: list[tuple[str, tuple[NoteValue, ...], tuple[NoteValue, ...], str]],
    standing: dict[int, Counter[_Key]],
) -> Iterator[str]:
    """Carry the log's chains out on the transposed source's notes."""
    for _, before, after, change in chains:
        for value in before:
            key = _key_of(value)
            counted = standing.get(value.index)
            if counted is None or counted[key] < 1:
                yield f"part {part}: {_words(key)} of the change {change} is not there"
            else:
                counted[key] -= 1
        for value in after:
            counted = standing.get(value.index)
            if counted is not None:
                counted[_key_of(value)] += 1


def _is_same(one: Measure, two: Measure, interval: Interval) -> bool:
    """Whether two measures have the same notes, moved by the interval, in the same order."""
    if len(one.notes) != len(two.notes):
        return False
    return all(
        a.duration == b.duration
        and a.offset == b.offset
        and a.staff == b.staff
        and a.voice == b.voice
        and a.is_grace == b.is_grace
        and _is_moved(a, b, interval)
        for a, b in zip(one.notes, two.notes, strict=True)
    )


def _is_moved(one: Note, two: Note, interval: Interval) -> bool:
    """Whether the pitch is the other one moved; of microtones, whether the letter is.

    A microtone is read as the nearest semitone, and which that is may change with the letter.
    """
    pitch = one.pitch if interval is UNISON else interval.move(one.pitch)
    if one.microtone and two.microtone:
        is_letter = (pitch.step, pitch.octave) == (two.pitch.step, two.pitch.octave)
        return is_letter and abs(pitch.alter - two.pitch.alter) <= 1
    return pitch == two.pitch


def _told(part: str, counted: "Counter[_Key]", now: Measure) -> Iterator[str]:
    there = Counter(_keys(now, UNISON))
    if there == {key: count for key, count in counted.items() if count}:
        return
    for key in (counted - there).elements():
        yield f"part {part}, measure {now.number}: {_words(key)} is gone, and no entry says so"
    for key in (there - counted).elements():
        yield f"part {part}, measure {now.number}: {_words(key)} is new, and no entry says so"


def _keys(measure: Measure, interval: Interval) -> Iterator[_Key]:
    for note in measure.notes:
        yield _key(note, interval)


def _key(note: Note, interval: Interval) -> _Key:
    pitch = note.pitch if interval is UNISON else interval.move(note.pitch)
    return (
        note.id.index,
        *note.offset.as_integer_ratio(),
        note.staff,
        note.voice,
        *note.duration.as_integer_ratio(),
        note.is_grace,
        pitch.step,
        pitch.alter,
        pitch.octave,
    )


def _key_of(value: NoteValue) -> _Key:
    pitch = value.pitch
    return (
        value.index,
        *value.offset.as_integer_ratio(),
        value.staff,
        value.voice,
        *value.duration.as_integer_ratio(),
        value.is_grace,
        pitch.step,
        pitch.alter,
        pitch.octave,
    )


def _words(key: _Key) -> str:
    _, at, of, staff, voice, length, unit, is_grace, step, alter, octave = key
    sign = "#" * alter if alter > 0 else "b" * -alter
    kind = "grace note" if is_grace else "note"
    length_text = f"{length}/{unit}" if unit > 1 else f"{length}"
    at_text = f"{at}/{of}" if of > 1 else f"{at}"
    return (
        f"the {kind} {step}{sign}{octave} at {at_text} on staff {staff} in voice {voice}"
        f" ({length_text} long)"
    )
