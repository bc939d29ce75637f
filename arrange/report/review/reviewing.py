"""A conversion as a page: what changed, seen and heard, and the editor's say."""

from typing import Any

from arrange.changes import Outcome
from arrange.check import Instructions
from arrange.decisions import decisions_basis
from arrange.harp.harp import Harp
from arrange.harp.wording import key_in_words
from arrange.phrasing import counted
from arrange.pipeline import Conversion
from arrange.report.comparing.wording import beat_text
from arrange.report.listening import note_id, timeline
from arrange.report.review.decided import decided_rows
from arrange.report.review.entries import Entry, change_entries, open_entries, signed
from arrange.report.review.harp_picture import harp_picture, setting_text
from arrange.report.review.page import Page, page_html
from arrange.report.review.payload import packed_json
from arrange.report.review.preview import Side
from arrange.report.review.sheets import Sheets, sheets
from arrange.report.review.touched import Moved, Tracing
from arrange.score.container import read_source_bytes
from arrange.score.model import Finding, Score
from arrange.units import Quarters, quarters_text


def review_page(conversion: Conversion, record: dict[str, Any]) -> str:
    """The review page of a conversion, as HTML.

    Args:
        conversion: what came of it.
        record: its summary; names and hashes of the files are taken from there.

    Raises:
        BadInput: the engraver is not installed, or cannot draw one of the scores.
    """
    names = record["source"]["file"], record["result"]["file"]
    parts = conversion.settings.parts
    before = Side.read(conversion.source.score_bytes, names[0], parts)
    result = read_source_bytes(conversion.result, names[1])
    after = Side.read(result.score_bytes, names[1], parts)
    count = max(before.count, after.count)
    drawn = sheets(before, after, [(i, i) for i in range(count)], names)
    return page_html(
        Page(
            kind="Review",
            title=conversion.score.title or names[0],
            facts=_facts(record),
            figures=_figures(conversion, record),
            sheets=drawn,
            content=_content(conversion, record, drawn, (before, after)),
            harps=tuple(_harps(conversion.settings.harp, conversion.instructions)),
            remarks=tuple(map(_remark, conversion.log.findings)),
        )
    )


def _facts(record: dict[str, Any]) -> tuple[str, ...]:
    key, harp = record["key"], record["harp"]
    old, new = key_in_words(key["from"]), key_in_words(key["to"])
    moved = f"{old} kept" if old == new else f"{old} to {new}"
    lowest, highest = harp["strings"][0]["string"], harp["strings"][-1]["string"]
    strings = f"{counted(len(harp['strings']), 'string')}, {lowest} to {highest}"
    tuned = f"tuned in {signed(harp['tuning'])}"
    return (
        f"{moved}. Harp: {harp['name']}, {strings}, {tuned}. Rule book: {record['book']}.",
        f"Before: {record['source']['file']}. After: {record['result']['file']}.",
    )


def _figures(conversion: Conversion, record: dict[str, Any]) -> tuple[tuple[str, str], ...]:
    applied = sum(entry.outcome is Outcome.APPLIED for entry in conversion.log.entries)
    moves, points = len(record["levers"]["moves"]), len(record["open"])
    sound = "played through and compared: nothing left over"
    verdict = sound if conversion.is_sound else "fails its own check"
    return (
        (str(applied), "change" if applied == 1 else "changes"),
        (str(moves), "lever move" if moves == 1 else "lever moves"),
        (str(points), "open point" if points == 1 else "open points"),
        ("✓" if conversion.is_sound else "!", verdict),
    )


def _remark(finding: Finding) -> str:
    return f"Measure {finding.measure}: {finding.text}" if finding.measure else finding.text


def _harps(harp: Harp, instructions: Instructions) -> list[tuple[str, str]]:
    many = len(instructions.harps) > 1
    found = []
    for number, told in enumerate(instructions.harps):
        title = f"Harp {number + 1}" if many else "The harp"
        words = setting_text(harp, told.initial)
        title = f"{title}, {harp.name}: {counted(len(harp.strings), 'string')}. {words}"
        found.append((harp_picture(harp, told.initial, number, title), words))
    return found


def _content(
    conversion: Conversion, record: dict[str, Any], drawn: Sheets, sides: tuple[Side, Side]
) -> dict[str, Any]:
    log, score = conversion.log, sides[1].score
    columns = drawn.places(2)
    tracing = Tracing(
        sides[0].score, score, Moved(conversion.interval, conversion.transposed_parts)
    )
    entries = change_entries(log, tracing.touched(log.entries), score, columns)
    entries += open_entries(record["open"], score, columns)
    entries.sort(key=lambda entry: (entry["column"], Quarters(entry["offset"])))
    source = record["source"]
    return {
        "entries": entries,
        "moves": _moves(record, columns),
        "basis": decisions_basis(
            conversion.before, log, file=source["file"], sha256=source["sha256"]
        ),
        "decided": decided_rows(conversion.settings.decisions),
        "result": record["result"]["sha256"],
        "part": score.harp_parts[0],
        "keys": record["key"]["ranking"],
        "key": record["key"]["transposition"]["interval"],
        "strings": record["harp"]["strings"],
        "notes": packed_json(_notes(sides[0].score)),
        "listening": [
            packed_json(timeline(conversion.before)),
            packed_json(timeline(score, conversion.settings.harp, conversion.instructions)),
        ],
    }


def _moves(record: dict[str, Any], columns: dict[int, int]) -> list[Entry]:
    return [
        {
            "column": columns.get(move["index"], -1),
            "string": move["string"],
            "position": move["position"],
            "hand": move["hand"],
            "measure": move["measure"],
        }
        for move in record["levers"]["moves"]
    ]


def _notes(score: Score) -> dict[str, list[Any]]:
    """What pinning needs to know of each note of the source, by its id in the page."""
    return {
        note_id(note.id): [
            note.id.part,
            note.id.index,
            measure.number,
            quarters_text(note.offset),
            note.staff,
            note.voice,
            note.id.key,
            str(note.pitch),
            beat_text(note.offset, measure.meter),
        ]
        for part in score.parts
        for measure in part.measures
        for note in measure.notes
    }
