"""Faults planted into a good result: each function returns a spoilt copy, or None.

They work on any real result: ``result`` is its bytes (``.musicxml`` or ``.mxl``), ``summary``
the loaded summary file. The hash in the summary is kept right, so that only the planted fault
is there to be found.
"""

import copy
import hashlib
import json
from bisect import bisect_left
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from lxml import etree

from referee import opening, pitches
from referee.clock import Clock
from referee.levers import Act, Replay
from referee.plucks import Performance, Pluck
from referee.reading import read_sheet
from referee.summary import Summary, read_summary
from referee.sweeps import Tones

INSTANT = Fraction(1, 256)
"""Quarters after a pluck where a move is planted too late or too early."""

Rows = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Planted:
    """A result with one fault in it; *what* says which, in words."""

    what: str
    result: bytes
    summary: Rows

    def write(self, result: Path, summary: Path) -> None:
        """Write both files."""
        result.write_bytes(self.result)
        summary.write_text(json.dumps(self.summary, default=float))


Plant = Callable[[bytes, Mapping[str, Any]], Planted | None]


def copied(summary: Mapping[str, Any]) -> Rows:
    """A copy that may be spoilt."""
    return copy.deepcopy(dict(summary))


def middle(count: int) -> int:
    """The one in the middle."""
    return count // 2


def played(result: bytes, summary: Mapping[str, Any]) -> list[tuple[Replay, list[Pluck]]]:
    """The replays of a good result, harp by harp."""
    told: Summary = read_summary(summary)
    sheet = read_sheet(opening.tree_of(result))
    clock, tones = Clock(sheet, told), Tones(sheet, told)
    replays = []
    for harp in told.harps():
        plucks = Performance(sheet, told, clock, harp).play(tones)
        replay = Replay(told, clock, plucks, harp)
        replay.run()
        replays.append((replay, replay.plucks))
    return replays


def served(act: Act, plucks: list[Pluck]) -> Pluck | None:
    """The first pluck that the move was made for."""
    after = [
        p
        for p in plucks
        if p.string == act.move.string and p.when > act.when and len(p.names) == 1
    ]
    return after[0] if after else None


def with_move(summary: Mapping[str, Any], row: int, at: Pluck, offset: Fraction) -> Rows:
    """The summary with one move at another place."""
    rows = copied(summary)
    place = rows["levers"]["moves"][row]
    place["index"], place["offset"] = at.index, str(offset)
    place["measure"] = measure_number(rows, place, at.index)
    return rows


def measure_number(rows: Rows, place: Rows, index: int) -> str:
    """A printed number that the summary already knows for *index*, else the move's own."""
    for list_name in ("changes", "open", "glissandi"):
        for row in rows[list_name]:
            if row["index"] == index and row["part"] == place["part"]:
                return str(row["measure"])
    return str(place["measure"])


def note_moved(result: bytes, summary: Mapping[str, Any]) -> Planted | None:
    """A note of the harp is an octave away, and no change says so."""
    root = opening.tree_of(result)
    harp = {row["string"] for row in summary["harp"]["strings"]}
    choices = []
    for part, measures in opening.measures_by_part(root).items():
        if part not in summary["parts"]:
            continue
        for note in (n for m in measures for n in m.iterchildren("note")):
            plain = all(note.find(tag) is None for tag in ("tie", "cue", "grace"))
            step, octave = note.findtext("pitch/step"), note.findtext("pitch/octave")
            if not plain or step is None or octave is None:
                continue
            near = [o for o in (int(octave) + 1, int(octave) - 1) if f"{step}{o}" in harp]
            if near:
                choices.append((note, near[0]))
    if not choices:
        return None
    note, octave_now = choices[middle(len(choices))]
    element = note.find("pitch/octave")
    if element is not None:
        element.text = str(octave_now)
    spoilt = etree.tostring(root, xml_declaration=True, encoding="UTF-8")
    content = opening.with_score(result, spoilt)
    rows = copied(summary)
    rows["result"]["sha256"] = hashlib.sha256(content).hexdigest()
    return Planted("a note moved an octave", content, rows)


def move_dropped(result: bytes, summary: Mapping[str, Any]) -> Planted | None:
    """A move that a later note needs is not in the plan."""
    acts = [(act, p) for act, p in acts_served(result, summary) if p is not None]
    if not acts:
        return None
    act, pluck = acts[middle(len(acts))]
    rows = copied(summary)
    del rows["levers"]["moves"][act.move.row]
    return Planted(f"the move for {pluck.names[0]} dropped", result, rows)


def acts_served(result: bytes, summary: Mapping[str, Any]) -> list[tuple[Act, Pluck | None]]:
    """Every move that is really made, with the pluck that it is for."""
    return [
        (act, served(act, plucks))
        for replay, plucks in played(result, summary)
        for act in replay.acts
    ]


