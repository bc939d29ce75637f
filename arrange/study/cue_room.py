"""Whether words between the staves end before the barline, judged from the notes beside them.

A page is engraved later and elsewhere, so widths are guesses: what a text face and ordinary
note spacing need on a printed page (house judgement).
"""

from itertools import pairwise

from arrange.score.model import Measure
from arrange.units import Quarters

LETTER_WIDTH = 15
"""Of a small bold letter, in tenths of a millimetre (house judgement)."""
_SPACES = (
    (Quarters(1, 4), 38),
    (Quarters(1, 2), 48),
    (Quarters(1), 75),
    (Quarters(2), 110),
    (Quarters(3), 130),
)
"""What the time from one onset to the next takes at least, in tenths of a millimetre (house
judgement, from pages of ordinary spacing)."""
_WIDEST = 150


def ends_before(measure: Measure, offset: Quarters, text: str, stop: Quarters) -> bool:
    """Whether *text* that begins at *offset* ends, as far as one can say, before *stop*.

    A measure that holds only the sign for another becomes as wide as words make it.
    """
    if measure.stands_for >= 0 or measure.repeated_staves:
        return True
    longest = max(map(len, text.split("\n")))
    return room_between(measure, offset, stop) >= LETTER_WIDTH * longest


def room_between(measure: Measure, offset: Quarters, end: Quarters) -> Quarters:
    """How wide a measure is from one place to another, in tenths of a millimetre."""
    onsets = {note.offset for note in measure.notes} | {rest.offset for rest in measure.rests}
    columns = sorted({Quarters(0), measure.length, *(o for o in onsets if o < measure.length)})
    room = Quarters(0)
    for start, stop in pairwise(columns):
        shared = min(stop, end) - max(start, offset)
        if shared > 0:
            room += shared / (stop - start) * _space(stop - start)
    return room


def _space(length: Quarters) -> int:
    return next((space for longest, space in _SPACES if length <= longest), _WIDEST)
