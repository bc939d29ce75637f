"""Decisions that a conversion was made with, as the page goes on with them."""

from typing import Any

from arrange.decisions import Decision, Decisions, Place
from arrange.units import quarters_text

Row = dict[str, Any]


def decided_rows(decisions: Decisions | None) -> dict[str, Any]:
    """What an earlier file says, row by row, so that the page's own file keeps it.

    Returns:
        ``all``: whether everything is declined; ``rows``: of each entry its ``table`` and its
        ``row``, as the file has them.
    """
    if decisions is None:
        return {"all": False, "rows": []}
    return {"all": decisions.declines_all, "rows": [_row(entry) for entry in decisions.entries]}


def _row(entry: Decision) -> Row:
    row: Row = {"kind": entry.kind.value} if entry.kind.is_pin else {}
    row |= {
        "change": entry.change,
        "rule": entry.rule,
        "anchor": entry.anchor,
        "sentence": entry.sentence,
        "option": entry.option,
        "pitch": "" if entry.pitch is None else str(entry.pitch),
        "key": entry.key,
        "string": entry.string,
        "by": entry.by,
        "note": entry.note,
    }
    row = {name: value for name, value in row.items() if value}
    if not entry.kind.is_pin:
        row["nth"] = entry.nth
    if entry.string:
        row["position"] = entry.position.value
    if entry.place is not None:
        row["place"] = _place(entry.place)
    return {"table": "pin" if entry.kind.is_pin else entry.kind.value, "row": row}


def _place(place: Place) -> Row:
    told: Row = {
        "part": place.part,
        "index": place.index,
        "measure": place.measure,
        "offset": quarters_text(place.offset),
        "staff": place.staff,
        "voice": place.voice,
        "note": place.note,
    }
    unsaid = {"index": -1, "measure": "", "staff": 0, "voice": "", "note": ""}
    return {name: value for name, value in told.items() if unsaid.get(name) != value}
