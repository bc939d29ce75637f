"""Strings that one hand damps while the other sweeps, and what would disturb it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from arrange.harp.harp import Harp
from arrange.score.model import HandName
from arrange.score.plucks import Pluck, Strike
from arrange.units import Microseconds

DAMPED_PACE = 8
"""The other hand damps strings in sweeps of up to so many strings a second (from memory)."""


@dataclass(frozen=True, slots=True)
class Damping:
    """What is damped.

    Attributes:
        harp: its strings; *sweeping*: the hand that sweeps.
        held: places of the strings that the other hand damps.
        times: of each playing, begin and end.
    """

    harp: Harp
    sweeping: HandName
    held: tuple[int, ...]
    times: tuple[tuple[Microseconds, Microseconds], ...]

    def is_left_in_peace(self, printed: Sequence[Pluck], struck: Iterable[Strike]) -> bool:
        """Whether that hand plucks nothing meanwhile, and nothing sounds on its strings."""
        return not any(self._is_disturbed(printed[strike.pluck], strike) for strike in struck)

    def _is_disturbed(self, pluck: Pluck, strike: Strike) -> bool:
        home = self.harp.home_as_spelled(pluck.pitch)
        is_held = home is not None and home.string in self.held
        return any(
            (is_held and strike.time < end and strike.end > begin)
            or (pluck.hand is not self.sweeping and begin <= strike.time < end)
            for begin, end in self.times
        )
