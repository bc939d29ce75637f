"""Which finger plucks which string, and where the hand is placed anew."""

from arrange.hands.fingering.placings import Fingered, HandFingering, Placing, fingering
from arrange.hands.fingering.ways import Joining

__all__ = ["Fingered", "HandFingering", "Joining", "Placing", "fingering"]