def move_after_its_note(result: bytes, summary: Mapping[str, Any]) -> Planted | None:
    """A move comes just after the note that it was made for."""
    acts = [(act, p) for act, p in acts_served(result, summary) if p is not None]
    if not acts:
        return None
    act, pluck = acts[middle(len(acts))]
    rows = with_move(summary, act.move.row, pluck, pluck.offset + INSTANT)
    return Planted(f"the move for {pluck.names[0]} comes after it", result, rows)


def move_under_the_hand(result: bytes, summary: Mapping[str, Any]) -> Planted | None:
    """A move is late: it ends where its own hand strikes the next strings."""
    for replay, plucks in played(result, summary):
        for act in replay.acts:
            strikes = replay.moments.get(act.move.hand, [])
            at = bisect_left(strikes, act.when)
            if at >= len(strikes):
                continue
            struck = next(
                (p for p in plucks if p.when == strikes[at] and p.hands == {act.move.hand}), None
            )
            if struck is not None and not struck.swept:
                rows = with_move(summary, act.move.row, struck, struck.offset)
                return Planted(f"the move of {act.move.string} has no hand", result, rows)
    return None


def move_on_a_ringing_string(result: bytes, summary: Mapping[str, Any]) -> Planted | None:
    """A move is made just after its string was plucked."""
    for replay, plucks in played(result, summary):
        for act in replay.acts:
            before = [p for p in plucks if p.string == act.move.string and p.when < act.when]
            if before and not before[-1].swept and not before[-1].damped:
                pluck = before[-1]
                rows = with_move(summary, act.move.row, pluck, pluck.offset + INSTANT)
                return Planted(f"{act.move.string} moved while it rings", result, rows)
    return None


def log_line_removed(result: bytes, summary: Mapping[str, Any]) -> Planted | None:
    """An applied change is not in the log; of notes where there is one."""
    rows = copied(summary)
    applied = [c for c in rows["changes"] if c["outcome"] == "APPLIED"]
    notes = [c for c in applied if c["kind"] == "note"]
    choices = notes or applied
    if not choices:
        return None
    gone = choices[middle(len(choices))]
    rows["changes"] = [c for c in rows["changes"] if c is not gone]
    return Planted(f"the log line of {gone['rule']} removed", result, rows)


def mark_line_removed(result: bytes, summary: Mapping[str, Any]) -> Planted | None:
    """An applied change of a mark is not in the log."""
    rows = copied(summary)
    marks = [c for c in rows["changes"] if c["outcome"] == "APPLIED" and c["kind"] == "mark"]
    if not marks:
        return None
    rows["changes"] = [c for c in rows["changes"] if c is not marks[-1]]
    return Planted(f"the log line of {marks[-1]['rule']} removed", result, rows)


def initial_wrong(result: bytes, summary: Mapping[str, Any]) -> Planted | None:
    """A lever stands wrong before the first note that needs it."""
    rows = copied(summary)
    moved = {row["string"] for row in rows["levers"]["moves"]}
    for _, plucks in played(result, summary):
        for pluck in plucks:
            for row in rows["levers"]["initial"]:
                fixed = row["string"] not in moved and bool(pluck.names)
                if row["string"] == pluck.string and fixed:
                    row["position"] = "down" if row["position"] == "up" else "up"
                    what = f"{pluck.string} stands {row['position']} at first"
                    return Planted(what, result, rows)
    return None


def string_missing(result: bytes, summary: Mapping[str, Any]) -> Planted | None:
    """The harp lacks the lowest string that is played."""
    rows = copied(summary)
    names = {p.string for _, plucks in played(result, summary) for p in plucks}
    known = [row for row in rows["harp"]["strings"] if row["string"] in names]
    if not known:
        return None
    low = min(known, key=lambda row: pitches.semitone(row["open"]))["string"]
    rows["harp"]["strings"] = [r for r in rows["harp"]["strings"] if r["string"] != low]
    rows["levers"]["initial"] = [r for r in rows["levers"]["initial"] if r["string"] != low]
    return Planted(f"no string {low}", result, rows)


PLANTS: tuple[Plant, ...] = (
    note_moved,
    move_dropped,
    move_after_its_note,
    move_under_the_hand,
    move_on_a_ringing_string,
    log_line_removed,
    mark_line_removed,
    initial_wrong,
    string_missing,
)


def every_planted(result: bytes, summary: Mapping[str, Any]) -> list[Planted]:
    """Every fault that this result can be given."""
    spoilt = (plant(result, summary) for plant in PLANTS)
    return [planted for planted in spoilt if planted is not None]
