"""What the referee hands back: a fault, and how a place is said."""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

MICROSECOND = Fraction(1, 1_000_000)
GRAIN_S = 5 * MICROSECOND
"""Times are compared to this grain: a result may be planned in whole microseconds."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is not as the interface says.

    Attributes:
        kind: which of the referee's questions found it: ``string``, ``position``, ``hand``,
            ``ring``, ``order``, ``change``, ``mark``, ``summary`` and the like.
        place: where, as ``P1 m5 +3/2``.
        sentence: what is wrong.
    """

    kind: str
    place: str
    sentence: str

    def __str__(self) -> str:
        return f"[{self.kind}] {self.place}: {self.sentence}"


def said(part: str, index: int, offset: Fraction | str = "", turn: int = 0) -> str:
    """A place in words; *index* from 0, *turn* is the pass where it matters."""
    text = f"{part} index {index}"
    if offset != "":
        text += f" +{offset}"
    return f"{text} pass {turn}" if turn else text


def seconds(time: Fraction) -> str:
    """A time for a sentence."""
    return f"{float(time):.3f} s"


def listed(names: Iterable[object], most: int = 6) -> str:
    """The first few of *names*, in words."""
    every = [str(name) for name in names]
    more = f" and {len(every) - most} more" if len(every) > most else ""
    return ", ".join(every[:most]) + more
