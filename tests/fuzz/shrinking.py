"""A spoiled score made as small as it can be while the same thing goes wrong."""

from collections.abc import Callable

from mutating import spans


def shrunk(text: str, still_wrong: Callable[[str], bool]) -> str:
    """The text without every element that can go.

    Args:
        text: a score with which something goes wrong.
        still_wrong: whether the same goes wrong with another text.
    """
    size = len(text) + 1
    while len(text) < size:
        size = len(text)
        text = _without_large_ones(text, still_wrong)
    return text


def _without_large_ones(text: str, still_wrong: Callable[[str], bool]) -> str:
    """One pass, from the largest elements to the smallest."""
    tried: set[str] = set()
    at = 0
    found = sorted(spans(text), key=lambda s: (s.begin - s.end, s.begin))
    while at < len(found):
        span = found[at]
        at += 1
        words = span.of(text)
        place = f"{span.begin} {words}"
        if place in tried:
            continue
        tried.add(place)
        shorter = text[: span.begin].rstrip() + text[span.end :]
        if still_wrong(shorter):
            text = shorter
            found = sorted(spans(text), key=lambda s: (s.begin - s.end, s.begin))
            at = max(sum(1 for s in found if s.end - s.begin > len(words)), 0)
    return text
