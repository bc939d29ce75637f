"""How long a melody note looks: note values, ties, tuplets, beams, within one measure."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from arrange.apply.lowering.values import pieces, written
from arrange.score.model import Meter, Note
from arrange.units import Quarters

TUPLETS = ((3, 2), (5, 4), (6, 4), (7, 4), (9, 8), (7, 8), (2, 3), (4, 3))
"""Ratios that are tried for a length that halves of halves never reach (common practice)."""


@dataclass(frozen=True, slots=True)
class Written:
    """One sign of the melody.

    Attributes:
        offset, duration: in quarters; *note*: None for a rest.
        value: type and dots; *tuplet*: ratio and whether one begins and ends here.
        is_tied_on: it is held into the next sign; *is_tied: it* is held from the one before.
        beam: ``begin``, ``continue``, ``end`` or "".
    """

    offset: Quarters
    duration: Quarters
    note: Note | None
    value: tuple[str, int]
    tuplet: tuple[int, int] | None = None
    tuplet_end: str = ""
    is_tied: bool = False
    is_tied_on: bool = False
    beam: str = ""


@dataclass(frozen=True, slots=True)
class Span:
    """What sounds from *offset* on for *duration*; *note*: None for silence."""

    offset: Quarters
    duration: Quarters
    note: Note | None
    is_tied: bool = False
    is_tied_on: bool = False


def signs_of(spans: Sequence[Span], meter: Meter) -> tuple[Written, ...] | None:
    """Return the signs for the spans of one measure; None where they cannot be written."""
    found: list[Written] = []
    for span in spans:
        row = _signs(span)
        if not row:
            return None
        found += row
    return _beamed(_bracketed(found), meter)


def _signs(span: Span) -> list[Written]:
    lengths = pieces(span.duration, span.offset)
    if not lengths:
        return _in_tuplet(span)
    row: list[Written] = []
    offset = span.offset
    for place, length in enumerate(lengths):
        value = written(length)
        if value is None:
            return []
        is_held = span.note is not None
        row.append(
            Written(
                offset,
                length,
                span.note,
                value,
                is_tied=is_held and (place > 0 or span.is_tied),
                is_tied_on=is_held and (place < len(lengths) - 1 or span.is_tied_on),
            )
        )
        offset += length
    return row


def _in_tuplet(span: Span) -> list[Written]:
    for actual, normal in TUPLETS:
        value = written(span.duration * actual / normal)
        if value is not None:
            return [
                Written(
                    span.offset,
                    span.duration,
                    span.note,
                    value,
                    (actual, normal),
                    is_tied=span.is_tied,
                    is_tied_on=span.is_tied_on,
                )
            ]
    return []


def _bracketed(row: Sequence[Written]) -> list[Written]:
    """Tuplets begin and end where a row of one ratio fills a beat's part."""
    found = list(row)
    begin = 0
    while begin < len(found):
        ratio = found[begin].tuplet
        end = begin
        total = Quarters(0)
        while ratio is not None and end < len(found) and found[end].tuplet == ratio:
            total += found[end].duration
            end += 1
            if total.denominator & (total.denominator - 1) == 0:
                break
        if ratio is not None and end - begin > 1:
            found[begin] = replace(found[begin], tuplet_end="start")
            found[end - 1] = replace(found[end - 1], tuplet_end="stop")
        begin = max(end, begin + 1)
    return found


def _beamed(row: Sequence[Written], meter: Meter) -> tuple[Written, ...]:
    """Neighbours that have flags, within a beat, under one beam."""
    found = list(row)
    begin = 0
    while begin < len(found):
        end = begin
        while (
            end < len(found)
            and _has_flag(found[end])
            and found[end].offset // meter.beat == found[begin].offset // meter.beat
        ):
            end += 1
        if end - begin > 1:
            for place in range(begin, end):
                kind = "begin" if place == begin else "end" if place == end - 1 else "continue"
                found[place] = replace(found[place], beam=kind)
        begin = max(end, begin + 1)
    return tuple(found)


def _has_flag(sign: Written) -> bool:
    return sign.note is not None and (
        sign.value[0] == "eighth" or sign.value[0].endswith(("th", "nd"))
    )
