"""Every pluck of the result in performed order: ties joined, ornaments and sweeps spelled out."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from referee import pitches
from referee.clock import Clock
from referee.sheet import Note, Sheet
from referee.summary import Summary, Sweep
from referee.sweeps import Tones, swept_strings

TRILL = Fraction(1, 4)
"""A trill is taken at four plucks a quarter at least (house judgement: no page says a number)."""
Moment = tuple[Fraction, int, int]
"""Performed quarters, step in the order of play, 0 for a move and 1 for a pluck."""


@dataclass(slots=True)
class Pluck:
    """One pluck.

    Attributes:
        when: its moment; *time*: in seconds; *end*: its written end in seconds.
        string: the string that is plucked; *names*: every pitch that it may have; none: any.
        hands: hands that read it.
        grace: of a grace note; *rolled*: in a rolled chord; *swept*: by a glissando;
            *again*: struck again within a note, by an ornament or a tremolo.
        until: its written end in performed quarters; *last*: the step that it lies in.
        turn: pass of its measure.
    """

    when: Moment
    time: Fraction
    end: Fraction
    until: Fraction
    last: int
    string: str
    names: tuple[str, ...]
    hands: set[str]
    part: str
    index: int
    offset: Fraction
    turn: int
    open: bool = False
    damped: bool = False
    grace: bool = False
    rolled: bool = False
    swept: bool = False
    again: bool = False


class Performance:
    """Plays the result for one harp."""

    def __init__(
        self, result: Sheet, summary: Summary, clock: Clock, harp: frozenset[str]
    ) -> None:
        self.result, self.summary, self.clock = result, summary, clock
        self.parts = [part for part in summary.parts if part in harp]
        self.turns = clock.passes()
        self.ringing: dict[tuple[str, int], list[tuple[str, Pluck]]] = defaultdict(list)
        self.joined: dict[tuple[tuple[str, int], Moment], Pluck] = {}
        self.plucks: list[Pluck] = []
        self.struck: dict[tuple[Fraction, int, bool, str], Pluck] = {}
        self.open: dict[tuple[str, int, int, Fraction], set[str]] = defaultdict(set)
        for point in summary.open:
            place = (point.part, point.index, point.staff, point.offset)
            self.open[place].update(point.pitches)

    def play(self, tones: Tones) -> list[Pluck]:
        """Every pluck, in order."""
        for step, index in enumerate(self.clock.performed):
            for note in self.sounding(index):
                self.play_note(step, note)
        for sweep in self.summary.sweeps:
            if sweep.part in self.parts:
                self.play_sweep(sweep, tones.of(sweep))
        return sorted(self.plucks, key=lambda pluck: (pluck.when, not pluck.grace))

    def sounding(self, index: int) -> list[Note]:
        """The notes that a measure stands for, in order."""
        notes: list[Note] = []
        for part in self.parts:
            measures = self.result.parts[part]
            if index >= len(measures):
                continue
            notes += measures[self.meant(part, index)].notes
        heard = [n if n.index == index else replace(n, index=index) for n in notes]
        heard = [n for n in heard if not n.cue and not n.slash and not self.is_spelling(n)]
        return sorted(heard, key=lambda n: (n.offset, not n.grace))

    def meant(self, part: str, index: int) -> int:
        """The measure whose notes are played at *index*: its own, or those it stands for."""
        measures, seen = self.result.parts[part], {index}
        while (other := measures[index].stands_for) is not None and other not in seen:
            seen.add(other)
            index = other
        return index

    def is_spelling(self, note: Note) -> bool:
        """Small notes under a glissando spell its tones and are not plucked by themselves."""
        if not note.small:
            return False
        place = (note.index, note.offset)
        return any(
            sweep.part == note.part and (sweep.index, sweep.offset) < place < sweep.until
            for sweep in self.summary.sweeps
        )

    def hand_of(self, note: Note) -> set[str]:
        """The hand that takes a note."""
        staff = self.summary.hands.get((note.part, note.staff), "")
        for index in (self.meant(note.part, note.index), note.index):
            place = (note.part, index, note.staff, note.offset, note.pitch)
            staff = self.summary.reassigned.get(place, staff)
        return {staff} if staff else set()

    def is_open(self, note: Note) -> bool:
        """Whether the note is left to the editor."""
        return any(
            note.pitch in self.open.get((note.part, index, note.staff, note.offset), ())
            for index in {note.index, self.meant(note.part, note.index)}
        )

    def pluck(self, step: int, note: Note, offset: Fraction, end: Fraction) -> Pluck:
        """A pluck of a note's string at *offset*, with its written end at *end*."""
        return Pluck(
            when=(self.clock.place(step, offset), step, 1),
            time=self.clock.seconds(step, offset),
            end=self.clock.seconds(step, end),
            until=self.clock.place(step, end),
            last=step,
            string=pitches.string_name(note.pitch),
            names=(note.pitch,),
            hands=self.hand_of(note),
            part=note.part,
            index=note.index,
            offset=offset,
            turn=self.turns[step],
            open=self.is_open(note),
            damped=note.damped,
            grace=note.grace,
            rolled=note.rolled,
        )

    def play_note(self, step: int, note: Note) -> None:
        """A note: a pluck, or more time for the one that it is tied to."""
        pluck = self.pluck(step, note, note.offset, note.offset + note.duration)
        place = (note.part, pitches.semitone(note.pitch))
        before = self.arriving(place, note, pluck)
        together = self.joined.get((place, pluck.when))
        if note.tie_in and together is not None:
            played = together
        elif before is not None:
            before.end, before.until = max(before.end, pluck.end), max(before.until, pluck.until)
            before.last = pluck.when[1]
            before.open = before.open or pluck.open
            before.damped = before.damped or pluck.damped
            played = self.joined[place, pluck.when] = before
        else:
            played = pluck if self.is_arrival(step, note) else self.strike(pluck)
        if note.tie_out:
            self.ringing[place].append((note.voice, played))
        for offset, names in strokes(note):
            stroke = self.pluck(step, note, offset, note.offset + note.duration)
            stroke.string, stroke.names = pitches.string_name(names[0]), names
            stroke.open, stroke.again = played.open, True
            self.plucks.append(stroke)

    def arriving(self, place: tuple[str, int], note: Note, pluck: Pluck) -> Pluck | None:
        """The pluck that a note is tied to; what can lead no further is forgotten.

        Of several, the one that lasts to just here, and of those the one of its own voice.
        """
        ringing = [(v, p) for v, p in self.ringing[place] if p.until >= pluck.when[0]]
        self.ringing[place] = ringing
        able = [(v, p) for v, p in ringing if note.tie_in and self.joins(p, pluck)]
        if not able:
            return None
        best = min(able, key=lambda x: (x[1].until != pluck.when[0], x[0] != note.voice))
        ringing.remove(best)
        return best[1]

    def joins(self, before: Pluck, pluck: Pluck) -> bool:
        """Whether a tie can lead from one to the other: the first began before, not long ago.

        It may last longer than its own note, where another of its pitch was struck with it.
        """
        return before.when[0] < pluck.when[0] and pluck.when[1] - before.last <= 1

    def is_arrival(self, step: int, note: Note) -> bool:
        """A tie that leads into the first note after a jump: that note rings, unplucked."""
        jumps = step > 0 and self.at(step) != self.at(step - 1) + 1
        return jumps and note.tie_in and note.index > 0 and note.offset == 0

    def strike(self, pluck: Pluck) -> Pluck:
        """Add a pluck; equal pitches struck together are one."""
        place = (pluck.when[0], pluck.when[1], pluck.grace, pluck.names[0])
        same = self.struck.get(place)
        if same is None:
            self.struck[place] = pluck
            self.plucks.append(pluck)
            return pluck
        same.hands |= pluck.hands
        same.end, same.until = max(same.end, pluck.end), max(same.until, pluck.until)
        same.open = same.open or pluck.open
        same.damped = same.damped and pluck.damped
        return same

    def play_sweep(self, sweep: Sweep, tones: frozenset[int] | None) -> None:
        """Every string of a glissando, on every pass."""
        strings = swept_strings(sweep, self.summary)
        for step, index in enumerate(self.clock.performed):
            if index != sweep.index or not strings:
                continue
            last, offset = self.clock.until(step, *sweep.until)
            first_place = self.clock.place(step, sweep.offset)
            span = self.clock.place(last, offset) - first_place
            start = self.clock.seconds(step, sweep.offset)
            lasts = self.clock.seconds(last, offset) - start
            for number, string in enumerate(strings):
                if string in sweep.held:
                    continue
                part = Fraction(number, max(len(strings) - 1, 1))
                place, time = first_place + part * span, start + part * lasts
                self.plucks.append(
                    Pluck(
                        (place, step, 1), time, time, place, step, string,
                        self.swept_names(string, sweep, tones), {sweep.hand}, sweep.part,
                        index, sweep.offset, self.turns[step], swept=True,
                    )
                )  # fmt: skip

    def at(self, step: int) -> int:
        """The measure played at a step."""
        return self.clock.performed[step]

    def swept_names(
        self, string: str, sweep: Sweep, tones: frozenset[int] | None
    ) -> tuple[str, ...]:
        """The pitches that a swept string may have; none where anything goes."""
        if tones is None or string in sweep.foreign:
            return ()
        pitches_of = [p for p in self.summary.strings[string] if p is not None]
        fits = [p for p in pitches_of if pitches.semitone(p) % 12 in tones]
        return tuple(fits) or ("?",)


def strokes(note: Note) -> Iterator[tuple[Fraction, tuple[str, ...]]]:
    """Plucks that a note's signs add after the first: (offset, the pitches allowed)."""
    if note.stroke:
        yield from tremolo(note)
    for auxiliary in note.auxiliaries:
        step = min(TRILL, note.duration / 4)
        if not auxiliary.lasting or not step:
            yield note.offset, auxiliary.pitches
            continue
        for count in range(1, int(note.duration / step)):
            names = auxiliary.pitches if count % 2 else (note.pitch,)
            yield note.offset + count * step, names


def tremolo(note: Note) -> Iterator[tuple[Fraction, tuple[str, ...]]]:
    """The strokes of a tremolo; of two notes that alternate, each has every other one."""
    start, step, length = note.offset, note.stroke, note.duration
    if note.partner:
        step, length = 2 * step, 2 * length
    if note.partner == "stop":
        start = start - note.duration + note.stroke
    count = 0 if note.partner == "stop" else 1
    while count * step < length:
        yield start + count * step, (note.pitch,)
        count += 1
