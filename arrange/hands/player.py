"""What a player's hands can do, in numbers; each is a setting with its place in a rule book."""

from dataclasses import dataclass, field
from fractions import Fraction

from arrange.sources import HOUSE_JUDGEMENT, Source
from arrange.units import Microseconds, microseconds

SOURCE: Source = HOUSE_JUDGEMENT
"""All defaults below: a harpist's working numbers, none published."""

REACH = {2: Fraction(2), 3: Fraction(13, 10), 4: Fraction(1), 5: Fraction(1), 6: Fraction(6, 5)}
RING_LOCK_S = {
    2: Fraction(3), 3: Fraction(2), 4: Fraction(6, 5), 5: Fraction(7, 10), 6: Fraction(2, 5),
}  # fmt: skip
LOWEST_KEYED, HIGHEST_KEYED = 2, 6
NO_CAP = 999
"""So many moves are never asked for: no limit of its own."""


@dataclass(frozen=True, slots=True)
class LeverHand:
    """A hand at the levers, in seconds.

    Attributes:
        move_s: the flick, hand at the lever.
        away_s: last pluck to lever, for C4 to B5.
        back_s: lever to placed, for one or two notes.
    """

    move_s: Fraction
    away_s: Fraction
    back_s: Fraction


@dataclass(frozen=True, slots=True)
class Grip:
    """What one hand can hold.

    Attributes:
        notes: most notes at once; *strings*: widest span, both ends counted;
        rolled_strings: widest span when rolled.
        wide_gap: widest gap in strings between thumb and second finger, *close_gap* between
            the others (extreme, plucked together).
    """

    notes: int = 4
    strings: int = 10
    rolled_strings: int = 11
    wide_gap: int = 6
    close_gap: int = 4


@dataclass(frozen=True, slots=True, eq=False)
class Player:
    """What these hands can do.

    Attributes:
        left: the left hand at the levers; *right*: the right hand, None where it moves none.
        right_from_octave: lowest octave whose levers the right hand moves.
        chord_back_s: added to ``back_s`` when three or more notes must be placed.
        reach: stretches ``away_s`` and ``back_s`` by the octave of the string.
        ring_lock_s: how long a plucked string must be left alone, by its octave.
        grip: what one hand can hold.
        cue_ahead_quarters: how far ahead of the move its cue is printed, in beats.
        moves_lowest: lowest string whose lever moves in mid-piece (``G2``; empty: any).
        moves_a_measure: peak of moves a measure; *moves_on_average*: moves a measure.
        moves_in_piece: most moves in a piece, however long.
        presets_apart: most presets that differ from the key signature.
        together: most notes that both hands strike at once.
        notes_a_second: most strokes a second of one hand, chords counting as one.
        leap_strings: widest leap of a hand within a beat, both ends counted.
        signs: most sharps or flats of a key signature that are read at ease.
        lowest, highest: the outer strings that a piece for this player uses (``C3``; empty: as
            far as the harp goes).
    """

    left: LeverHand | None = LeverHand(Fraction(3, 10), Fraction(1, 4), Fraction(3, 10))
    right: LeverHand | None = LeverHand(Fraction(3, 10), Fraction(1, 4), Fraction(3, 10))
    right_from_octave: int = 5
    chord_back_s: Fraction = Fraction(3, 10)
    reach: dict[int, Fraction] = field(default_factory=lambda: dict(REACH))
    ring_lock_s: dict[int, Fraction] = field(default_factory=lambda: dict(RING_LOCK_S))
    grip: Grip = Grip()
    cue_ahead_beats: int = 1
    moves_lowest: str = ""
    moves_a_measure: int = 2
    moves_on_average: Fraction = Fraction(1, 2)
    moves_in_piece: int = NO_CAP
    presets_apart: int = 8
    together: int = 8
    notes_a_second: Fraction = Fraction(10)
    leap_strings: int = 15
    signs: int = 4
    lowest: str = ""
    highest: str = ""

    def reach_of(self, octave: int) -> Fraction:
        """The stretch for a string of *octave*; outer octaves count as the last one named."""
        return self.reach[min(max(octave, LOWEST_KEYED), HIGHEST_KEYED)]

    def ring_lock(self, octave: int) -> Microseconds:
        """How long a string of *octave* must be left alone after a pluck."""
        return microseconds(self.ring_lock_s[min(max(octave, LOWEST_KEYED), HIGHEST_KEYED)])
