"""Pairs two sequences of measures: equal ones by their fingerprints, the rest by likeness.

Equal beginnings and ends are paired first, then measures that occur once on each side (the
longest run of them that keeps its order), and so on between those. What is left is paired by
dynamic programming over the cheapest way from corner to corner: two unlike measures cost their
unlikeness (0 to 100), one without a counterpart costs `ALONE`. Gaps of more than `CELLS` pairs
are searched only in a band around the diagonal, so that the whole stays linear in the number of
measures.
"""

from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Iterator, Sequence

Pairs = list[tuple[int | None, int | None]]
Likeness = Callable[[int, int], int]
"""From 0 to 100, of a measure before and one after."""

ALONE = 55
"""Price of a measure without a counterpart: two that share nothing (100) are rather paired than
called removed and inserted at the same place (house judgement)."""
CELLS = 40_000
BAND = 32
_PAIR, _REMOVED, _INSERTED = 0, 1, 2
_FAR = 1 << 40


def aligned(before: Sequence[int], after: Sequence[int], likeness: Likeness) -> Pairs:
    """Pair two sequences of fingerprints; every index occurs once, in order.

    Args:
        before: a number for each measure, the same for equal ones.
        after: the same of the other score.
        likeness: how alike a measure before and one after are.
    """
    found: Pairs = []
    waiting = [(0, len(before), 0, len(after))]
    while waiting:
        low, high, left, right = waiting.pop()
        while low < high and left < right and before[low] == after[left]:
            found.append((low, left))
            low, left = low + 1, left + 1
        while low < high and left < right and before[high - 1] == after[right - 1]:
            high, right = high - 1, right - 1
            found.append((high, right))
        if low == high or left == right:
            found += [(i, None) for i in range(low, high)]
            found += [(None, j) for j in range(left, right)]
            continue
        anchors = _anchors(before[low:high], after[left:right])
        if not anchors:
            found += _cheapest((low, high), (left, right), before, after, likeness)
            continue
        waiting += _between(anchors, (low, high), (left, right))
    return _in_order(found)


def _between(
    anchors: Sequence[tuple[int, int]], rows: tuple[int, int], columns: tuple[int, int]
) -> Iterator[tuple[int, int, int, int]]:
    """The gaps that anchors leave; each begins with the anchor before it."""
    low, left = rows[0], columns[0]
    for i, j in anchors:
        yield low, rows[0] + i, left, columns[0] + j
        low, left = rows[0] + i, columns[0] + j
    yield low, rows[1], left, columns[1]


def _anchors(before: Sequence[int], after: Sequence[int]) -> list[tuple[int, int]]:
    """Those that occur once on each side: the most that keep their order."""
    counts, others = Counter(before), Counter(after)
    places = {print_: j for j, print_ in enumerate(after) if others[print_] == 1}
    once = [
        (i, places[print_])
        for i, print_ in enumerate(before)
        if counts[print_] == 1 and print_ in places
    ]
    return _longest_rise(once)


def _longest_rise(pairs: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    ends: list[int] = []
    chosen: list[int] = []
    previous: list[int] = []
    for index, (_, j) in enumerate(pairs):
        length = bisect_left(ends, j)
        previous.append(chosen[length - 1] if length else -1)
        ends[length : length + 1] = [j]
        chosen[length : length + 1] = [index]
    found = []
    index = chosen[-1] if chosen else -1
    while index >= 0:
        found.append(pairs[index])
        index = previous[index]
    return found[::-1]


def _cheapest(
    rows: tuple[int, int],
    columns: tuple[int, int],
    before: Sequence[int],
    after: Sequence[int],
    likeness: Likeness,
) -> Pairs:
    """The cheapest way from corner to corner; pairing wins ties, then removing."""
    (low, high), (left, right) = rows, columns
    height, width = high - low, right - left
    band = width
    if height * width > CELLS:
        band = max(BAND, 2 * (width // height) + 2)
    costs = {j: ALONE * j for j in range(min(width, band) + 1)}
    steps: list[tuple[int, bytearray]] = []
    for i in range(1, height + 1):
        centre = i * width // height
        first, last = max(0, centre - band), min(width, centre + band)
        row: dict[int, int] = {}
        choice = bytearray(last - first + 1)
        for j in range(first, last + 1):
            best, step = costs.get(j, _FAR) + ALONE, _REMOVED
            if j:
                above = costs.get(j - 1, _FAR)
                if above < best:
                    same = before[low + i - 1] == after[left + j - 1]
                    paired = above + (0 if same else 100 - likeness(low + i - 1, left + j - 1))
                    if paired <= best:
                        best, step = paired, _PAIR
                aside = row.get(j - 1, _FAR) + ALONE
                if aside < best:
                    best, step = aside, _INSERTED
            row[j] = best
            choice[j - first] = step
        costs = row
        steps.append((first, choice))
    return _walked(steps, rows, columns)


def _walked(
    steps: Sequence[tuple[int, bytearray]], rows: tuple[int, int], columns: tuple[int, int]
) -> Pairs:
    i, j = rows[1] - rows[0], columns[1] - columns[0]
    found: Pairs = []
    while i or j:
        step = _INSERTED
        if i:
            first, choice = steps[i - 1]
            step = choice[j - first]
        i, j = i - (step != _INSERTED), j - (step != _REMOVED)
        found.append(
            (
                rows[0] + i if step != _INSERTED else None,
                columns[0] + j if step != _REMOVED else None,
            )
        )
    return found[::-1]


def _in_order(pairs: Pairs) -> Pairs:
    """Sorted by place on both sides; what is gone before what is new."""
    gone = sorted(i for i, j in pairs if i is not None and j is None)
    new = sorted(j for i, j in pairs if i is None and j is not None)
    kept = sorted((i, j) for i, j in pairs if i is not None and j is not None)
    found: Pairs = []
    g = n = 0
    for i, j in [*kept, (_FAR, _FAR)]:
        while g < len(gone) and gone[g] < i:
            found.append((gone[g], None))
            g += 1
        while n < len(new) and new[n] < j:
            found.append((None, new[n]))
            n += 1
        if i != _FAR:
            found.append((i, j))
    return found
