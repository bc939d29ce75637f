"""Glissandi whose tones differ from the key, and the tones that the key would give them."""

from collections.abc import Iterator
from dataclasses import dataclass

from arrange.harp.harp import Harp
from arrange.pitch import Pitch
from arrange.score.model import Note, Score, StaffHand, SweepForm
from arrange.score.sweep_words import sweep_words
from arrange.study.glissandi import harp_sweeps
from arrange.study.glissando_sets import Setting
from arrange.study.keysignature import alteration

DRAWN = frozenset({SweepForm.LINE, SweepForm.SLIDE, SweepForm.WORDS})
"""The ways to write a glissando without its notes."""


@dataclass(frozen=True, slots=True)
class KeyedSweep:
    """A glissando that leaves *start*, and its *tones* if it is swept in the key."""

    start: Note
    tones: Setting


def keyed_sweeps(score: Score, harp: Harp, staves: tuple[StaffHand, ...]) -> Iterator[KeyedSweep]:
    """Yield the glissandi that could be swept in the key and are not.

    Those that our own marks name, that are written out, or that need a string that the harp
    does not have are left out; of several from one place the first stands for all.
    """
    seen = set()
    for sweep, start, _ in harp_sweeps(score, staves):
        place = (start.id.part, start.id.index, start.offset, start.staff)
        measure = score.measure(start.id.part, start.id.index)
        if sweep.end is None or sweep.form not in DRAWN or sweep.notes or place in seen:
            continue
        if sweep_words(measure.marks, start).tones:
            continue
        fifths = measure.fifths[min(start.staff, len(measure.fifths)) - 1]
        fifths += measure.transposition.fifths
        tones = tuple((letter, alteration(letter, fifths)) for letter, _ in sweep.tones)
        end = score.notes_by_id[sweep.end]
        if dict(tones) != dict(sweep.tones) and _has_strings(harp, (start, end), dict(tones)):
            seen.add(place)
            yield KeyedSweep(start, tones)


def _has_strings(harp: Harp, ends: tuple[Note, Note], tones: dict[str, int]) -> bool:
    lines = sorted(note.pitch.line for note in ends)
    strings = [s for s in harp.strings if lines[0] < s.line < lines[1]]
    return (
        all(harp.homes(note.pitch.midi) for note in ends)
        and len(strings) == lines[1] - lines[0] - 1
        and all(harp.home_as_spelled(Pitch(s.letter, tones[s.letter], s.octave)) for s in strings)
    )
