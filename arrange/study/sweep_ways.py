"""What a glissando may become on a lever harp, before it is asked what the levers cost.

The ways and their order are house judgement after what players do: levers set for the tones,
a few foreign strings in a fast sweep, strings damped by the other hand in a slow one, a scale
that is fingered, a rolled chord.
"""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from itertools import combinations

from arrange.changes import Fidelity
from arrange.edits import WriteRun
from arrange.harp.harp import Harp, Position
from arrange.pitch import Pitch
from arrange.score.model import HandName, Note, Score, Sweep, SweepForm
from arrange.score.swept import tone_classes
from arrange.study.damping import DAMPED_PACE, Damping
from arrange.study.fingered_scale import FingeredScales
from arrange.study.glissandi import pace, position_of, sweep_times
from arrange.study.glissando_sets import Setting, harp_letters, nearest_setting, pitch_class
from arrange.study.keysignature import alteration
from arrange.study.planning import (
    Ground,
)
from arrange.study.sweep_course import Course, courses
from arrange.study.terms import Terms

FAST, VERY_FAST = 12, 20
"""From so many strings a second on, one foreign string an octave passes unheard; above the
second number, two (house judgement)."""
GUARDED = 3
"""So many strings at either end are never foreign (house judgement)."""
FEW = 3
"""Of so few letters that differ from the key, any two are tried as well; of more only one."""
DAMPED_STRINGS, HELD_STRINGS, HELD_SPAN = 10, 2, 8
"""Strings are damped in sweeps so short, so many of them, so near (from memory)."""

LEFT_OUT = 4
"""A glissando left out is so much worse than one written out (house judgement)."""


class WayKind(StrEnum):
    """What becomes of a glissando."""

    LEVERS = "levers"
    OTHER_TONES = "other tones"
    DAMPED = "damped"
    WRITTEN = "written out"
    ROLLED = "rolled"


@dataclass(frozen=True, slots=True)
class Way:
    """One way to play a glissando.

    Attributes:
        course: over which strings.
        tones: what every letter sounds.
        demands: what must stand for it.
        foreign: strings that sound outside the tones wanted; *held*: strings that are damped.
        price: without the levers.
        run: the scale that takes its place.
    """

    kind: WayKind
    course: Course
    tones: Setting
    demands: tuple[tuple[int, Position], ...]
    fidelity: Fidelity
    price: int
    foreign: tuple[int, ...] = ()
    held: tuple[int, ...] = ()
    run: WriteRun | None = None

    @property
    def key(self) -> str:
        """What it is called in files: its kind, and a hash of the strings and what they sound."""
        row = () if self.run is None else tuple(str(value.pitch) for value in self.run.after)
        content = repr((self.course.strings, self.tones, self.foreign, self.held, row)).encode()
        kind = self.kind.value.replace(" ", "-")
        return f"{kind}-{hashlib.sha256(content).hexdigest()[:6]}"


@dataclass(frozen=True, slots=True)
class Asked:
    """A glissando and what is asked of it.

    Attributes:
        hand: that sweeps; *strings_per_s*: in its fastest playing.
        times: of each playing, begin and end.
        target: pitch classes that it should sound; *key*: the key signature's tones.
    """

    sweep: Sweep
    start: Note
    hand: HandName
    times: tuple[tuple[int, int], ...]
    strings_per_s: Fraction
    target: frozenset[int]
    key: Setting


