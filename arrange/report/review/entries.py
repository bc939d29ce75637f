"""What the page lists: changes, open points and differences, each as a JSON object.

An entry has ``id`` (a change's id, or empty), ``rule`` (a rule, or a class of differences),
``kind``, ``what``, ``where``, ``why``, ``fidelity``, ``outcome``, ``detail``, ``options``,
``depends`` (ids), ``column`` (the column of measures, -1 for none), ``before`` and ``after``
(ids of notes and marks to tint).
"""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from arrange.changes import ChangeLog, LogEntry, Option
from arrange.changes.records import Where
from arrange.edits import Edit, NoteValue, SetPitch, WriteRun, is_note_edit, values
from arrange.phrasing import capital, counted
from arrange.report.comparing.forms import where as place_of
from arrange.report.comparing.records import ABOUT, Comparison, Difference
from arrange.report.comparing.wording import beat_text, visible
from arrange.report.listening import note_id
from arrange.report.review.touched import Touched
from arrange.score.model import Score
from arrange.units import Quarters, quarters_text

Entry = dict[str, Any]
_SIGNED = re.compile(r"\b[A-G](?:b\b|#)")
_TOLD = 4
"""So many notes are told of one change; the rest is counted."""


def change_entries(
    log: ChangeLog, touched: Sequence[Touched], score: Score, columns: Mapping[int, int]
) -> list[Entry]:
    """The changes of a log.

    Args:
        log: the log.
        touched: one for each of its entries.
        score: the result, for the places.
        columns: the column of each measure of the result.
    """
    return [
        {
            "id": entry.change.id,
            "rule": entry.change.rule,
            "kind": "note" if entry.change.is_of_notes else "mark",
            "what": visible(_what(entry)),
            "where": visible(_where(entry.change.where, score)),
            "why": visible(entry.change.reason),
            "fidelity": entry.change.fidelity.value,
            "outcome": entry.outcome.value,
            "detail": visible(entry.detail),
            "options": [_option(option) for option in entry.change.options],
            "depends": list(entry.change.depends_on),
            "column": columns.get(entry.change.where.index, -1),
            "offset": quarters_text(entry.change.where.offset),
            "before": list(hit.before),
            "after": list(hit.after),
        }
        for entry, hit in zip(log.entries, touched, strict=True)
    ]


def open_entries(
    points: Sequence[Mapping[str, Any]], score: Score, columns: Mapping[int, int]
) -> list[Entry]:
    """The open points of a summary, in the same shape; what could be done is an option."""
    return [
        {
            "id": "",
            "rule": "open point",
            "kind": "open",
            "what": visible(", ".join(map(signed, point["pitches"])) or "Left open"),
            "where": visible(_where(_place(point), score)),
            "why": visible(point["problem"]),
            "fidelity": "",
            "outcome": "OPEN",
            "detail": "",
            "options": [
                {
                    "text": visible(text),
                    "cost": None,
                    "taken": False,
                    "key": "",
                    "choosable": False,
                }
                for text in point["suggestions"]
            ],
            "depends": [],
            "column": columns.get(point["index"], -1),
            "offset": point["offset"],
            "before": [],
            "after": _open_notes(_place(point), point["pitches"], score),
        }
        for point in points
    ]


def _place(point: Mapping[str, Any]) -> Where:
    offset = Quarters(point["offset"])
    return Where(point["part"], point["index"], point["measure"], offset, point["staff"])


def difference_entries(
    comparison: Comparison, columns: tuple[Mapping[int, int], Mapping[int, int]]
) -> list[Entry]:
    """The differences of a comparison.

    Args:
        comparison: of any two scores.
        columns: the column of each measure before, and of each after.
    """
    return [_difference(comparison, d, columns) for d in comparison.differences]


