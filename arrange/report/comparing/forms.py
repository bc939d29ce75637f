"""A comparison as plain text, as Markdown, and as a record for other programs."""

import re
from collections.abc import Iterator, Sequence
from typing import Any

from arrange.phrasing import capital, counted
from arrange.report.comparing.records import (
    Aspect,
    Comparison,
    Difference,
    File,
    MeasurePlace,
    Transposition,
)
from arrange.report.comparing.wording import listed, visible
from arrange.units import quarters_text

FORMAT = "leverwright-comparison"
VERSION = 1
_MARKDOWN = re.compile(r"([\\`*_{}\[\]()#+!|~<>&])")


def where(comparison: Comparison, difference: Difference) -> str:
    """The place of a difference: ``Harp, measure 5 (was 4), beat 2 1/2, staff 2``."""
    pieces = []
    if difference.part:
        ids = (difference.part, *difference.also)
        pieces.append(listed(comparison.names.get(part, part) for part in ids))
    pieces += _measure(difference.place_before, difference.place_after)
    if difference.beat:
        pieces.append(difference.beat)
    if difference.staff and difference.part:
        pieces.append(f"staff {difference.staff}")
    return ", ".join(pieces)


def _measure(before: MeasurePlace | None, after: MeasurePlace | None) -> Iterator[str]:
    shown = after or before
    if shown is None:
        return
    name = f"measure {shown.number or f'no. {shown.index + 1} (without a number)'}"
    if before is not None and after is not None and before.number != after.number:
        name += f" (was {before.number or 'without a number'})"
    elif after is None:
        name += " of the score before"
    yield name


def groups(comparison: Comparison) -> Iterator[tuple[Aspect, Sequence[Difference]]]:
    """The classes that have differences, each with them."""
    for aspect in comparison.counts:
        yield aspect, comparison.of(aspect)


def as_text(comparison: Comparison) -> str:
    """The comparison to read on a screen; nothing in it steers the screen."""
    return visible("\n".join(_text_lines(comparison)))


def _text_lines(comparison: Comparison) -> Iterator[str]:
    yield f"Before: {comparison.before.name}"
    yield f"After:  {comparison.after.name}"
    yield comparison.summary
    for transposition in comparison.transpositions:
        yield f"{transposition.sentence} What follows of it is not listed."
    for aspect, differences in groups(comparison):
        yield ""
        yield f"{capital(aspect)} ({len(differences)})"
        for difference in differences:
            place = where(comparison, difference)
            yield f"  {place}: {difference.sentence}" if place else f"  {difference.sentence}"


def as_markdown(comparison: Comparison) -> str:
    """The comparison as Markdown; text from the scores is shown as it is, never carried out."""
    return "\n".join(_markdown_lines(comparison)) + "\n"


def _markdown_lines(comparison: Comparison) -> Iterator[str]:
    yield f"# {_plain(comparison.before.name)} and {_plain(comparison.after.name)}"
    yield ""
    yield f"**{comparison.summary}**"
    for transposition in comparison.transpositions:
        yield ""
        yield f"{_plain(transposition.sentence)} What follows of it is not listed."
    for aspect, differences in groups(comparison):
        yield ""
        yield f"## {capital(aspect)} ({counted(len(differences), 'difference')})"
        yield ""
        yield "| Where | What |"
        yield "| --- | --- |"
        for difference in differences:
            place = _plain(where(comparison, difference)) or "Whole score"
            yield f"| {place} | {_plain(difference.sentence)} |"


def _plain(text: str) -> str:
    """Text whose signs Markdown does not take for its own."""
    return _MARKDOWN.sub(r"\\\1", visible(text).replace("\n", " "))


def as_json(comparison: Comparison) -> dict[str, Any]:
    """The comparison as JSON content; exact fractions are texts."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "before": _file(comparison.before),
        "after": _file(comparison.after),
        "verdict": comparison.verdict.value,
        "summary": comparison.summary,
        "identical": comparison.is_identical,
        "equal_music": comparison.is_equal_music,
        "parts": [
            {"before": pair.before or None, "after": pair.after or None, "name": pair.name}
            for pair in comparison.parts
        ],
        "measures": [list(pair) for pair in comparison.measures],
        "transpositions": [_transposition(t) for t in comparison.transpositions],
        "counts": {aspect.value: comparison.counts.get(aspect, 0) for aspect in Aspect},
        "differences": [_difference(d) for d in comparison.differences],
    }


def _file(file: File) -> dict[str, str]:
    return {"file": file.name, "sha256": file.sha256}


def _transposition(transposition: Transposition) -> dict[str, Any]:
    return {
        "interval": str(transposition.interval),
        "semitones": transposition.interval.semitones,
        "parts": list(transposition.parts),
        "explained": transposition.explained,
        "notes": transposition.notes,
        "sentence": transposition.sentence,
    }


def _difference(difference: Difference) -> dict[str, Any]:
    offset = difference.offset
    return {
        "class": difference.aspect.value,
        "kind": difference.kind.value,
        "part": difference.part or None,
        "also": list(difference.also),
        "place_before": _place(difference.place_before),
        "place_after": _place(difference.place_after),
        "offset": None if offset is None else quarters_text(offset),
        "beat": difference.beat or None,
        "staff": difference.staff or None,
        "voice": difference.voice or None,
        "before": difference.before or None,
        "after": difference.after or None,
        "sentence": difference.sentence,
        "notes_before": [str(note) for note in difference.notes_before],
        "notes_after": [str(note) for note in difference.notes_after],
    }


def _place(place: MeasurePlace | None) -> dict[str, Any] | None:
    return None if place is None else {"index": place.index, "measure": place.number}
