"""The strings of glissandi, one by one, as they are heard."""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from arrange.check import Instructions
from arrange.check.sweeping import Passage, passages
from arrange.check.timeline import Timeline
from arrange.harp.harp import Harp
from arrange.report.listening.loudness import Loudness
from arrange.report.listening.sound import Sound
from arrange.report.listening.touches import Touch
from arrange.score.model import EventId, Score, StaffHand, Sweep, SweepForm
from arrange.score.performed import Clock
from arrange.score.swept import SweptString
from arrange.units import Microseconds

LIGHTER = 10
"""A swept string is so much softer than the note that the sweep leaves (house judgement)."""


@dataclass(frozen=True)
class Sweeps:
    """The glissandi of one harp.

    A glissando that is written out sounds as its notes are printed. Of the others, the small
    notes that belong to them are heard when the hand passes their strings.

    Attributes:
        number: which harp of the score; *staves*: those of its hands.
        levers: where its levers stand.
    """

    score: Score
    harp: Harp
    instructions: Instructions
    clock: Clock
    number: int
    staves: tuple[StaffHand, ...]
    levers: Timeline

    @cached_property
    def _swept(self) -> list[tuple[Sweep, Passage]]:
        """The glissandi that are swept, those that are left open too."""
        by_start = {s.start: s for s in self.score.sweeps if s.form is not SweepForm.WRITTEN_OUT}
        if not by_start:
            return []
        told = replace(self.instructions, left_open=frozenset())
        found = passages(self.score, self.harp, self.staves, told, self.clock)
        return [(by_start[p.start.id], p) for p in found if p.start.id in by_start]

    @cached_property
    def _starts(self) -> list[Microseconds]:
        return [start for _, _, start in self.clock.passes]

    @cached_property
    def replaced(self) -> frozenset[EventId]:
        """Small notes that are not plucked by themselves."""
        return frozenset(note for sweep, _ in self._swept for note in sweep.notes)

    def sounds(self, loudness: Loudness) -> Iterator[Sound]:
        """Yield each string between the first and the last of each glissando, by playing."""
        for sweep, passage in self._swept:
            start = passage.start
            loud = max(loudness.at(start, start.id.index, start.offset) - LIGHTER, 1)
            small = self._small_notes(sweep)
            for begin, end in passage.times:
                yield from self._strings(passage, (begin, end), loud, small)

    def _small_notes(self, sweep: Sweep) -> dict[int, tuple[EventId, ...]]:
        """The small notes of a glissando by the diatonic place of their string."""
        found: dict[int, tuple[EventId, ...]] = {}
        for note in sweep.notes:
            line = self.score.notes_by_id[note].pitch.line
            found[line] = (*found.get(line, ()), note)
        return found

    def _strings(
        self,
        passage: Passage,
        times: tuple[Microseconds, Microseconds],
        loud: int,
        small: dict[int, tuple[EventId, ...]],
    ) -> Iterator[Sound]:
        begin, end = times
        starts = self._starts
        last = len(passage.strings) - 1
        for place, string in enumerate(passage.strings[1:last], 1):
            if string.name in passage.told.held:
                continue
            time = begin + (end - begin) * place // last
            yield Sound(
                place=bisect_right(starts, time) - 1,
                time=time,
                lit=begin + (end - begin) * (place + 1) // last,
                damped=None,
                midi=self._midi(passage, string, time),
                string=string.name,
                loudness=loud,
                hand=passage.hand,
                staff=passage.start.staff,
                harp=self.number,
                touch=Touch.SWEPT,
                notes=small.get(string.pitch.line, ()),
            )

    def _midi(self, passage: Passage, swept: SweptString, time: Microseconds) -> int:
        """What the string gives as its lever stands; as asked where it is left to the editor."""
        if swept.is_beyond or passage.start.id in self.instructions.left_open:
            return swept.midi
        string = self.harp.strings[swept.string]
        pitch = string.pitch(self.levers.position(swept.string, time))
        return swept.midi if pitch is None else pitch.midi
