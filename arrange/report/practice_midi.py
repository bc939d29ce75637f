"""Practice sound: a score as a Standard MIDI File, a hand at a time, slow to full tempo."""

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from fractions import Fraction
from io import BytesIO
from math import lcm
from operator import itemgetter
from typing import Literal

from mido import Message, MetaMessage, MidiFile, MidiTrack

from arrange.check import Instructions
from arrange.errors import BadInput
from arrange.harp.harp import Harp
from arrange.harp.wording import note_in_words
from arrange.report.listening.pace import Pace, measure_lengths, paces
from arrange.report.listening.performance import Performance
from arrange.report.listening.ringing import ring
from arrange.report.listening.sound import Sound
from arrange.score.model import HandName, MarkKind, Measure, Meter, Score
from arrange.units import SECOND, Microseconds, Quarters

PACES = (Fraction(3, 5), Fraction(4, 5), Fraction(1))
"""Parts of the tempo to practise at (house judgement)."""
QUARTER = 960
"""Ticks in a quarter: whole for thirty-seconds, triplets, quintuplets (common practice)."""
HARP_PROGRAM = 46
"""Orchestral harp, counted from 0 (General MIDI 1)."""
CHANNELS = {HandName.RIGHT: 0, HandName.LEFT: 1}
CLICKS = 9
"""The channel of percussion, counted from 0 (General MIDI 1)."""
FIRST_CLICK, NEXT_CLICK = 76, 77
"""High and low wood block (General MIDI 1)."""
CLICK_LOUDNESS, CLICK_TICKS = 90, QUARTER // 8
SLOWEST_CLICK: Microseconds = SECOND
"""A beat of three parts that is slower is counted in its parts (house judgement)."""
SLOWEST_TEMPO = 0xFFFFFF
"""Most microseconds a quarter that a file can say (MIDI 1.0)."""
_MAJOR = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")
_MINOR = ("Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#", "D#", "A#")

HandChoice = Literal["both", "right", "left"]
_Timed = tuple[int, int, Message | MetaMessage]
"""Tick, order at one tick, message; its own time is set when its track is written."""


def practice_midi(
    score: Score,
    hand: HandChoice = "both",
    pace: Fraction = Fraction(1),
    harp: Harp | None = None,
    instructions: Instructions | None = None,
) -> bytes:
    """Return a Standard MIDI File (format 1) of a score as it is performed.

    A measure is counted in first; repeats are played; strings are held as long as they ring.
    Rehearsal marks are markers, lever moves cue points. Times are whole ticks, rounded once.

    Args:
        score: its harps are heard, other parts are not.
        hand: which hand's notes.
        pace: part of the tempo, above 0.
        harp: the lever harp, for the cue points.
        instructions: what its player is told; None: what the page of the score says.

    Raises:
        BadInput: *pace* is not above 0.
    """
    if pace <= 0:
        raise BadInput(f"a pace of {pace} does not move; give a part of the tempo, such as 3/5")
    return _Practice(Performance(score, harp, instructions), pace).file(hand)


