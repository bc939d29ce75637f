"""Chains of tied notes in one part, joined and timed, with what embellishes them.

Times are whole ticks from the part's first measure, so that nothing here adds fractions.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate
from math import lcm

from arrange.pitch import Pitch
from arrange.score.embellishments import alternation, ornament, tied_tremolo, tremolo
from arrange.score.model import (
    EventId,
    HandName,
    MarkKind,
    Measure,
    Notation,
    Note,
    Part,
    Sign,
)
from arrange.units import Quarters

Again = tuple[int, Pitch, bool, HandName]
"""When, which pitch, whether an auxiliary, by which hand."""


class Chain:
    """A note with the notes tied to it, while it is read; times in ticks.

    Attributes:
        note: the first; *tied*: the ids of all.
        index: the measure that it is played in; *last_index*: that of the last tied note.
        start, end: on the part's line of ticks.
        again: what is plucked again within it.
        doubles: notes of the same pitch that are struck with it.
        is_alternating: part of a tremolo with another chord, which it then sounds as long as.
    """

    __slots__ = (
        "again", "doubles", "end", "hand", "index", "is_alternating", "is_damped", "last_index",
        "note", "start", "tied",
    )  # fmt: skip

    def __init__(self, note: Note, index: int, start: int, end: int, hand: HandName) -> None:
        self.note = note
        self.tied = [note.id]
        self.index = self.last_index = index
        self.start = start
        self.end = end
        self.hand = hand
        self.is_damped = False
        self.is_alternating = False
        self.again: list[Again] = []
        self.doubles: tuple[EventId, ...] = ()


class Line:
    """One part on a line of ticks, counted from its first measure."""

    def __init__(self, part: Part, quarter: int) -> None:
        self.part = part
        self.quarter = quarter
        self._lengths = [self.ticks(measure.length) for measure in part.measures]
        self.starts = list(accumulate(self._lengths, initial=0))[:-1]
        self._quarters: dict[int, Quarters] = {}

    def ticks(self, value: Quarters) -> int:
        """Return *value* in ticks."""
        numerator, denominator = value.as_integer_ratio()
        return numerator * (self.quarter // denominator)

    def quarters(self, ticks: int) -> Quarters:
        """Return *ticks* in quarters."""
        known = self._quarters.get(ticks)
        if known is None:
            known = self._quarters[ticks] = Fraction(ticks, self.quarter)
        return known

    def place(self, ticks: int) -> tuple[int, Quarters]:
        """The printed place; at a barline, the measure that begins."""
        index = bisect_right(self.starts, ticks) - 1
        return index, self.quarters(ticks - self.starts[index])

    def end_place(self, chain: Chain) -> tuple[int, Quarters]:
        """The printed place of an end; at a barline, the measure that ends."""
        index = chain.index
        offset = chain.end - self.starts[index]
        if offset > self._lengths[index]:
            index = bisect_left(self.starts, chain.end) - 1
            offset = chain.end - self.starts[index]
        return index, self.quarters(offset)


class PartChains:
    """Reads the chains of one part, measure by measure."""

    def __init__(
        self, line: Line, hands: dict[int, HandName], reassigned: dict[EventId, HandName]
    ) -> None:
        self.line = line
        self.chains: list[Chain] = []
        self._hands = hands
        self._reassigned = reassigned
        self._open: dict[int, list[Chain]] = {}
        self._later: list[tuple[Chain, Note, int, int, str]] = []

    def read(self) -> list[Chain]:
        """Return the chains of the part, ties joined, embellishments noted."""
        for measure in self.line.part.measures:
            first = len(self.chains)
            self._read_measure(measure, _source(self.line.part, measure))
            self._mark_tremolos(self.chains[first:])
        for chain in self.chains:
            self._embellish(chain, chain.note, chain.start, chain.end)
        for chain, note, start, end, marks in self._later:
            if not chain.again:
                self._embellish(chain, note, start, end)
                times = tied_tremolo(marks, end - start, self.line.quarter) if marks else ()
                hand = self._hands[note.staff]
                chain.again.extend((start + t, note.pitch, False, hand) for t in times)
        return self.chains

    def _read_measure(self, measure: Measure, source: Measure) -> None:
        begin, ticks = self.line.starts[measure.index], self.line.ticks
        damped = set(damps(source))
        timed = [
            (ticks(note.offset), not note.is_grace, i)
            for i, note in enumerate(source.notes)
            if not note.is_cue and note.staff in self._hands
        ]
        timed.sort()
        repeated = _repeated(source)
        for offset, _, i in timed:
            note = source.notes[i]
            start = begin + offset
            end = start + ticks(note.duration)
            chain = self._joined(note, measure.index, start) if note.tied_from else None
            if chain is None:
                hand = self._reassigned.get(note.id) if self._reassigned else None
                hand = hand or self._hands[note.staff]
                chain = Chain(note, measure.index, start, end, hand)
                self.chains.append(chain)
            else:
                chain.end = max(chain.end, end)
                if note.auxiliaries or note.chord in repeated:
                    self._later.append((chain, note, start, end, repeated.get(note.chord, "")))
            if note.notations and note.has(Sign.DAMP):
                chain.is_damped = True
            if damped and (note.staff, note.offset) in damped:
                chain.is_damped = True
            if note.tied_to:
                self._open.setdefault(note.pitch.midi, []).append(chain)

    def _joined(self, note: Note, index: int, start: int) -> Chain | None:
        """The chain that a tie leads from to *note*: one that ends here, its voice first."""
        waiting = self._open.get(note.pitch.midi, [])
        near = [g for g in waiting if g.end == start] or [
            g for g in waiting if g.end <= start and g.last_index >= index - 1
        ]
        if not near:
            return None
        chain = next((g for g in near if g.note.voice == note.voice), near[0])
        waiting.remove(chain)
        chain.tied.append(note.id)
        chain.last_index = index
        return chain

    def _mark_tremolos(self, chains: list[Chain]) -> None:
        """Give the chords of a measure the tremolos that one of their notes carries."""
        signs = _tremolos(chains)
        chords: dict[EventId, list[Chain]] = {}
        for chain in chains if signs else ():
            chords.setdefault(chain.note.chord, []).append(chain)
        first: dict[str, list[Chain]] = {}
        for chord, sign in signs.items():
            voice = chords[chord][0].note.voice
            if sign.type == "start":
                first[voice] = chords[chord]
            elif sign.type == "stop" and voice in first:
                self._alternate(first.pop(voice), chords[chord], sign.text)
            else:
                self._repeat(chords[chord], sign.text)

    def _repeat(self, chord: list[Chain], marks: str) -> None:
        for chain in chord:
            times = tremolo(marks, chain.end - chain.start, self.line.quarter)
            pitch = chain.note.pitch
            chain.again.extend((chain.start + t, pitch, False, chain.hand) for t in times)

    def _alternate(self, one: list[Chain], other: list[Chain], marks: str) -> None:
        start, end = one[0].start, other[0].end
        for chord, times in zip(
            (one, other), alternation(marks, end - start, self.line.quarter), strict=True
        ):
            for chain in chord:
                chain.end = end
                chain.is_alternating = True
                chain.again.extend(
                    (start + t, chain.note.pitch, False, chain.hand)
                    for t in times
                    if start + t != chain.start
                )

    def _embellish(self, chain: Chain, note: Note, start: int, end: int) -> None:
        """What the ornaments of a note of the chain add from *start* to *end*."""
        if not note.auxiliaries or chain.is_alternating:
            return
        hand = chain.hand if note is chain.note else self._hands[note.staff]
        for after, which in ornament(note, end - start, self.line.quarter):
            if which < 0:
                chain.again.append((start + after, note.pitch, False, hand))
            else:
                chain.again.append((start + after, note.auxiliaries[which], True, hand))


def damps(measure: Measure) -> list[tuple[int, Quarters]]:
    """Staff and offset of the signs to damp."""
    return [(m.staff, m.offset) for m in measure.marks if m.kind is MarkKind.DAMP]


def ticks_in_a_quarter(parts: Iterable[Part]) -> int:
    """Return a number of ticks in a quarter that makes every time of *parts* whole."""
    found = {
        value.denominator
        for part in parts
        for measure in part.measures
        for value in (
            measure.length,
            *(note.offset for note in measure.notes),
            *(note.duration for note in measure.notes),
        )
    }
    return 32 * lcm(*found)


def _source(part: Part, measure: Measure) -> Measure:
    """What is played in *measure*: its own notes or, on repeated staves, those it stands for."""
    if not 0 <= measure.stands_for < measure.index:
        return measure
    source = _source(part, part.measures[measure.stands_for])
    staves = measure.repeated_staves
    if not staves:
        return source
    return replace(
        source,
        notes=(
            *(note for note in source.notes if note.staff in staves),
            *(note for note in measure.notes if note.staff not in staves),
        ),
        marks=(
            *(mark for mark in source.marks if mark.staff in staves),
            *(mark for mark in measure.marks if mark.staff not in staves),
        ),
    )


def _repeated(measure: Measure) -> dict[EventId, str]:
    """The tremolo marks of each chord that is repeated by itself."""
    return {
        note.chord: sign.text
        for note in measure.notes
        if note.notations
        for sign in note.signs(Sign.TREMOLO)
        if sign.type not in {"start", "stop"}
    }


def _tremolos(chains: list[Chain]) -> dict[EventId, Notation]:
    """The tremolo of each chord that has one, in order of time."""
    return {
        chain.note.chord: sign
        for chain in chains
        if chain.note.notations
        for sign in chain.note.signs(Sign.TREMOLO)
    }
