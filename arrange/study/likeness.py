"""Scores that are played alike, so that what was worked out for one serves the other.

Most rules write words only. What the hands and the levers do does not change by that, and need
not be worked out again.
"""

from collections import deque
from itertools import starmap
from operator import attrgetter

from arrange.memory import row_of_latest
from arrange.score.model import Mark, MarkKind, Measure, Part, Score

_lately: deque[Score] = row_of_latest(4)
_found: deque[tuple[Score, Score]] = row_of_latest(2)
"""What was asked last, and the answer: the same score is asked for many times in a row."""

_of_score = attrgetter("harps", "performed", "tempo", "sweeps", "reassigned", "melody", "sung")
_of_measure = attrgetter(
    "length",
    "notes",
    "rests",
    "meter",
    "fifths",
    "mode",
    "number",
    "clefs",
    "structure",
    "transposition",
    "stands_for",
    "repeated_staves",
)


def as_played(score: Score) -> Score:
    """One of the latest scores that is played as this one is; itself, if there is none.

    The two differ by words and signs at most. Where strings are swept no two scores count as
    alike, unless their words are the same too: words tell which strings.
    """
    for other in _lately:
        if other is score:
            return score
    for asked, other in _found:
        if asked is score:
            return other
    for other in reversed(_lately):
        if is_played_alike(score, other):
            _found.append((score, other))
            return other
    _lately.append(score)
    return score


def is_played_alike(one: Score, other: Score) -> bool:
    """Whether two scores ask the same of hands and levers."""
    if one is other:
        return True
    if _of_score(one) != _of_score(other) or len(one.parts) != len(other.parts):
        return False
    if frozenset(one.left_open) != frozenset(other.left_open):
        return False
    with_words = bool(one.sweeps)
    return all(
        _is_part_alike(part, counterpart, with_words=with_words)
        for part, counterpart in zip(one.parts, other.parts, strict=True)
    )


def _is_part_alike(one: Part, other: Part, *, with_words: bool) -> bool:
    if one is other:
        return True
    if (one.id, one.staves, len(one.measures)) != (other.id, other.staves, len(other.measures)):
        return False
    changed = [
        pair for pair in zip(one.measures, other.measures, strict=True) if pair[0] is not pair[1]
    ]
    if with_words and any(a.marks != b.marks for a, b in changed):
        return False
    return all(starmap(_is_measure_alike, changed))


def _is_measure_alike(one: Measure, other: Measure) -> bool:
    return _of_measure(one) == _of_measure(other) and (
        one.marks == other.marks or _damps(one.marks) == _damps(other.marks)
    )


def _damps(marks: tuple[Mark, ...]) -> list[Mark]:
    return [mark for mark in marks if mark.kind is MarkKind.DAMP]
