"""One string heard once."""

from dataclasses import dataclass

from arrange.report.listening.touches import Touch
from arrange.score.model import EventId, HandName
from arrange.units import Microseconds


@dataclass(frozen=True, slots=True)
class Sound:
    """One string heard once, in performed time.

    Attributes:
        place: the measure that it belongs to, in the order of play; a small note to that of its
            note.
        time: when it is plucked; *lit*: when its written length ends.
        damped: when a hand damps it; None where it is left to ring.
        midi: what sounds (MIDI 1.0, C4 is 60); *string*: the string's letter and octave.
        loudness: like MIDI's velocity, 1 to 127.
        staff: as printed; *hand*: the one that plucks it.
        harp: which of the score's harps, from 0.
        notes: the notes that it plays.
    """

    place: int
    time: Microseconds
    lit: Microseconds
    damped: Microseconds | None
    midi: int
    string: str
    loudness: int
    hand: HandName
    staff: int
    harp: int
    touch: Touch
    notes: tuple[EventId, ...]
