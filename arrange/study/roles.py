"""What each note is in the music: melody, bass, inner voice or doubling.

How melody and bass are found stands in ``arrange.study.leading``. A doubling is a note whose
pitch class melody, bass or a lower inner note has at the same moment. Degrees, passing notes and
cadences are read from the chords of ``arrange.study.harmony``: a cadence is a dominant, its
tonic after it, and the end of a phrase within that tonic. House judgement throughout.
"""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from arrange.memory import remembered
from arrange.quick import quickly_made
from arrange.score.model import EventId, HandName, Measure, Score, StaffHand
from arrange.study.harmony import Chord, Harmony
from arrange.study.leading import IN_FIGURE, STEP, Chosen, Named, Role, leading_notes
from arrange.study.likeness import as_played
from arrange.study.phrases import harmony, phrases
from arrange.study.prices import PriceList
from arrange.study.timeline import Sounding, Timeline, Unit, main_notes, timeline

__all__ = ["NoteRole", "Role", "in_doubt", "omission_price", "roles"]

PLAIN = (Role.INNER, "between melody and bass")
DOUBLED = "its tone sounds in another note as well"


@quickly_made
@dataclass(frozen=True, slots=True)
class NoteRole:
    """A note's place in the music.

    Attributes:
        degree: in the chord of its beat: root, third, fifth, seventh, other.
        is_strong: struck on a strong beat.
        sounds_elsewhere: its pitch class sounds in another note then.
        is_passing: foreign to the chord, off the strong beat, reached and left by step.
        is_cadential: the third or the leading note at a cadence.
        is_swept: a glissando begins or ends on it.
        why: what it was known by, for a musician.
    """

    role: Role
    degree: str
    is_strong: bool
    sounds_elsewhere: bool
    is_passing: bool
    is_cadential: bool
    why: str
    is_swept: bool = False


def roles(score: Score, melody: Chosen = ()) -> dict[EventId, NoteRole]:
    """Return the role of every note of the harps' parts; tied notes share that of their first.

    Args:
        score: the score.
        melody: staff and voice of the melody, in place of what the score says the user named;
            an empty voice is the whole staff.
    """
    return _roles(as_played(score), melody or score.melody)


@remembered
def _roles(score: Score, melody: Chosen) -> dict[EventId, NoteRole]:
    found: dict[EventId, NoteRole] = {}
    for staves in score.harps:
        found |= _of_harp(score, staves, melody)
    return found


def in_doubt(score: Score, staves: tuple[StaffHand, ...]) -> list[tuple[Measure, Measure]]:
    """First and last measure of each stretch of broken chords in which nothing is melody."""
    named, line = roles(score), timeline(score, staves)
    figured: set[int] = set()
    sung: set[int] = set()
    for note in line.notes:
        role = named[note.ids[0]]
        if role.role is Role.MELODY:
            sung.add(note.index)
        elif note.hand is HandName.RIGHT and role.why == IN_FIGURE[1]:
            figured.add(note.index)
    found: list[tuple[Measure, Measure]] = []
    for index in sorted(figured - sung):
        measure = line.measures[index]
        if found and found[-1][1].index == index - 1:
            found[-1] = (found[-1][0], measure)
        else:
            found.append((measure, measure))
    return found


def omission_price(role: NoteRole, prices: PriceList) -> int | None:
    """What leaving the note out costs; None where it is never left out.

    Never: the melody, the bass, the third or leading note of a cadence that no other note has,
    and the ends of a glissando.
    """
    if role.is_swept:
        return None
    if role.role is Role.DOUBLING:
        return prices.doubling
    if role.role in {Role.MELODY, Role.BASS}:
        return None
    if role.is_cadential and not role.sounds_elsewhere:
        return None
    if role.is_passing or (role.degree in {"root", "fifth"} and role.sounds_elsewhere):
        return prices.passing
    return prices.third


