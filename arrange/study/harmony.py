"""Which chord each beat stands on, read from the notes that sound in it.

House judgement throughout: a beat is matched with the usual chords; what is in the chord counts
for it, what is foreign or missing against it, and a root in the bass speaks for it.
"""

from bisect import bisect_right
from dataclasses import dataclass
from functools import lru_cache

from arrange.study.timeline import Timeline

SHAPES = {
    (0, 4, 7): "major",
    (0, 3, 7): "minor",
    (0, 3, 6): "diminished",
    (0, 4, 8): "augmented",
    (0, 4, 7, 10): "dominant seventh",
    (0, 3, 7, 10): "minor seventh",
    (0, 4, 7, 11): "major seventh",
    (0, 3, 6, 10): "half-diminished",
    (0, 3, 6, 9): "diminished seventh",
}
GOALS = frozenset({5, 1})
"""Semitones from the root of a dominant up to that of its goal: the tonic, or the sixth step of a
minor key."""
GOALS_OF_A_SEVENTH = GOALS | {2}
"""The same where it has its seventh: only then is a chord a whole tone higher the sixth step of a
major key; else it may be the dominant of which this is the subdominant (common practice)."""
INSIDE, FOREIGN, MISSING, ROOT_IN_BASS = 4, 3, 2, 2
"""What each tone of a match counts."""


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord: *root* as a pitch class, *shape* as semitones above it, *bass* pitch class."""

    root: int
    shape: tuple[int, ...]
    bass: int

    def degree(self, pitch_class: int) -> str:
        """``root``, ``third``, ``fifth``, ``seventh`` or ``other``."""
        above = (pitch_class - self.root) % 12
        if above not in self.shape:
            return "other"
        return ("root", "third", "fifth", "seventh")[self.shape.index(above)]

    @property
    def third(self) -> int:
        """The pitch class of its third."""
        return (self.root + self.shape[1]) % 12

    @property
    def is_dominant_kind(self) -> bool:
        """A major third above the root, as a chord needs that leads to its tonic."""
        return self.shape[:3] == (0, 4, 7) and self.shape[3:] in {(), (10,)}


def goals_of(dominant: Chord) -> frozenset[int]:
    """Semitones from its root up to those of the chords that it leads to."""
    return GOALS_OF_A_SEVENTH if len(dominant.shape) == 4 else GOALS


_SHAPES = tuple(
    (sum(1 << (root + tone) % 12 for tone in shape), root, shape)
    for shape in SHAPES
    for root in range(12)
)
"""Every usual chord: its tones one bit each, its root, its shape; simpler shapes first."""


@lru_cache(maxsize=1 << 14)
def chord_of(mask: int, bass: int) -> Chord | None:
    """The chord of the pitch classes in *mask* (one bit each) over *bass*; None for no notes.

    Of two that fit alike the simpler shape wins, then the root nearer above the bass.
    """
    if not mask:
        return None
    best, found = -1 << 20, (0, 0)
    nearest = 12
    for place, (tones, root, _) in enumerate(_SHAPES):
        fit = (
            INSIDE * (mask & tones).bit_count()
            - FOREIGN * (mask & ~tones).bit_count()
            - MISSING * (tones & ~mask).bit_count()
            + (ROOT_IN_BASS if root == bass else 0)
        )
        above = (root - bass) % 12
        is_simple = place // 12 == found[0]
        if fit > best or (fit == best and is_simple and above < nearest):
            best, nearest, found = fit, above, (place // 12, place)
    _, root, shape = _SHAPES[found[1]]
    return Chord(root, shape, bass)


class Harmony:
    """The chords of a harp's music.

    Attributes:
        chords: one a felt beat; None before the first note.
    """

    def __init__(self, line: Timeline) -> None:
        self._beats = line.beats
        masks = [0] * len(line.beats)
        lowest = [1 << 10] * len(line.beats)
        for note in line.notes:
            if note.is_grace:
                continue
            bit = 1 << note.midi % 12
            beat = line.beat(note.start)
            while beat < len(masks) and (beat < 0 or line.beats[beat] < note.end):
                masks[beat] |= bit
                lowest[beat] = min(lowest[beat], note.midi)
                beat += 1
        self.chords = _carried([(m, b % 12) for m, b in zip(masks, lowest, strict=True)])

    def at(self, tick: int) -> Chord | None:
        """The chord of the beat that *tick* lies in."""
        return self.chords[bisect_right(self._beats, tick) - 1] if self.chords else None

    def leads(self, before: int, after: int) -> bool:
        """Whether the beat at *before* is a dominant, and the other chord at *after* its goal.

        That is its tonic, or the chord a step above the dominant that deceives the ear.
        """
        one, other = self.at(before), self.at(after)
        return (
            one is not None
            and other is not None
            and one.is_dominant_kind
            and (other.root - one.root) % 12 in goals_of(one)
        )


def _carried(beats: list[tuple[int, int]]) -> list[Chord | None]:
    """Chords beat by beat; one or two tones of the chord before do not make another."""
    found: list[Chord | None] = []
    standing: Chord | None = None
    for mask, bass in beats:
        if standing is None or not mask:
            standing = chord_of(mask, bass) if mask else standing
        else:
            tones = sum(1 << (standing.root + tone) % 12 for tone in standing.shape)
            is_part = mask & ~tones == 0 and mask.bit_count() < 3 and bass != standing.bass
            is_same = mask & ~tones == 0 and bass == standing.bass
            if not is_same and not is_part:
                standing = chord_of(mask, bass)
        found.append(standing)
    return found