class SweepWays:
    """Finds the ways to play the glissandi of one harp."""

    def __init__(self, score: Score, basis: Ground, terms: Terms) -> None:
        self._score = score
        self._basis = basis
        self._harp = terms.harp
        self._prices = terms.prices
        self._scales = FingeredScales(score, basis, terms.player.grip)

    def asked(self, sweep: Sweep, start: Note, hand: HandName) -> Asked:
        """What is asked of a glissando, as it is written."""
        end = start if sweep.end is None else self._score.notes_by_id[sweep.end]
        times = sweep_times(sweep, start, self._basis.clock)
        count = abs(end.pitch.line - start.pitch.line) + 1
        measure = self._score.measure(start.id.part, start.id.index)
        fifths = measure.fifths[0] + measure.transposition.fifths
        key = tuple((letter, alteration(letter, fifths)) for letter, _ in sweep.tones)
        target = tone_classes(sweep)
        return Asked(sweep, start, hand, times, pace(count, times), target, key)

    def ways(self, asked: Asked) -> tuple[Way, ...]:
        """Every way, in the order in which they are thought of; no two ask the same."""
        found: dict[tuple[object, ...], Way] = {}
        for course in courses(asked.sweep, self._score, self._harp, self._prices):
            for way in self._ways(asked, course):
                found.setdefault((way.kind, way.demands, way.held, course.strings, way.run), way)
        return tuple(found.values())

    def _ways(self, asked: Asked, course: Course) -> Iterator[Way]:
        letters = _letters(self._harp, course)
        swept = {self._harp.strings[s].letter for s in course.inner}
        nearest = nearest_setting(asked.target, letters, asked.sweep.tones)
        wrong = tuple(letter for letter in nearest.wrong if letter in swept)
        is_split = course.start_octaves != course.end_octaves
        if is_split and asked.sweep.form is SweepForm.WRITTEN_OUT:
            yield from self._written(asked, course, nearest.setting, wrong)
            return
        if not wrong:
            by_key = nearest_setting(asked.target, letters, asked.key)
            for setting in (nearest.setting, by_key.setting):
                yield from self._plain(asked, course, setting)
        yield from self._near(asked, course, nearest.setting, wrong)
        yield from self._written(asked, course, nearest.setting, wrong)
        yield self._rolled(course, nearest.setting)

    def _plain(self, asked: Asked, course: Course, setting: Setting) -> Iterator[Way]:
        """Levers set so that every string sounds inside the tones."""
        demands = self._demands(course, setting, ())
        if demands is None:
            return
        inner = {self._harp.strings[s].letter for s in course.inner}
        sound = {pitch_class(*pair) for pair in setting if pair[0] in inner}
        wished = {pitch_class(*pair) for pair in asked.sweep.tones if pair[0] in inner}
        is_same = sound == wished and course.is_as_written
        fidelity = Fidelity.EXACT if is_same else Fidelity.IDIOMATIC
        yield Way(WayKind.LEVERS, course, setting, demands, fidelity, course.price)

    def _near(
        self, asked: Asked, course: Course, setting: Setting, wrong: tuple[str, ...]
    ) -> Iterator[Way]:
        """A few strings foreign, or damped: those that cannot, or one or two to spare levers."""
        key, tones = dict(asked.key), dict(setting)
        inner = {self._harp.strings[s].letter for s in course.inner}
        spare = [
            letter
            for letter in tones
            if letter in inner and letter not in wrong and key[letter] != tones[letter]
        ]
        most = 2 if len(spare) <= FEW else 1
        for count in range(most + 1):
            for spared in combinations(spare, count):
                odd = (*wrong, *spared)
                if not odd or len(odd) > HELD_STRINGS:
                    continue
                yield from self._foreign(asked, course, setting, odd)
                yield from self._damped(asked, course, setting, odd)

    def _foreign(
        self, asked: Asked, course: Course, setting: Setting, odd: tuple[str, ...]
    ) -> Iterator[Way]:
        speed = pace(len(course.strings), asked.times)
        if len(odd) > (2 if speed > VERY_FAST else 1 if speed >= FAST else 0):
            return
        key = dict(asked.key)
        row = tuple(
            (x, key[x] if x in odd and self._has(course, x, key[x]) else alter)
            for x, alter in setting
        )
        foreign = tuple(s for s in course.inner if self._class(s, dict(row)) not in asked.target)
        guarded = (*course.strings[:GUARDED], *course.strings[-GUARDED:])
        demands = self._demands(course, row, ())
        if demands is None or set(foreign) & set(guarded):
            return
        price = course.price + self._prices.sweep_foreign * max(len(foreign), 1)
        yield Way(
            WayKind.OTHER_TONES, course, row, demands, Fidelity.LOSSY, price, foreign=foreign
        )

    def _damped(
        self, asked: Asked, course: Course, setting: Setting, odd: tuple[str, ...]
    ) -> Iterator[Way]:
        held = tuple(sorted(s for s in course.inner if self._harp.strings[s].letter in odd))
        if (
            len(held) > HELD_STRINGS
            or held[-1] - held[0] >= HELD_SPAN
            or len(course.strings) > DAMPED_STRINGS
            or pace(len(course.strings), asked.times) > DAMPED_PACE
            or not self._is_free_to_damp(asked, held)
        ):
            return
        demands = self._demands(course, setting, held)
        if demands is not None:
            price = course.price + self._prices.sweep_foreign * (len(held) + 1)
            fidelity = Fidelity.IDIOMATIC
            yield Way(WayKind.DAMPED, course, setting, demands, fidelity, price, held=held)

    def _is_free_to_damp(self, asked: Asked, held: tuple[int, ...]) -> bool:
        """The other hand plucks nothing meanwhile, and nothing sounds on the strings."""
        damping = Damping(self._harp, asked.hand, held, asked.times)
        return damping.is_left_in_peace(self._basis.plucks, self._basis.strikes)

    def _written(
        self, asked: Asked, course: Course, setting: Setting, wrong: tuple[str, ...]
    ) -> Iterator[Way]:
        """A scale or broken chord in the same time, on the strings that are right.

        On all of them, or on those only that stand right in the key.
        """
        tones, key = dict(setting), dict(asked.key)
        row: dict[int, Pitch] = {}
        for string in course.inner:
            letter = self._harp.strings[string].letter
            pitch = Pitch(letter, tones[letter], self._harp.strings[string].octave)
            if letter in wrong or position_of(self._harp, string, pitch) is None:
                continue
            if pitch.midi not in row or key[letter] == pitch.alter:
                row[pitch.midi] = pitch
        first, last = (self._pitch(h.string, h.position) for h in (course.first, course.last))
        inner = [p for midi, p in row.items() if midi not in {first.midi, last.midi}]
        standing = [p for p in inner if key[p.step] == p.alter]
        for pitches in dict.fromkeys((tuple(inner), tuple(standing))):
            run = self._scales.run(asked.sweep, [first, *pitches])
            if run is not None:
                lost = asked.target - {value.pitch.pitch_class for value in run.after}
                price = course.price + self._prices.sweep_rewritten
                price += self._prices.doubling * len(lost)
                fidelity = Fidelity.IDIOMATIC
                yield Way(WayKind.WRITTEN, course, setting, (), fidelity, price, run=run)

    def _rolled(self, course: Course, setting: Setting) -> Way:
        price = course.price + LEFT_OUT * self._prices.sweep_rewritten
        return Way(WayKind.ROLLED, course, setting, (), Fidelity.LOSSY, price)

    def _pitch(self, number: int, position: Position) -> Pitch:
        string = self._harp.strings[number]
        return string.pitch(position) or string.open

    def _class(self, string: int, tones: dict[str, int]) -> int:
        letter = self._harp.strings[string].letter
        return pitch_class(letter, tones[letter])

    def _has(self, course: Course, letter: str, alter: int) -> bool:
        """Whether every swept string of a letter can be set to *alter*."""
        own = [self._harp.strings[s] for s in course.inner]
        return all(
            any(p is not None and p.alter == alter for p in (s.open, s.raised))
            for s in own
            if s.letter == letter
        )

    def _demands(
        self, course: Course, setting: Setting, spared: tuple[int, ...]
    ) -> tuple[tuple[int, Position], ...] | None:
        """What must stand; None where a string cannot sound what its letter should."""
        tones = dict(setting)
        asked = {home.string: home.position for home in (course.first, course.last)}
        for string in course.inner:
            if string in spared:
                continue
            own = self._harp.strings[string]
            pitch = Pitch(own.letter, tones[own.letter], own.octave)
            position = position_of(self._harp, string, pitch)
            if position is None:
                return None
            asked[string] = position
        return tuple(sorted(asked.items()))


def _letters(harp: Harp, course: Course) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """What each letter can be: on the swept strings, or where none is swept on any."""
    swept = dict(harp_letters(harp.strings[s] for s in course.inner))
    every = dict(harp_letters(harp.strings))
    any_string = {s.letter: (s.open.alter,) for s in harp.strings}
    return tuple(
        (letter, swept.get(letter) or every.get(letter) or any_string[letter]) for letter in every
    )
