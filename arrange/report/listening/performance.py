"""A score as its harps are heard: every string, every lever, in performed time."""

from collections.abc import Iterator
from dataclasses import replace

from arrange.check import HarpInstructions, Instructions, from_page
from arrange.check.timeline import Act, Timeline
from arrange.harp.harp import Harp
from arrange.report.listening.loudness import Loudness
from arrange.report.listening.ringing import endings
from arrange.report.listening.sound import Sound
from arrange.report.listening.spreading import Spreading
from arrange.report.listening.sweeping import Sweeps
from arrange.report.listening.touches import OCTAVE, Touch, Touches
from arrange.score.model import MarkKind, Note, Score, Sign
from arrange.score.performed import Clock
from arrange.score.plucks import Pluck, Strike, plucks, strikes
from arrange.units import Microseconds

UNKNOWN_HARP = Harp("", "", ())
"""Of a score that is for no lever harp: every note has its string."""


class Performance:
    """A score as its harps are heard; other parts are silent.

    Notes that are left to the editor sound as they are written; the strings of a glissando as
    their levers stand.

    Attributes:
        score: with the hands that the player is told.
        harp, instructions: what it is played on and what its player is told.
        clock: performed time.
        levers: each harp's, in performed time.
        sounds: every string, in order of time.
        endings: what stops each of them, None where it rings out by itself.
    """

    def __init__(
        self, score: Score, harp: Harp | None = None, instructions: Instructions | None = None
    ) -> None:
        self.harp = harp or UNKNOWN_HARP
        self.instructions = instructions or _told(score, harp)
        self.score = score
        if self.instructions.reassigned != score.reassigned:
            self.score = replace(score, reassigned=self.instructions.reassigned)
        self.clock = Clock(self.score)
        self._loudness = Loudness(self.score)
        self._touches = Touches(self.score)
        self.levers = tuple(
            Timeline(self.harp, told.initial, told.moves, self.clock)
            for told in self.instructions.harps
        )
        heard = [s for number in range(len(score.harps)) for s in self._of_harp(number)]
        heard.sort(key=lambda s: (s.time, s.harp, s.midi))
        self.sounds: tuple[Sound, ...] = tuple(heard)
        self.endings: list[Microseconds | None] = endings(
            self.sounds,
            ((n, act.instruction.string, act.time) for n, act in self.acts),
            self._silences(),
        )

    @property
    def acts(self) -> Iterator[tuple[int, Act]]:
        """The lever moves that are really made, each with its harp's number."""
        for number, levers in enumerate(self.levers):
            for act in levers.acts:
                yield number, act

    def _of_harp(self, number: int) -> Iterator[Sound]:
        staves = self.score.harps[number]
        sweeps = Sweeps(
            self.score,
            self.harp,
            self.instructions,
            self.clock,
            number,
            staves,
            self.levers[number],
        )
        printed = plucks(self.score, staves)
        struck = [
            strike
            for strike in strikes(printed, self.clock)
            if printed[strike.pluck].note not in sweeps.replaced
        ]
        notes = self.score.notes_by_id
        looks = [self._look(pluck, notes[pluck.note]) for pluck in printed]
        times = Spreading(printed, struck, notes).times()
        for strike, time in zip(struck, times, strict=True):
            loudness, touch = looks[strike.pluck]
            pluck = printed[strike.pluck]
            end = max(strike.end, strike.time)
            yield Sound(
                place=strike.pass_index,
                time=time,
                lit=end,
                damped=_damped(pluck, notes[pluck.note], strike),
                midi=pluck.pitch.midi + (OCTAVE if touch is Touch.HARMONIC else 0),
                string=f"{pluck.pitch.step}{pluck.pitch.octave}",
                loudness=loudness,
                hand=pluck.hand,
                staff=pluck.staff,
                harp=number,
                touch=touch,
                notes=(*pluck.tied, *pluck.doubles),
            )
        yield from sweeps.sounds(self._loudness)

    def _look(self, pluck: Pluck, note: Note) -> tuple[int, Touch]:
        place = (pluck.index, pluck.offset)
        touch = self._touches.of(note, *place, is_damped=_is_short(pluck, note))
        return self._loudness.at(note, *place), touch

    def _silences(self) -> Iterator[tuple[int, Microseconds]]:
        """When all strings of a harp are damped at once."""
        clock = self.clock
        for number, staves in enumerate(self.score.harps):
            for name in dict.fromkeys(staff.part for staff in staves):
                for measure in self.score.by_part[name].measures:
                    for mark in measure.marks:
                        if mark.kind is MarkKind.DAMP_ALL:
                            for place in clock.occurrences(measure.index):
                                yield number, clock.time(place, mark.offset)


def _told(score: Score, harp: Harp | None) -> Instructions:
    """What the page says about the levers; of a score for no lever harp, nothing."""
    if harp is not None:
        return from_page(score, harp)
    nothing = tuple(HarpInstructions({}) for _ in score.harps)
    return Instructions(nothing, reassigned=score.reassigned)


def _is_short(pluck: Pluck, note: Note) -> bool:
    """Whether the hand damps the string: it is asked to, or the note is staccato (published)."""
    return pluck.is_damped or bool(note.notations and note.has(Sign.STACCATO))


def _damped(pluck: Pluck, note: Note, strike: Strike) -> Microseconds | None:
    """When the hand damps the string: at the end, of a staccato note halfway."""
    if note.notations and note.has(Sign.STACCATO):
        return strike.time + max(strike.end - strike.time, 0) // 2
    return strike.end if pluck.is_damped else None
