"""Which notes lead: the melody above and the bass below.

The method, house judgement throughout:

Melody. In each measure the upper voice of the right hand's staff (by its average height, a
voice that plays broken chords coming last) carries the line; its note, or the top of its chord,
is melody, unless a longer note above it still sounds. Voices that the score gives are respected:
a lower voice is never melody beside an upper one. In broken chords that go on for three measures
or more (or in a voice that has little else) the top line is not the melody; there only a note on
the beat that is also the top of its stretch counts. A shorter run of leaps in a line is the line's
own. Where the
right hand is silent for a measure, a left hand that mostly moves by step in single notes has the
melody. Whoever knows better names the staff or voice.

Bass. The lowest note of the left hand at each strong beat, with nothing lower still sounding;
between strong beats the lowest of its stretch, single notes that step on from a bass note, and
the lowest notes of chords that follow chords within a fifth.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from arrange.score.model import EventId, HandName
from arrange.study.figures import figures
from arrange.study.timeline import Sounding, Stream, Timeline, Unit, main_notes

STEP = 2
"""Semitones of a step."""
BASS_STEP, FIFTH = 4, 7
"""Semitones over which a bass line is heard to go on: in single notes, under chords."""

LASTING = 3
"""From so many measures on, broken chords are a texture and no line."""

Chosen = tuple[tuple[int, str], ...]
"""Staff and voice of the melody as the user names them: staves counted from the harp's top, an
empty voice is the whole staff."""


class Role(StrEnum):
    """What a note is."""

    MELODY = "melody"
    BASS = "bass"
    INNER = "inner"
    DOUBLING = "doubling"


Named = dict[Sounding, tuple[Role, str]]
"""Notes with their role and what it was known by."""

IN_FIGURE = (Role.INNER, "part of a broken chord")
KNOWN = (Role.MELODY, "melody before the piece was made lighter")


def leading_notes(
    line: Timeline, chosen: tuple[Stream, ...] = (), sung: frozenset[EventId] | None = None
) -> Named:
    """Return the melody and bass notes, and the figure notes that are neither.

    Args:
        line: one harp's notes.
        chosen: the melody's part, staff and voice where the user named them; an empty voice is
            the whole staff.
        sung: the melody's notes where they are known.
    """
    figured = figures(line)
    if sung is not None:
        named = {n: KNOWN for n in line.notes if n.note.id in sung}
    elif chosen:
        named = _named_by_user(line, chosen)
    else:
        named = _Melody(line, figured).named()
    _Bass(line, figured, named).name()
    return named


def _named_by_user(line: Timeline, chosen: tuple[Stream, ...]) -> Named:
    named: Named = {}
    for (part, staff, voice), units in line.streams.items():
        if (part, staff, voice) in chosen or (part, staff, "") in chosen:
            for unit in units:
                top = main_notes(unit)[-1]
                for note in unit:
                    if note is top or note.is_grace:
                        named[note] = (Role.MELODY, "in the voice that was named as the melody")
    return named


@dataclass(slots=True)
class _Melody:
    line: Timeline
    figured: frozenset[tuple[Stream, int]]
    _named: Named
    _tops: dict[tuple[Stream, int], int]

    def __init__(self, line: Timeline, figured: frozenset[tuple[Stream, int]]) -> None:
        self.line = line
        self.figured = _lasting(line, figured)
        self._named = {}
        self._tops = {}
        for stream, units in line.streams.items():
            for unit in units:
                key = (stream, line.span(unit[0].start))
                self._tops[key] = max(self._tops.get(key, 0), unit[-1].midi)

    def named(self) -> Named:
        right, left = self._by_measure(HandName.RIGHT), self._by_measure(HandName.LEFT)
        for index in range(len(self.line.measures)):
            if right.get(index):
                self._name_upper_voice(right[index])
            elif left.get(index):
                self._name_left_line(left[index])
        return self._named

    def _by_measure(self, hand: HandName) -> dict[int, dict[Stream, list[Unit]]]:
        found: dict[int, dict[Stream, list[Unit]]] = defaultdict(dict)
        for stream, units in self.line.streams.items():
            for unit in units:
                if unit[0].hand is hand:
                    found[unit[0].index].setdefault(stream, []).append(unit)
        return found

    def _name_upper_voice(self, voices: dict[Stream, list[Unit]]) -> None:
        best = min(voices, key=lambda s: (self._is_figured(s, voices[s]), -_height(voices[s])))
        others = [n for s, units in voices.items() if s != best for unit in units for n in unit]
        for unit in voices[best]:
            top = main_notes(unit)[-1]
            if others and _is_covered(top, others):
                continue
            if (best, self.line.span(top.start)) in self.figured:
                self._named[top] = self._in_figure(best, top)
                continue
            self._named[top] = (Role.MELODY, "the top of the right hand's upper voice")
            for note in unit:
                if note.is_grace:
                    self._named[note] = (Role.MELODY, "leads to a melody note")

    def _is_figured(self, stream: Stream, units: list[Unit]) -> bool:
        return all((stream, self.line.span(unit[0].start)) in self.figured for unit in units)

    def _in_figure(self, stream: Stream, note: Sounding) -> tuple[Role, str]:
        is_top = note.midi >= self._tops[stream, self.line.span(note.start)]
        if is_top and self.line.is_beat(note.start):
            return Role.MELODY, "on the beat, and the top of its broken chord"
        return IN_FIGURE

    def _name_left_line(self, voices: dict[Stream, list[Unit]]) -> None:
        units = [u for row in voices.values() for u in row]
        if len(voices) > 1 or any(len(main_notes(unit)) > 1 for unit in units):
            return
        pitches = [main_notes(unit)[0].midi for unit in units]
        steps = sum(1 for one, other in pairwise(pitches) if abs(one - other) <= STEP)
        if len(pitches) > 2 and steps * 2 >= len(pitches) - 1:
            for note in (n for unit in units for n in unit):
                self._named[note] = (Role.MELODY, "the left hand's line, the right being silent")


def _lasting(
    line: Timeline, figured: frozenset[tuple[Stream, int]]
) -> frozenset[tuple[Stream, int]]:
    """The broken chords that go on from stretch to stretch, or fill most of a voice."""
    found: set[tuple[Stream, int]] = set()
    for stream, units in line.streams.items():
        spans = {line.span(unit[0].start): unit[0].index for unit in units}
        own = {span: index for span, index in spans.items() if (stream, span) in figured}
        is_most = 2 * len(own) >= len(spans)
        run: list[int] = []
        for span, index in sorted(own.items()):
            if run and span - run[-1] > 1:
                run = []
            run.append(span)
            if is_most or index - own[run[0]] + 1 >= LASTING:
                found.update((stream, member) for member in run)
    return frozenset(found)


@dataclass(frozen=True, slots=True)
class _Bass:
    line: Timeline
    figured: frozenset[tuple[Stream, int]]
    named: Named

    def name(self) -> None:
        lowest = self._lowest_of_spans()
        held: list[Sounding] = []
        before: Unit | None = None
        for unit in self._left_moments():
            bottom = unit[0]
            held = [n for n in held if n.end > bottom.start]
            is_covered = any(n.midi < bottom.midi for n in held)
            held.extend(unit)
            if bottom not in self.named and not is_covered:
                why = self._why(unit, lowest, before)
                if why:
                    self.named[bottom] = (Role.BASS, why)
            before = unit

    def _why(self, unit: Unit, lowest: dict[int, int], before: Unit | None) -> str:
        bottom = unit[0]
        span = self.line.span(bottom.start)
        if self.line.is_strong(bottom.start):
            return "the lowest note on a strong beat"
        if bottom.midi <= lowest[span]:
            return "the lowest note between two strong beats"
        if before is None or self.named.get(before[0], IN_FIGURE)[0] is not Role.BASS:
            return ""
        apart = abs(before[0].midi - bottom.midi)
        if len(unit) == 1 and apart <= BASS_STEP and (bottom.stream, span) not in self.figured:
            return "goes on from a bass note"
        is_chords = min(len(unit), len(before)) > 1
        return "goes on below a row of chords" if is_chords and apart <= FIFTH else ""

    def _left_moments(self) -> list[Unit]:
        rows: dict[int, list[Sounding]] = {}
        for note in self.line.notes:
            if note.hand is HandName.LEFT and not note.is_grace:
                rows.setdefault(note.start, []).append(note)
        return [tuple(row) for row in rows.values()]

    def _lowest_of_spans(self) -> dict[int, int]:
        found: dict[int, int] = {}
        for note in self.line.notes:
            if note.hand is HandName.LEFT and not note.is_grace:
                span = self.line.span(note.start)
                found[span] = min(found.get(span, note.midi), note.midi)
        return found


def _height(units: list[Unit]) -> int:
    """Average height in hundredths of a semitone."""
    return 100 * sum(unit[-1].midi for unit in units) // len(units)


def _is_covered(top: Sounding, others: Iterable[Sounding]) -> bool:
    """Whether a longer note of another voice lies above."""
    length = top.end - top.start
    return any(
        n.midi > top.midi and n.start <= top.start < n.end and n.end - n.start > length
        for n in others
    )
