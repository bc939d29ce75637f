"""Where a glissando can run on a harp: as written, shortened by an octave, or moved by one."""

from collections.abc import Iterator
from dataclasses import dataclass

from arrange.harp.harp import Harp, Home
from arrange.pitch import Pitch
from arrange.score.model import Score, Sweep
from arrange.study.prices import PriceList

SHORTEST = 5
"""Nothing is shortened to fewer strings (house judgement)."""
MOST_OCTAVES = 3


@dataclass(frozen=True, slots=True)
class Course:
    """One way over the strings.

    Attributes:
        start_octaves, end_octaves: how far start and end are moved.
        first, last: where start and end are played; *price*: of moving them.
        strings: places in the harp, in order of the sweep, first and last included.
    """

    start_octaves: int
    end_octaves: int
    first: Home
    last: Home
    strings: tuple[int, ...]
    price: int

    @property
    def inner(self) -> tuple[int, ...]:
        """The strings between the first and the last."""
        return self.strings[1:-1]

    @property
    def is_as_written(self) -> bool:
        """Neither end is moved."""
        return not self.start_octaves and not self.end_octaves


def courses(sweep: Sweep, score: Score, harp: Harp, prices: PriceList) -> tuple[Course, ...]:
    """Return the course as written; where the strings end before it does, the nearest others.

    A glissando whose end the source does not say has none, nor has one that comes down to a
    single string.
    """
    if sweep.end is None:
        return ()
    start, end = score.notes_by_id[sweep.start].pitch, score.notes_by_id[sweep.end].pitch
    homes = _home(harp, start, 0), _home(harp, end, 0)
    if homes[0] is not None and homes[1] is not None and homes[0].string == homes[1].string:
        return ()
    found = []
    for start_octaves, end_octaves in _moves():
        price = _price(start_octaves, end_octaves, prices)
        course = _course(harp, (start, start_octaves), (end, end_octaves), price)
        if course is not None and (course.strings[-1] > course.strings[0]) == (
            end.line > start.line
        ):
            found.append(course)
            if course.is_as_written:
                return (course,)
    found.sort(key=lambda c: c.price)
    return tuple(found[:2])


def _moves() -> Iterator[tuple[int, int]]:
    """As written; then only one end moved, the end first; then both."""
    yield 0, 0
    octaves = [sign * n for n in range(1, MOST_OCTAVES + 1) for sign in (-1, 1)]
    yield from ((0, n) for n in octaves)
    yield from ((n, 0) for n in octaves)
    yield from ((n, n) for n in octaves)


def _price(start_octaves: int, end_octaves: int, prices: PriceList) -> int:
    far = max(abs(start_octaves), abs(end_octaves))
    if not far:
        return 0
    return (prices.phrase if start_octaves and end_octaves else prices.octave) * far


def _course(
    harp: Harp, start: tuple[Pitch, int], end: tuple[Pitch, int], price: int
) -> Course | None:
    first, last = _home(harp, *start), _home(harp, *end)
    if first is None or last is None:
        return None
    step = 1 if last.string >= first.string else -1
    strings = tuple(range(first.string, last.string + step, step))
    if len(strings) < (SHORTEST if start[1] or end[1] else 2):
        return None
    return Course(start[1], end[1], first, last, strings, price)


def _home(harp: Harp, pitch: Pitch, octaves: int) -> Home | None:
    moved = Pitch(pitch.step, pitch.alter, pitch.octave + octaves)
    homes = harp.homes(moved.midi)
    return harp.home_as_spelled(moved) or (homes[0] if homes else None)
