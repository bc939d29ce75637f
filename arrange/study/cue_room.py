"""Whether words between the staves end before the barline, judged from the notes beside them.

A page is engraved later and elsewhere, so widths are guesses: what a text face and ordinary
note spacing need on a printed page (house judgement).
"""

from itertools import pairwise

from arrange.score.model import Score
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


def has_room(score: Score, part: str, index: int, offset: Quarters, text: str) -> bool:
    """Whether *text* that begins at a place ends, as far as one can say, in its measure.

    A measure that holds only the sign for another becomes as wide as words make it.
    """
    measure = score.measure(part, index)
    if measure.stands_for >= 0 or measure.repeated_staves:
        return True
    longest = max(map(len, text.split("\n")))
    return room_after(score, part, index, offset) >= LETTER_WIDTH * longest


def room_after(score: Score, part: str, index: int, offset: Quarters) -> Quarters:
    """How wide a measure is from a place to its end, in tenths of a millimetre."""
    measure = score.measure(part, index)
    onsets = {note.offset for note in measure.notes} | {rest.offset for rest in measure.rests}
    columns = sorted({Quarters(0), measure.length, *(o for o in onsets if o < measure.length)})
    room = Quarters(0)
    for start, stop in pairwise(columns):
        if stop > offset:
            share = min((stop - offset) / (stop - start), Quarters(1))
            room += share * _space(stop - start)
    return room


def _space(length: Quarters) -> int:
    return next((space for longest, space in _SPACES if length <= longest), _WIDEST)
