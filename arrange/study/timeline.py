"""The notes of one harp on a line of ticks: what sounds when, voice by voice, beat by beat."""

from bisect import bisect_right
from collections import defaultdict
from itertools import groupby
from operator import attrgetter

from arrange.memory import remembered
from arrange.score.chains import Chain, Line
from arrange.score.harp_chains import chains_of
from arrange.score.model import Measure, Note, Score, StaffHand
from arrange.study.likeness import as_played

Stream = tuple[str, int, str]
"""A voice on a staff of a part."""


class Sounding:
    """A note with those tied to it; times in ticks from the first measure.

    Attributes:
        ids: the note and those tied to it; *note*: the first of them.
        midi, line: of its pitch; *stream*: its voice; *hand*: that plays it.
        index: the measure that it is struck in.
    """

    __slots__ = (
        "end", "hand", "ids", "index", "is_grace", "line", "midi", "note", "start", "stream",
    )  # fmt: skip

    def __init__(self, chain: Chain, start: int) -> None:
        note = chain.note
        self.ids = tuple(chain.tied)
        self.note: Note = note
        self.start = start
        self.end = start + chain.end - chain.start
        self.midi = note.pitch.midi
        self.line = note.pitch.line
        self.stream: Stream = (note.id.part, note.staff, note.voice)
        self.hand = chain.hand
        self.index = chain.index
        self.is_grace = note.is_grace


Unit = tuple[Sounding, ...]
"""Notes of one voice that are struck together, low to high; graces with what they lead to."""


class Timeline:
    """One harp's notes by time.

    Attributes:
        quarter: ticks in a quarter.
        starts: where each measure begins; *end*: where the last one ends.
        measures: of the harp's first part.
        notes: by start, low to high; neither cue notes nor what repeats another measure.
        streams: each voice's units in order.
        strong: strong beats; *beats*: all felt beats, in order.
    """

    def __init__(self, score: Score, staves: tuple[StaffHand, ...]) -> None:
        parts = chains_of(score, staves)
        first = parts[0][0]
        self.quarter = first.quarter
        self.measures: tuple[Measure, ...] = score.by_part[staves[0].part].measures
        self.starts = first.starts
        self.end = self.starts[-1] + first.ticks(self.measures[-1].length) if self.starts else 0
        notes: list[Sounding] = []
        for line, chains in parts:
            notes.extend(self._soundings(line, chains))
        notes.sort(key=lambda n: (n.start, n.midi))
        self.notes = tuple(notes)
        self.streams = _streams(notes)
        self.beats, strong = self._beats(first)
        self.strong = tuple(strong)
        self._strong = frozenset(strong)
        self._beat_ticks = frozenset(self.beats)

    def _soundings(self, line: Line, chains: tuple[Chain, ...]) -> list[Sounding]:
        shift = [a - b for a, b in zip(self.starts, line.starts, strict=False)]
        shift.extend(0 for _ in line.starts[len(shift) :])
        return [
            Sounding(chain, chain.start + shift[chain.index])
            for chain in chains
            if chain.index == chain.note.id.index
        ]

    def _beats(self, line: Line) -> tuple[tuple[int, ...], list[int]]:
        beats: list[int] = []
        strong: list[int] = []
        for measure, begin in zip(self.measures, self.starts, strict=True):
            length = line.ticks(measure.length)
            beat = max(line.ticks(measure.meter.beat), 1)
            beats.extend(range(begin, begin + max(length, 1), beat))
            strong.append(begin)
            half = line.ticks(measure.meter.length) // 2
            is_even = half % beat == 0 and measure.meter.length >= 3
            if is_even and begin + half < begin + length:
                strong.append(begin + half)
        return tuple(beats), strong

    def is_strong(self, tick: int) -> bool:
        """Whether a strong beat falls there: the downbeat, and the middle of an even measure."""
        return tick in self._strong

    def is_beat(self, tick: int) -> bool:
        """Whether a felt beat falls there."""
        return tick in self._beat_ticks

    def span(self, tick: int) -> int:
        """Which stretch from strong beat to strong beat *tick* lies in."""
        return bisect_right(self.strong, tick) - 1

    def beat(self, tick: int) -> int:
        """Which felt beat *tick* lies in, from 0 for the whole piece."""
        return bisect_right(self.beats, tick) - 1


def _streams(notes: list[Sounding]) -> dict[Stream, tuple[Unit, ...]]:
    rows: dict[Stream, list[Sounding]] = defaultdict(list)
    for note in notes:
        rows[note.stream].append(note)
    return {
        stream: tuple(tuple(unit) for _, unit in groupby(rows[stream], attrgetter("start")))
        for stream in sorted(rows)
    }


def timeline(score: Score, staves: tuple[StaffHand, ...]) -> Timeline:
    """Return the notes of one harp of *score* by time."""
    return _timeline(as_played(score), staves)


@remembered
def _timeline(score: Score, staves: tuple[StaffHand, ...]) -> Timeline:
    return Timeline(score, staves)


def end_of(unit: Unit) -> int:
    """Where the longest note of *unit* ends."""
    return max(note.end for note in unit)


def main_notes(unit: Unit) -> Unit:
    """The notes of *unit* without its graces; the graces where it has nothing else."""
    return tuple(n for n in unit if not n.is_grace) or unit