def _difference(
    comparison: Comparison,
    difference: Difference,
    columns: tuple[Mapping[int, int], Mapping[int, int]],
) -> Entry:
    column = -1
    if difference.place_after is not None:
        column = columns[1].get(difference.place_after.index, -1)
    elif difference.place_before is not None:
        column = columns[0].get(difference.place_before.index, -1)
    return {
        "id": "",
        "rule": difference.aspect.value,
        "kind": difference.aspect.value,
        "what": visible(difference.sentence),
        "where": visible(place_of(comparison, difference) or "Whole score"),
        "why": "",
        "fidelity": "",
        "outcome": difference.kind.value,
        "detail": ABOUT[difference.aspect],
        "options": [],
        "depends": [],
        "column": column,
        "before": [note_id(event) for event in difference.notes_before],
        "after": [note_id(event) for event in difference.notes_after],
    }


def signed(pitch: object) -> str:
    """``C♯4`` for ``C#4``."""
    text = str(pitch)
    return text[:1] + text[1:].replace("#", "♯").replace("b", "♭")


def _sign(found: re.Match[str]) -> str:
    return signed(found[0])


def _option(option: Option) -> Entry:
    return {
        "text": visible(option.text),
        "cost": option.cost,
        "taken": option.taken,
        "key": option.key,
        "choosable": option.is_choosable,
    }


def _where(where: Where, score: Score) -> str:
    part = score.by_part.get(where.part)
    if part is None or not 0 <= where.index < len(part.measures):
        return "the whole score"
    pieces = [f"measure {where.measure or where.index + 1}"]
    beat = beat_text(where.offset, part.measures[where.index].meter)
    pieces += [beat] if beat else []
    if part.staves > 1 and where.staff:
        pieces.append(f"staff {where.staff}")
    if len(score.parts) > 1:
        pieces.insert(0, part.name or part.id)
    return ", ".join(pieces)


def _what(entry: LogEntry) -> str:
    told = [_edit(edit) for edit in entry.change.edits[:_TOLD]]
    more = len(entry.change.edits) - len(told)
    if more:
        told.append(f"and {counted(more, 'more', 'more')}")
    return capital("; ".join(told))


def _edit(edit: Edit) -> str:
    before, after = values(edit.before), values(edit.after)
    if isinstance(edit, WriteRun):
        old = ", ".join(signed(v.pitch) for v in edit.before[:_TOLD])
        first, last = edit.after[0].pitch, edit.after[-1].pitch
        run = f"{counted(len(after), 'note')}, {signed(first)} to {signed(last)}"
        return f"{old or 'nothing'} is written as {run}"
    if isinstance(edit, SetPitch):
        return f"{signed(edit.before.pitch)} → {signed(edit.after.pitch)}"
    if is_note_edit(edit):
        return _note(before, after)
    one = _SIGNED.sub(_sign, " ".join(v.text for v in before if not isinstance(v, NoteValue)))
    two = _SIGNED.sub(_sign, " ".join(v.text for v in after if not isinstance(v, NoteValue)))
    if one and two:
        return f"“{one}” → “{two}”"
    return f"“{one}” taken away" if one else f"“{two}” added"


def _note(before: Sequence[object], after: Sequence[object]) -> str:
    one = [v for v in before if isinstance(v, NoteValue)]
    two = [v for v in after if isinstance(v, NoteValue)]
    if one and two:
        is_shorter = two[0].duration < one[0].duration
        return f"{signed(one[0].pitch)} written {'shorter' if is_shorter else 'longer'}"
    if one:
        return f"{signed(one[0].pitch)} left out"
    return f"{signed(two[0].pitch)} added"


def _open_notes(where: Where, pitches: Sequence[str], score: Score) -> list[str]:
    part = score.by_part.get(where.part)
    if part is None or not 0 <= where.index < len(part.measures):
        return []
    return [
        note_id(note.id)
        for note in part.measures[where.index].notes
        if note.offset == where.offset and note.staff == where.staff and str(note.pitch) in pitches
    ]