def _of_harp(
    score: Score, staves: tuple[StaffHand, ...], melody: Chosen
) -> dict[EventId, NoteRole]:
    line, chords = timeline(score, staves), harmony(score, staves)
    chosen = tuple(
        (staves[number - 1].part, staves[number - 1].staff, voice)
        for number, voice in melody
        if 1 <= number <= len(staves)
    )
    named = leading_notes(line, chosen, score.sung)
    passing = _passing(line, chords)
    ends = sorted({phrase.end for phrase in phrases(score, staves)})
    swept = {note for sweep in score.sweeps for note in (sweep.start, sweep.end)}
    cadences = _cadences(line, chords, ends)
    result: dict[EventId, NoteRole] = {}
    for start, struck, sounding in _moments(line):
        chord = chords.at(start)
        needed = cadences.get(line.beat(start), ())
        is_strong = line.is_strong(start)
        doubled = _doubled(struck, named)
        for note in struck:
            tone = note.midi % 12
            role, why = named.get(note, PLAIN)
            is_swept = not swept.isdisjoint(note.ids)
            is_doubled = note in doubled and not is_swept
            result[note.ids[0]] = found = NoteRole(
                Role.DOUBLING if is_doubled else role,
                chord.degree(tone) if chord else "other",
                is_strong,
                sounding[tone] > 1,
                note in passing,
                tone in needed,
                DOUBLED if is_doubled else why,
                is_swept,
            )
            for tied in note.ids[1:]:
                result[tied] = found
    return result


def _moments(line: Timeline) -> Iterator[tuple[int, Unit, list[int]]]:
    """Each moment: when, what is struck, and in how many notes each tone sounds then."""
    held: list[Sounding] = []
    notes, i = line.notes, 0
    while i < len(notes):
        start, first = notes[i].start, i
        while i < len(notes) and notes[i].start == start:
            i += 1
        struck = notes[first:i]
        held = [n for n in held if n.end > start]
        held.extend(struck)
        tones = [0] * 12
        for note in held:
            tones[note.midi % 12] += 1
        yield start, struck, tones


def _doubled(struck: Unit, named: Named) -> set[Sounding]:
    """The inner notes of a moment whose tone melody, bass or a lower inner note has."""
    doubled: set[Sounding] = set()
    if len(struck) < 2:
        return doubled
    inner: list[Sounding] = []
    taken: set[int] = set()
    for note in struck:
        if named.get(note, PLAIN)[0] is Role.INNER:
            inner.append(note)
        else:
            taken.add(note.midi % 12)
    for note in inner:
        tone = note.midi % 12
        if tone in taken:
            doubled.add(note)
        taken.add(tone)
    return doubled


def _passing(line: Timeline, chords: Harmony) -> frozenset[Sounding]:
    """Single notes off the strong beats, foreign to the chord, between two steps."""
    found: set[Sounding] = set()
    for units in line.streams.values():
        lows = [main_notes(unit)[0] for unit in units]
        tops = [main_notes(unit)[-1] for unit in units]
        for i in range(1, len(units) - 1):
            note = tops[i]
            if note is not lows[i] or line.is_strong(note.start):
                continue
            if not 0 < abs(note.midi - tops[i - 1].midi) <= STEP:
                continue
            if not 0 < abs(tops[i + 1].midi - note.midi) <= STEP:
                continue
            chord = chords.at(note.start)
            if chord is None or chord.degree(note.midi % 12) == "other":
                found.add(note)
    return frozenset(found)


def _cadences(line: Timeline, chords: Harmony, ends: list[int]) -> dict[int, tuple[int, ...]]:
    """For the beats of each cadence, the tones that it cannot do without."""
    found: dict[int, tuple[int, ...]] = {}
    beats = line.beats
    for (first, last), (then, until) in pairwise(_runs(chords.chords)):
        dominant, tonic = chords.chords[last], chords.chords[then]
        if dominant is None or tonic is None or not chords.leads(beats[last], beats[then]):
            continue
        end = beats[until + 1] if until + 1 < len(beats) else line.end
        following = bisect_right(ends, beats[then])
        if following < len(ends) and ends[following] <= end:
            found |= dict.fromkeys(range(first, last + 1), (dominant.third,))
            found |= dict.fromkeys(range(then, until + 1), (tonic.third,))
    return found


def _runs(chords: list[Chord | None]) -> list[tuple[int, int]]:
    """First and last beat of each stretch on one chord."""
    runs: list[tuple[int, int]] = []
    for i, chord in enumerate(chords):
        before = chords[i - 1] if i else None
        if runs and before and chord and before.root == chord.root and before.shape == chord.shape:
            runs[-1] = (runs[-1][0], i)
        else:
            runs.append((i, i))
    return runs
