"""How much a score file may hold: what is beyond was made to do harm, or is broken."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Limits:
    """The most that is read. All figures are house judgement.

    The longest scores that are known have 30 MB unpacked, shrink to a sixtieth, nest twelve
    deep and hold two million elements; their measures hold a few hundred elements.

    Attributes:
        file_bytes: of a file as it lies on disk.
        unpacked_bytes: of all members of an archive together.
        ratio: how many times its packed size a member may unpack to; it counts from
            *ratio_from_bytes* on.
        members: files in an archive.
        depth: elements one inside the other.
        elements: in the whole score.
        measure_elements: notes, directions and whatever else stands in one measure.
        measure_quarters: how long one measure may last.
        divisions: of a quarter.
        staves: of one part.
        performed: measures as they are played, all repeats taken.
    """

    file_bytes: int = 100_000_000
    unpacked_bytes: int = 200_000_000
    ratio: int = 200
    ratio_from_bytes: int = 10_000_000
    members: int = 1_000
    depth: int = 200
    elements: int = 8_000_000
    measure_elements: int = 20_000
    measure_quarters: int = 4_000
    divisions: int = 10_000_000
    staves: int = 100
    performed: int = 200_000


USUAL = Limits()
_IN_FORCE: ContextVar[Limits] = ContextVar("limits", default=USUAL)


def in_force() -> Limits:
    """The limits to which whatever is read now is held."""
    return _IN_FORCE.get()


@contextmanager
def held_to(limits: Limits) -> Iterator[None]:
    """Hold all that is read within to other limits than the usual ones."""
    before = _IN_FORCE.set(limits)
    try:
        yield
    finally:
        _IN_FORCE.reset(before)
