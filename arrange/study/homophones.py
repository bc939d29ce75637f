"""Notes that are one string of a lever harp: enharmonic unisons struck together."""

from collections.abc import Iterator
from dataclasses import dataclass

from arrange.harp.harp import Harp
from arrange.score.model import Score, StaffHand
from arrange.study.timeline import Sounding, timeline


@dataclass(frozen=True, slots=True)
class Homophones:
    """Two notes struck together on one key number, spelled differently.

    Attributes:
        kept: the one whose string gives it; *other*: the one that goes with it.
        is_one_chord: both stand in one chord throughout, so that *other* may be left out.
    """

    kept: Sounding
    other: Sounding
    is_one_chord: bool


def homophones(score: Score, staves: tuple[StaffHand, ...], harp: Harp) -> Iterator[Homophones]:
    """Yield the enharmonic unisons of one harp, in score order."""
    standing: dict[tuple[int, bool, int], Sounding] = {}
    for note in timeline(score, staves).notes:
        key = (note.start, note.is_grace, note.midi)
        first = standing.setdefault(key, note)
        if first.line == note.line:
            continue
        kept, other = _ranked(first, note, harp)
        standing[key] = kept
        yield Homophones(kept, other, _is_one_chord(score, kept, other))


def _ranked(one: Sounding, two: Sounding, harp: Harp) -> tuple[Sounding, Sounding]:
    """The note that names a string of this harp first; then the longer, then the earlier."""
    has_one = harp.home_as_spelled(one.note.pitch) is not None
    has_two = harp.home_as_spelled(two.note.pitch) is not None
    if has_one is not has_two:
        return (one, two) if has_one else (two, one)
    return (two, one) if two.end > one.end else (one, two)


def _is_one_chord(score: Score, kept: Sounding, other: Sounding) -> bool:
    notes = score.notes_by_id
    chords = {notes[i].chord for i in kept.ids}
    return all(notes[i].chord in chords for i in other.ids)
