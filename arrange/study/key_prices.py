"""What a key costs beside its notes: how far it lies, how it reads, how crowded the levers are."""

from arrange.harp.harp import Harp
from arrange.pitch import Interval
from arrange.study.keysignature import wanted_positions
from arrange.study.prices import PriceList
from arrange.study.terms import Terms

NEAR = 2
"""Semitones that cost little."""
FAR = 4
"""Semitones beyond which a key is for the asking only."""
EASY_SIGNS = 4
"""Sharps or flats that anybody reads (house judgement)."""


def distance(interval: Interval, prices: PriceList) -> int:
    """What moving the piece costs: a little up to two semitones, much beyond four."""
    far = abs(interval.semitones)
    return (
        prices.semitone * min(far, NEAR)
        + prices.far_semitone * max(min(far, FAR) - NEAR, 0)
        + prices.beyond_four * max(far - FAR, 0)
    )


def reading(harp: Harp, fifths: int, prices: PriceList) -> int:
    """What reading the key costs: signs beyond four, and letters that no lever sets.

    A letter of the signature that has no string is written as another one wherever it stands.
    """
    unset = {
        string.letter
        for string, position in zip(harp.strings, wanted_positions(harp, fifths), strict=True)
        if position is None and string.raised is not None
    }
    signs = max(abs(fifths) - EASY_SIGNS, 0)
    return prices.sign * signs + prices.unset_letter * len(unset)


def beyond_the_caps(moves: int, measures: int, terms: Terms) -> int:
    """What moves cost that are more than the book allows."""
    player = terms.player
    allowed = min(int(player.moves_on_average * measures), player.moves_in_piece)
    return terms.prices.crowded * max(moves - allowed, 0)
