"""What a key costs beside its notes: how far it lies, how it reads, how crowded the levers are."""

from collections.abc import Sequence

from arrange.pitch import Interval
from arrange.study.keysignature import wanted_positions
from arrange.study.prices import PriceList
from arrange.study.terms import Terms

NEAR = 2
"""Semitones that cost little."""
FAR = 4
"""Semitones beyond which a key is for the asking only."""


def distance(interval: Interval, prices: PriceList) -> int:
    """What moving the piece costs: a little up to two semitones, much beyond four."""
    far = abs(interval.semitones)
    return (
        prices.semitone * min(far, NEAR)
        + prices.far_semitone * max(min(far, FAR) - NEAR, 0)
        + prices.beyond_four * max(far - FAR, 0)
    )


def reading(terms: Terms, fifths: int, apart: Sequence[int] = (0,)) -> int:
    """What reading the key costs: more signs than the player reads, letters that no lever sets.

    A letter of the signature that has no string is written as another one wherever it stands.

    Args:
        terms: whose harp, player and prices.
        fifths: the signature at the start.
        apart: for each measure, how many fifths its signature lies from that; their mean counts.
    """
    unset = {
        string.letter
        for string, position in zip(
            terms.harp.strings, wanted_positions(terms.harp, fifths), strict=True
        )
        if position is None and string.raised is not None
    }
    signs = sum(max(abs(fifths + far) - terms.player.signs, 0) for far in apart)
    return terms.prices.sign * signs // len(apart) + terms.prices.unset_letter * len(unset)


def beyond_the_caps(moves: int, measures: int, terms: Terms) -> int:
    """What moves cost that are more than the book allows."""
    player = terms.player
    allowed = min(int(player.moves_on_average * measures), player.moves_in_piece)
    return terms.prices.crowded * max(moves - allowed, 0)
