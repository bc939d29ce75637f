"""What the program returns."""

from collections.abc import Iterable
from enum import IntEnum


class ExitCode(IntEnum):
    """The exit codes.

    Attributes:
        DONE: written, nothing open; OPEN: written, open points remain, or violations found.
        MISUSE: bad input or usage; FAULT: a fault of the program.
    """

    DONE = 0
    FAULT = 1
    MISUSE = 2
    OPEN = 3


_WORST_FIRST = (ExitCode.FAULT, ExitCode.MISUSE, ExitCode.OPEN, ExitCode.DONE)


def worst(codes: Iterable[ExitCode]) -> ExitCode:
    """The code that tells most; all is well where there are none."""
    return min(codes, key=_WORST_FIRST.index, default=ExitCode.DONE)
