"""The overview of a folder as one page: opens from disk, needs no network, can be sorted."""

import base64
import hashlib
from collections.abc import Iterable, Iterator
from html import escape
from importlib import resources
from urllib.parse import quote

from arrange.bulk.facts import Facts
from arrange.bulk.outcomes import PieceOutcome
from arrange.bulk.pictures import share_picture, strip
from arrange.bulk.rows import Overview, Row
from arrange.study.difficulty import Level

_CLASSES = {
    PieceOutcome.CONVERTED: "converted",
    PieceOutcome.OPEN: "open",
    PieceOutcome.REFUSED: "refused",
    PieceOutcome.FAILED: "failed",
}
_MINUTES = (
    "Minutes are an estimate (house judgement): one to open a piece, four for each open point, "
    "one for each suggestion, half for each change that takes something away, a tenth for each "
    "lever move."
)


def page(overview: Overview) -> str:
    """The page, whole."""
    style, script = _asset("overview.css"), _asset("overview.js")
    policy = (
        f"default-src 'none'; style-src {_digest(style)}; script-src {_digest(script)}; "
        "base-uri 'none'; form-action 'none'"
    )
    return "\n".join(
        [
            '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>Pieces for lever harp</title>\n<style>{style}</style>\n</head>\n<body>",
            *_head(overview),
            *_queue(overview),
            *_all(overview),
            *_gone(overview),
            f"<script>{script}</script>\n</body>\n</html>\n",
        ]
    )


def _asset(name: str) -> str:
    return (resources.files("arrange.bulk") / "assets" / name).read_text("utf-8")


def _digest(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _head(overview: Overview) -> Iterator[str]:
    counts = overview.counts
    said = ", ".join(f"{counts.get(o, 0)} {o.value}" for o in PieceOutcome)
    yield "<h1>Pieces for lever harp</h1>"
    yield f"<p>{len(overview.rows)} results for {_listed(overview.harps)}: {said}.</p>"
    if overview.unknown:
        yield (
            f"<p>The last run was stopped: {overview.unknown} are still to be done. Run it again."
            "</p>"
        )
    yield share_picture(counts)


def _listed(names: Iterable[str]) -> str:
    return escape(", ".join(names)) or "no harp"


def _queue(overview: Overview) -> Iterator[str]:
    queue = overview.queue
    yield "<h2>For an editor</h2>"
    if not queue:
        yield '<p class="quiet">No piece waits for an editor.</p>'
        return
    total = sum(row.minutes for row in queue)
    yield f"<p>{len(queue)} pieces, about {total:,} minutes in all; the quickest come first.</p>"
    yield f'<p class="quiet">{_MINUTES}</p><div class="frame"><table id="queue">'
    yield (
        "<thead><tr>"
        + "".join(
            f'<th scope="col"{kind}>{name}</th>'
            for name, kind in (
                ("Piece", ""),
                ("Harp", ""),
                ("Minutes", ' class="number"'),
                ("Open points", ' class="number"'),
                ("Where", ""),
            )
        )
        + "</tr></thead><tbody>"
    )
    for row in queue:
        facts = row.entry.facts or Facts()
        cells = (
            _text(row.entry.source, _link(row.review or row.result, row.entry.source), "piece"),
            _text(row.entry.harp),
            _number(row.minutes),
            _number(facts.open_points),
            f"<td>{strip(facts)}</td>",
        )
        yield f"<tr>{''.join(cells)}</tr>"
    yield "</tbody></table></div>"


def _all(overview: Overview) -> Iterator[str]:
    yield '<h2>All pieces</h2><p class="tools"><label>Only rows with '
    yield '<input id="filter" type="search"></label> <span id="shown" aria-live="polite"></span>'
    yield "</p>"
    yield '<div class="frame"><table id="pieces" class="sortable"><caption>'
    yield "Choose a heading to sort. Changes are exact where all sounds the same, idiomatic where "
    yield "register or voicing moves, lossy where notes or harmony go.</caption><thead><tr>"
    heads = ["Piece", "Harp", "Outcome", "Key", "#Exact", "#Idiomatic", "#Lossy", "Rules"]
    heads += ["#Moves", "#Open", "Difficulty", "#Minutes"]
    for head in heads:
        kind = ' class="number"' if head.startswith("#") else ""
        name = head.removeprefix("#")
        yield f'<th scope="col"{kind}><button type="button">{name}</button></th>'
    yield '<th scope="col">Moves and open points</th></tr></thead><tbody>'
    for row in overview.rows:
        yield f"<tr>{''.join(_cells(row))}</tr>"
    yield "</tbody></table></div>"


def _cells(row: Row) -> Iterator[str]:
    entry, facts = row.entry, row.entry.facts
    yield _text(entry.source, _names(row), "piece")
    yield _text(entry.harp, kind="whole")
    yield _text(entry.outcome.value, _outcome(row), _CLASSES[entry.outcome])
    if facts is None:
        yield '<td data-key=""></td>' * 9 + "<td></td>"
        return
    yield _text(facts.key_to, _key(facts), "whole")
    for fidelity in ("EXACT", "IDIOMATIC", "LOSSY"):
        yield _number(facts.by_fidelity.get(fidelity, 0))
    rules = ", ".join(f"{rule} {count}" for rule, count in facts.by_rule.items())
    if facts.suggested:
        rules += f"; {facts.suggested} only suggested"
    yield _text(rules, kind="small")
    yield _number(facts.moves)
    yield _number(facts.open_points)
    order = str(int(Level.called(facts.difficulty))) if facts.difficulty else ""
    yield _text(order, escape(facts.difficulty), "whole")
    yield _number(row.minutes or "")
    yield f"<td>{strip(facts)}</td>"


def _names(row: Row) -> str:
    shown = _link(row.result, row.entry.source)
    if row.review:
        shown += f" ({_link(row.review, 'review')})"
    if row.report:
        shown += f" ({_link(row.report, 'report')})"
    if row.is_edited:
        shown += ' <span class="quiet">edited by hand since</span>'
    return shown


def _outcome(row: Row) -> str:
    said = escape(row.entry.outcome.value)
    return f"{said}: {escape(row.entry.reason)}" if row.entry.reason else said


def _key(facts: Facts) -> str:
    if facts.key_from == facts.key_to:
        return f"{escape(facts.key_to)}, kept"
    return f"{escape(facts.key_from)} to {escape(facts.key_to)} ({escape(facts.interval)})"


def _gone(overview: Overview) -> Iterator[str]:
    if overview.gone:
        yield "<h2>Sources that are gone</h2>"
        yield '<p class="quiet">Their results were kept; take them away by hand.</p><ul>'
        yield from (f"<li>{escape(source)}</li>" for source in overview.gone)
        yield "</ul>"


def _text(key: str, shown: str = "", kind: str = "") -> str:
    named = f' class="{kind}"' if kind else ""
    return f'<td{named} data-key="{escape(key.lower())}">{shown or escape(key)}</td>'


def _number(key: int | str) -> str:
    return f'<td class="number" data-key="{key}">{key}</td>'


def _link(path: str, shown: str) -> str:
    if not path:
        return escape(shown)
    return f'<a href="{escape(quote("./" + path))}">{escape(shown)}</a>'
