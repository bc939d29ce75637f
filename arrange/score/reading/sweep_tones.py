"""What the strings of a glissando should sound: from pedals, a written octave, or the key.

What governs (common practice): the pedals as the marks set them; else the octave that is
written out; else the key signature and the accidentals so far in the measure. A pedal mark holds
until a later mark, until the notes played on that letter say otherwise, or until the key
signature changes that letter, for players' copies seldom carry every mark.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

from arrange.pitch import LETTERS
from arrange.score.model import Mark, Measure, Note, PedalSetting
from arrange.score.reading.harp_notes import HarpNotes, Placed
from arrange.score.reading.inherited import alters_of
from arrange.score.reading.pedals import PedalState
from arrange.score.sweep_words import sweep_words
from arrange.units import Quarters

OCTAVE_LETTERS = 5
"""A written octave names at least so many letters; fewer are an upbeat (house judgement)."""


@dataclass(frozen=True, slots=True)
class Tones:
    """Letter to alteration for all seven letters, and where they come from.

    Attributes:
        contradicted: letters whose last pedal mark the notes or the key have overruled.
    """

    letters: tuple[tuple[str, int], ...]
    from_pedals: bool
    from_octave: bool
    contradicted: tuple[str, ...] = ()


@lru_cache(maxsize=64)
def key_setting(fifths: int) -> tuple[tuple[str, int], ...]:
    """Letter to alteration in a key signature."""
    return tuple(zip(LETTERS, alters_of(fifths), strict=True))


class PedalsInForce:
    """Follows the pedals of one harp from its marks, notes and key signatures."""

    def __init__(self, harp: HarpNotes) -> None:
        self._harp = harp
        self._state = PedalState.of_marks(harp.marks())
        self._now: PedalSetting = {}
        self._overruled: dict[str, None] = {}
        self._steps = iter(self._changes())
        self._ahead = next(self._steps, None)

    def at(self, index: int, offset: Quarters) -> tuple[PedalSetting, tuple[str, ...]]:
        """What stands just before a place, and which letters overrule their mark.

        Places must be asked for in score order.
        """
        while self._ahead is not None and self._ahead[0] < (index, offset, 2):
            (_, _, kind), setting = self._ahead
            self._take(setting, is_mark=kind == 1)
            self._ahead = next(self._steps, None)
        return dict(self._now), tuple(self._overruled)

    def _take(self, setting: PedalSetting, *, is_mark: bool) -> None:
        for letter, alter in setting.items():
            if is_mark:
                self._now[letter] = alter
                self._overruled.pop(letter, None)
            elif self._now.get(letter, alter) != alter:
                self._now[letter] = alter
                self._overruled[letter] = None

    def _changes(self) -> Iterator[tuple[tuple[int, Quarters, int], PedalSetting]]:
        """Key changes, notes (0) and marks (1) in order; a mark rules the notes at its place.

        A note at the place of a sweep's start is no evidence against the mark there.
        """
        if not self._state.places:
            return
        marks: dict[int, list[Mark]] = {}
        for mark in self._harp.marks():
            if mark.pedals:
                marks.setdefault(mark.id.index, []).append(mark)
        fifths: int | None = None
        for index in range(self._harp.count):
            here = _fifths(self._harp, index)
            if fifths is not None and here != fifths:
                yield (index, Quarters(0), 0), _changed(fifths, here)
            fifths = here
            if index not in marks and not self._is_overruled(index):
                continue
            steps = [
                ((index, p.offset, 0), {p.note.pitch.step: p.note.pitch.alter})
                for p in self._harp.placed(index)
                if not p.note.is_cue
            ]
            steps += [((index, m.offset, 1), dict(m.pedals)) for m in marks.get(index, [])]
            yield from sorted(steps, key=lambda step: step[0])

    def _is_overruled(self, index: int) -> bool:
        """Whether a note of a measure sounds otherwise than the pedals stand before it."""
        now = self._now
        return any(
            now.get(note.pitch.step, note.pitch.alter) != note.pitch.alter
            for measure in self._harp.measures(index)
            for note in measure.notes
        )


def _changed(before: int, after: int) -> PedalSetting:
    """The letters that a key change alters."""
    old = dict(key_setting(before))
    return {letter: alter for letter, alter in key_setting(after) if old[letter] != alter}


def _fifths(harp: HarpNotes, index: int) -> int:
    """The key signature of the harp's first staff there, sounding."""
    measure: Measure | None = next(harp.measures(index), None)
    if measure is None or not measure.fifths:
        return 0
    return measure.fifths[0] + measure.transposition.fifths


def named_tones(harp: HarpNotes, start: Placed) -> Tones | None:
    """What the toolkit's own mark at a sweep's start names; None where there is none."""
    measure = next(m for m in harp.measures(start.at) if m.part == start.note.id.part)
    named = dict(sweep_words(measure.marks, start.note).tones)
    if len(named) < len(LETTERS):
        return None
    letters = tuple((letter, named[letter]) for letter in LETTERS)
    return Tones(letters, from_pedals=False, from_octave=False)


def tones_of(
    harp: HarpNotes,
    start: Placed,
    end: Note | None,
    run: Iterable[Note],
    pedals: tuple[PedalSetting, tuple[str, ...]],
) -> Tones:
    """Return what a sweep from *start* to *end* should sound.

    Args:
        harp: its notes.
        start: the note that it leaves; *end*: the note that it reaches.
        end: the note that it reaches, or None.
        run: its written notes.
        pedals: what the pedals stand at, and the letters whose mark has been overruled.
    """
    setting, overruled = pedals
    spelled = {note.pitch.step: note.pitch.alter for note in run}
    key = dict(key_setting(_fifths(harp, start.at)))
    is_octave = len(spelled) >= OCTAVE_LETTERS
    # The weakest evidence first; what comes later in this chain rules.
    tones = dict(key)
    if end is not None:
        tones[end.pitch.step] = end.pitch.alter
    for placed in harp.placed(start.at):
        if placed[:5] <= start[:5] and not placed.note.is_cue:
            tones[placed.note.pitch.step] = placed.note.pitch.alter
    tones[start.note.pitch.step] = start.note.pitch.alter
    tones |= spelled
    tones |= setting
    contradicted = {*overruled} | {
        letter for letter, alter in spelled.items() if setting.get(letter, alter) != alter
    }
    return Tones(
        tuple((letter, tones[letter]) for letter in LETTERS),
        from_pedals=bool(setting),
        from_octave=is_octave and not setting,
        contradicted=tuple(letter for letter in LETTERS if letter in contradicted),
    )
