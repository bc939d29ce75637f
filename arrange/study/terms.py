"""On what terms levers are planned."""

from dataclasses import dataclass

from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.study.decided import NOTHING_DECIDED, Decided
from arrange.study.prices import PriceList


@dataclass(frozen=True, slots=True)
class Terms:
    """On what terms levers are planned: harp, player, prices, key signature at the start, and
    what is decided already.
    """

    harp: Harp
    player: Player
    prices: PriceList = PriceList()
    fifths: int = 0
    decided: Decided = NOTHING_DECIDED
