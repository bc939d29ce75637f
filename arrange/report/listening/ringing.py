"""How long strings ring, and what stops them sooner."""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from itertools import pairwise

from arrange.report.listening.sound import Sound
from arrange.units import SECOND, Microseconds

RING_MS = {24: 15_000, 36: 12_000, 48: 9_000, 60: 6_000, 72: 3_500, 84: 1_800, 96: 800}
"""Milliseconds until a string is a thousandth as loud, by the key number of each C.

House judgement: four to five times as long as a string must be left alone for a lever.
"""

Touched = tuple[int, str, Microseconds]
"""A hand at a string: which harp, which string, when."""


def ring(midi: int) -> Microseconds:
    """Return how long a string rings that sounds the key number *midi*; between Cs in a line."""
    listed = [(low, ms * SECOND // 1000) for low, ms in RING_MS.items()]
    for (low, long), (high, short) in pairwise(listed):
        if midi <= high:
            return long + (short - long) * max(midi - low, 0) // (high - low)
    return listed[-1][1]


def endings(
    sounds: Sequence[Sound], touched: Iterable[Touched], hushed: Iterable[tuple[int, Microseconds]]
) -> list[Microseconds | None]:
    """Return what stops each sound, None where it rings out by itself.

    A string is stopped when it is plucked again, when a hand damps it, or when its lever moves.

    Args:
        sounds: in order of time.
        touched: when levers are moved.
        hushed: a harp and when all of its strings are damped.
    """
    stops: dict[tuple[int, str], list[Microseconds]] = {}
    for harp, string, time in touched:
        stops.setdefault((harp, string), []).append(time)
    for sound in sounds:
        stops.setdefault((sound.harp, sound.string), []).append(sound.time)
    for times in stops.values():
        times.sort()
    silences: dict[int, list[Microseconds]] = {}
    for harp, time in sorted(hushed):
        silences.setdefault(harp, []).append(time)
    return [_ending(s, stops[s.harp, s.string], silences.get(s.harp, [])) for s in sounds]


def _ending(
    sound: Sound, stops: list[Microseconds], silences: list[Microseconds]
) -> Microseconds | None:
    ends = [] if sound.damped is None else [sound.damped]
    for times in (stops, silences):
        following = bisect_right(times, sound.time)
        if following < len(times):
            ends.append(times[following])
    return min(ends, default=None)
