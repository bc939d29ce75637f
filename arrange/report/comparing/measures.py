"""Measures that were inserted, left out, repeated or numbered anew."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from arrange.phrasing import capital, counted
from arrange.report.comparing.aligning import Pairs
from arrange.report.comparing.pairing import Columns, PartPairs
from arrange.report.comparing.records import Aspect, Difference, Kind, MeasurePlace
from arrange.report.comparing.wording import measures_text
from arrange.score.model import Measure


@dataclass(frozen=True, slots=True)
class Run:
    """Measures in a row without a counterpart.

    Attributes:
        first, last: indices on the side that has them.
        at: where they would stand on the other side.
        is_new: they stand in the score after.
    """

    first: int
    last: int
    at: int
    is_new: bool


def runs(pairs: Pairs) -> Iterator[Run]:
    """The runs of measures that have no counterpart, in order."""
    i = j = 0
    start: tuple[int, bool] | None = None
    for one, two in [*pairs, (-1, -1)]:
        is_alone = one is None or two is None
        if start is not None and (not is_alone or start[1] != (one is None)):
            first, is_new = start
            yield Run(first, (j if is_new else i) - 1, i if is_new else j, is_new)
            start = None
        if is_alone and start is None:
            start = (j, True) if one is None else (i, False)
        i, j = i + (one is not None), j + (two is not None)


def run_differences(
    pairs: Pairs, parts: PartPairs, before: Columns, after: Columns
) -> Iterator[Difference]:
    """Yield a difference for every run of measures that were inserted or left out."""
    ones = _longest([one.part.measures for one, _ in parts])
    twos = _longest([two.part.measures for _, two in parts])
    for run in runs(pairs):
        mine, columns = (twos, after) if run.is_new else (ones, before)
        named = measures_text([mine[i].number for i in range(run.first, run.last + 1)])
        like = _likeness(run, columns, mine)
        notes = sum(len(p) for i in range(run.first, run.last + 1) for p in columns[i])
        what = f"{named} ({counted(notes, 'note') if notes else 'no notes'})"
        verb = "is" if run.first == run.last else "are"
        gone = "inserted" if run.is_new else "left out"
        kind = Kind.INSERTED if run.is_new else Kind.REMOVED
        if like:
            kind = Kind.REPEATED if run.is_new else kind
            gone += f"; {'it' if run.first == run.last else 'they'} {like}"
        place = MeasurePlace(run.first, mine[run.first].number)
        yield Difference(
            Aspect.STRUCTURE,
            kind,
            f"{capital(what)} {verb} {gone}.",
            "",
            None if run.is_new else place,
            place if run.is_new else None,
            before="" if run.is_new else named,
            after=named if run.is_new else "",
        )


def _longest(measures: Sequence[tuple[Measure, ...]]) -> tuple[Measure, ...]:
    return max(measures, key=len, default=())


def _likeness(run: Run, columns: Columns, measures: Sequence[Measure]) -> str:
    """What other measures of the same score the run plays again, the nearest before it first."""
    length = run.last - run.first + 1
    content = columns[run.first : run.last + 1]
    if not any(any(column) for column in content):
        return ""
    starts = [*range(run.first - length, -1, -1), *range(run.last + 1, len(columns) - length + 1)]
    for start in starts:
        if columns[start] == content[0] and columns[start : start + length] == content:
            named = measures_text([measures[i].number for i in range(start, start + length)])
            verb = "repeats" if length == 1 else "repeat"
            return f"{verb} {named}" if run.is_new else f"repeated {named}"
    return ""


def renumbered(pairs: Pairs, parts: PartPairs) -> Iterator[Difference]:
    """Yield a difference for every stretch of measures that are numbered anew."""
    ones = _longest([one.part.measures for one, _ in parts])
    twos = _longest([two.part.measures for _, two in parts])
    stretch: list[tuple[Measure, Measure]] = []
    by: int | None = None
    for i, j in pairs:
        if i is None or j is None:
            continue
        one, two = ones[i], twos[j]
        shift = _shift(one.number, two.number)
        if stretch and (shift is None or shift != by):
            yield _renumbered(stretch)
            stretch = []
        if one.number != two.number:
            stretch.append((one, two))
        by = shift
    if stretch:
        yield _renumbered(stretch)


def _shift(before: str, after: str) -> int | None:
    if before.isdecimal() and after.isdecimal():
        return int(after) - int(before)
    return None


def _renumbered(stretch: Sequence[tuple[Measure, Measure]]) -> Difference:
    before = measures_text([one.number for one, _ in stretch])
    after = measures_text([two.number for _, two in stretch])
    (one, two), verb = stretch[0], "is" if len(stretch) == 1 else "are"
    return Difference(
        Aspect.LAYOUT,
        Kind.RENUMBERED,
        f"{capital(before)} {verb} now numbered {after.split(' ', 1)[1]}.",
        "",
        MeasurePlace(one.index, one.number),
        MeasurePlace(two.index, two.number),
        before=before,
        after=after,
    )
