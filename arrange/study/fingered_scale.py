"""A scale or broken chord that takes a glissando's place, written out in its time."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from arrange.edits import NoteValue, WriteRun
from arrange.hands.player import Grip
from arrange.hands.sharing import holds
from arrange.pitch import Pitch
from arrange.score.model import EventId, HandName, Note, Score, Sweep
from arrange.score.plucks import Pluck, PluckKind
from arrange.study.planning import Ground
from arrange.units import SECOND, Quarters

MOST_A_SECOND = 10
"""Notes a second that two hands finger in turn (from memory)."""
FEWEST = 4
"""Fewer notes are no run (house judgement)."""
TRIPLET = (3, 2)
UNITS = tuple(Quarters(1, n) for n in (1, 2, 3, 4, 6, 8))
"""Note lengths, longest first: quarters, eighths, triplets, sixteenths, thirty-seconds."""


@dataclass(frozen=True, slots=True)
class _Grid:
    """How a run fills its time: *count* notes of *unit*, the first as much longer as is left."""

    unit: Quarters
    count: int

    @property
    def is_triplet(self) -> bool:
        return self.unit.denominator % 3 == 0


class FingeredScales:
    """Writes runs for the glissandi of one harp."""

    def __init__(self, score: Score, basis: Ground, grip: Grip) -> None:
        self._score = score
        self._clock = basis.clock
        self._grip = grip
        self._plucks: dict[EventId, Pluck] = {}
        self._struck: dict[tuple[int, Quarters, HandName], list[Pluck]] = {}
        for pluck in basis.plucks:
            if pluck.kind is PluckKind.PLAIN:
                self._plucks[pluck.note] = pluck
                place = (pluck.index, pluck.offset, pluck.hand)
                self._struck.setdefault(place, []).append(pluck)

    def run(self, sweep: Sweep, pitches: Sequence[Pitch]) -> WriteRun | None:
        """Return a run over *pitches*, start first, end not among them; None where none fits.

        None fits without time for it, or where the hand cannot hold it with what it plucks
        beside it.

        It takes the time of the start note and of what is written out of the glissando, so that
        the end keeps its beat. Where there are more pitches than time, some are passed over.
        """
        replaced = self._replaced(sweep)
        if not replaced:
            return None
        length = sum((note.duration for note in replaced), Quarters(0))
        grid = self._grid(replaced[0], length, len(pitches))
        if grid is None:
            return None
        chosen = _thinned(pitches, grid.count)
        first = length - grid.unit * (grid.count - 1)
        after = []
        offset = Quarters(0)
        for place, pitch in enumerate(chosen):
            duration = grid.unit if place else first
            after.append(self._value(replaced[0], offset, duration, pitch))
            offset += duration
        if not all(self._is_held(value, replaced) for value in after):
            return None
        before = tuple(NoteValue.of(note) for note in replaced)
        tuplet = TRIPLET if grid.is_triplet else None
        return WriteRun(replaced[0].id, before, tuple(after), tuplet)

    def _is_held(self, value: NoteValue, replaced: list[Note]) -> bool:
        """Whether the hand holds a note of the run with what else it strikes then."""
        first = self._plucks.get(replaced[0].id)
        if first is None:
            return True
        gone = {note.id for note in replaced}
        beside = self._struck.get((value.index, value.offset, first.hand), ())
        lines = [pluck.pitch.line for pluck in beside if pluck.note not in gone]
        return holds([value.pitch.line, *lines], self._grip, rolled=False)

    def _replaced(self, sweep: Sweep) -> list[Note]:
        """The start, what it is tied to, and the notes written out; none where they do not follow
        each other alone in one voice.
        """
        known = self._score.notes_by_id
        first_pluck = self._plucks.get(sweep.start)
        row = [known[i] for i in (first_pluck.tied if first_pluck else (sweep.start,))]
        row += [n for i in sweep.notes if not (n := known[i]).is_grace and n.voice == row[0].voice]
        row.sort(key=lambda note: (note.id.index, note.offset))
        first = row[0]
        place = (first.id.index, first.offset)
        for note in row:
            alone = sum(n.chord == note.chord for n in self._beside(note)) == 1
            same = (note.id.part, note.voice) == (first.id.part, first.voice)
            if note.is_grace or not alone or not same or place != (note.id.index, note.offset):
                return []
            place = self._after(note.id.part, place, note.duration)
        return row if first.id == sweep.start else []

    def _beside(self, note: Note) -> tuple[Note, ...]:
        return self._score.measure(note.id.part, note.id.index).notes

    def _after(
        self, part: str, place: tuple[int, Quarters], length: Quarters
    ) -> tuple[int, Quarters]:
        index, offset = place[0], place[1] + length
        measures = self._score.by_part[part].measures
        while index + 1 < len(measures) and offset >= measures[index].length:
            offset -= measures[index].length
            index += 1
        return index, offset

    def _grid(self, start: Note, length: Quarters, count: int) -> _Grid | None:
        """Even and slow if there is time; else from a longer first note on; else fewer notes."""
        quickest = self._quickest(start)
        units = [u for u in UNITS if u >= quickest and (length / u).denominator == 1]
        even = [u for u in units if length == u * count and (u.denominator % 3 or count % 3 == 0)]
        if even and count >= FEWEST:
            return _Grid(even[0], count)
        binary = [u for u in units if u.denominator % 3]
        roomy = [u for u in binary if length >= u * count]
        if roomy and count >= FEWEST:
            return _Grid(roomy[0], count)
        if not binary or int(length / binary[-1]) < FEWEST or count < FEWEST:
            return None
        return _Grid(binary[-1], int(length / binary[-1]))

    def _quickest(self, start: Note) -> Quarters:
        """The shortest note that hands can finger there, in quarters."""
        measure = self._score.measure(start.id.part, start.id.index)
        until = min(start.offset + start.duration, measure.length)
        span = until - start.offset
        if span <= 0:
            return Quarters(10)
        times = [
            self._clock.time(place, until) - self._clock.time(place, start.offset)
            for place in self._clock.occurrences(start.id.index)
        ]
        shortest = min((time for time in times if time > 0), default=SECOND)
        return span * Fraction(SECOND, MOST_A_SECOND * shortest)

    def _value(self, start: Note, offset: Quarters, duration: Quarters, pitch: Pitch) -> NoteValue:
        place = self._after(start.id.part, (start.id.index, start.offset), offset)
        return NoteValue(
            index=place[0],
            offset=place[1],
            staff=start.staff,
            voice=start.voice,
            duration=duration,
            is_grace=False,
            pitch=pitch,
        )


def _thinned(pitches: Sequence[Pitch], count: int) -> list[Pitch]:
    """So many of the pitches, spread about evenly, as many different tones as can be.

    The first and the last are among them.
    """
    if count >= len(pitches):
        return list(pitches)
    last = len(pitches) - 1
    chosen = [0]
    heard = {pitches[0].pitch_class, pitches[last].pitch_class}
    for place in range(1, count - 1):
        even = max(place * last // (count - 1), chosen[-1] + 1)
        room = range(chosen[-1] + 1, last - (count - 2 - place))
        near = [i for i in (even, even + 1, even - 1) if i in room]
        best = next((i for i in near if pitches[i].pitch_class not in heard), near[0])
        chosen.append(best)
        heard.add(pitches[best].pitch_class)
    return [pitches[i] for i in (*chosen, last)]