class _Practice:
    """One performance on its way into a file."""

    def __init__(self, performance: Performance, pace: Fraction) -> None:
        self._performance = performance
        self._score = performance.score
        self._pace = pace
        self._paces = paces(performance.score, performance.clock)
        self._lengths = measure_lengths(performance.score)
        self._counted = self._counted_in()
        self._lines = [self._line(one) for one in self._paces]
        self._starts = self._place_starts()

    def file(self, hand: HandChoice) -> bytes:
        hands = [name for name in CHANNELS if hand in ("both", name.value)]
        tracks = [
            _track(self._score.title, self._conducted()),
            *(_track(f"{name.value.capitalize()} hand", self._played(name)) for name in hands),
            _track("Count-in", self._clicks()),
        ]
        out = BytesIO()
        midi = MidiFile(type=1, ticks_per_beat=QUARTER, charset="utf-8")
        midi.tracks.extend(tracks)
        midi.save(file=out)
        return out.getvalue()

    def _measure(self, index: int) -> Measure:
        """The measure that meter and key are taken from: the first harp's."""
        return self._score.by_part[self._score.harp_parts[0]].measures[index]

    def _counted_in(self) -> Quarters:
        """A measure; before an upbeat also what the upbeat lacks."""
        passes = self._performance.clock.passes
        if not passes:
            return Quarters(0)
        first = self._measure(passes[0][0])
        lacking = first.meter.length - self._lengths[first.index]
        return first.meter.length + max(lacking, Quarters(0))

    def _place_starts(self) -> list[int]:
        now = self._counted
        found = []
        for index, _, _ in self._performance.clock.passes:
            found.append(round(now * QUARTER))
            now += self._lengths[index]
        return found

    def _line(self, one: Pace) -> tuple[Microseconds, int, int, int]:
        """From a time on: tick = (base + slope * time) / divisor, in whole numbers."""
        slope = one.quarters_per_minute * QUARTER / (60 * SECOND)
        base = (self._counted + one.quarters) * QUARTER - one.time * slope
        divisor = lcm(base.denominator, slope.denominator)
        return one.time, int(base * divisor), int(slope * divisor), divisor

    def _tick(self, time: Microseconds) -> int:
        """The tick of a performed time, to the nearest."""
        number = bisect_right(self._lines, time, key=itemgetter(0)) - 1
        _, base, slope, divisor = self._lines[max(number, 0)]
        return max((2 * (base + slope * time) + divisor) // (2 * divisor), 0)

    def _conducted(self) -> Iterator[_Timed]:
        yield from self._tempi()
        meter, key = None, None
        for place, (index, _, _) in enumerate(self._performance.clock.passes):
            measure = self._measure(index)
            tick = self._starts[place] if place else 0
            if measure.meter != meter and _can_be_said(measure.meter):
                meter = measure.meter
                yield (
                    tick,
                    0,
                    MetaMessage(
                        "time_signature",
                        numerator=meter.beats,
                        denominator=meter.beat_type,
                        clocks_per_click=int(24 * meter.beat),
                    ),
                )
            if (measure.fifths[0], measure.mode) != key and abs(measure.fifths[0]) <= 7:
                key = (measure.fifths[0], measure.mode)
                yield tick, 1, MetaMessage("key_signature", key=_key(*key))
        yield from self._markers()
        yield from self._cue_points()

    def _tempi(self) -> Iterator[_Timed]:
        for number, one in enumerate(self._paces):
            quarter = Fraction(60 * SECOND) / (one.quarters_per_minute * self._pace)
            message = MetaMessage("set_tempo", tempo=min(round(quarter), SLOWEST_TEMPO))
            yield self._tick_of(one) if number else 0, 2, message

    def _tick_of(self, one: Pace) -> int:
        return round((self._counted + one.quarters) * QUARTER)

    def _markers(self) -> Iterator[_Timed]:
        clock = self._performance.clock
        marks = {
            (mark.id.index, mark.offset, mark.text): None
            for part in self._score.parts
            for measure in part.measures
            for mark in measure.marks
            if mark.kind is MarkKind.REHEARSAL
        }
        for index, offset, text in marks:
            for place in clock.occurrences(index):
                yield self._tick(clock.time(place, offset)), 3, MetaMessage("marker", text=text)

    def _cue_points(self) -> Iterator[_Timed]:
        for _, act in self._performance.acts:
            string = self._performance.harp.strings[act.string]
            pitch = string.pitch(act.instruction.position)
            if pitch is not None:
                words = f"{note_in_words(pitch)}, {act.instruction.hand.value} hand"
                yield self._tick(act.time), 4, MetaMessage("cue_marker", text=f"Lever: {words}")

    def _played(self, hand: HandName) -> Iterator[_Timed]:
        channel = CHANNELS[hand]
        yield 0, 0, Message("program_change", channel=channel, program=HARP_PROGRAM)
        for start, end, midi, loudness in self._held(hand):
            yield start, 1, _sounded(channel, midi, loudness)
            yield end, 0, _sounded(channel, midi)

    def _held(self, hand: HandName) -> Iterator[tuple[int, int, int, int]]:
        """Start, end, key number and loudness; on one key one after the other."""
        keys: dict[int, dict[int, tuple[int, int]]] = {}
        performance = self._performance
        for sound, ending in zip(performance.sounds, performance.endings, strict=True):
            if sound.hand is hand and 0 <= sound.midi <= 127:
                start = self._tick(sound.time)
                end = self._tick(self._silent(sound, ending))
                row = keys.setdefault(sound.midi, {})
                other_end, loudness = row.get(start, (0, 0))
                row[start] = (max(end, other_end), max(sound.loudness, loudness))
        for midi, row in keys.items():
            starts = [*row, None]
            for (start, (end, loudness)), following in zip(row.items(), starts[1:], strict=True):
                latest = end if following is None else min(end, following)
                yield start, max(latest, start + 1), midi, loudness

    def _silent(self, sound: Sound, ending: Microseconds | None) -> Microseconds:
        """When a string is silent; it rings as long as ever, however slow the pace."""
        rung = sound.time + round(ring(sound.midi) * self._pace)
        return rung if ending is None else min(rung, ending)

    def _clicks(self) -> Iterator[_Timed]:
        passes = self._performance.clock.passes
        if not passes:
            return
        meter = self._measure(passes[0][0]).meter
        beat = click(meter, Fraction(60 * SECOND) / self._paces[0].quarters_per_minute)
        measure = meter.length
        at = Quarters(0)
        while at < self._counted:
            tick = round(at * QUARTER)
            note = FIRST_CLICK if at % measure == 0 else NEXT_CLICK
            yield tick, 1, _sounded(CLICKS, note, CLICK_LOUDNESS)
            yield tick + CLICK_TICKS, 0, _sounded(CLICKS, note)
            at += beat


def click(meter: Meter, quarter: Fraction) -> Quarters:
    """What is counted before the music: the beat, or the parts of a slow one of three parts.

    Args:
        meter: of the first measure.
        quarter: how long one lasts at tempo, in microseconds.
    """
    part = Quarters(4, meter.beat_type)
    return part if meter.beat > part and meter.beat * quarter > SLOWEST_CLICK else meter.beat


def _can_be_said(meter: Meter) -> bool:
    """Whether a file can say the meter: its lower number is a power of two (MIDI 1.0)."""
    lower = meter.beat_type
    return not meter.is_free and lower & (lower - 1) == 0 and 1 <= 24 * meter.beat <= 255


def _sounded(channel: int, note: int, loudness: int = 0) -> Message:
    """A key struck, or let go; what it says is known to be in range."""
    kind = "note_on" if loudness else "note_off"
    return Message(kind, skip_checks=True, channel=channel, note=note, velocity=loudness)


def _key(fifths: int, mode: str) -> str:
    names = _MINOR if mode == "minor" else _MAJOR
    return names[fifths + 7] + ("m" if mode == "minor" else "")


def _track(name: str, timed: Iterable[_Timed]) -> MidiTrack:
    """The messages in order, each with the ticks since the one before."""
    track = MidiTrack([MetaMessage("track_name", name=name)])
    now = 0
    for tick, _, message in sorted(timed, key=lambda row: row[:2]):
        message.time = tick - now
        track.append(message)
        now = tick
    track.append(MetaMessage("end_of_track"))
    return track
