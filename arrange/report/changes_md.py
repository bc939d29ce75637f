"""The change log as a harpist reads it, in Markdown."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any

from arrange.harp.wording import key_in_words, note_in_signs
from arrange.pipeline import Conversion
from arrange.pitch import UNISON, Interval, Pitch
from arrange.report.comparing.wording import interval_text
from arrange.report.lever_records import Record
from arrange.report.plain_text import in_markdown
from arrange.report.rule_cards import RuleCard
from arrange.report.sign_off import decision_lines
from arrange.score.model import Finding
from arrange.units import Quarters

_FIDELITIES = {
    "EXACT": "sounds the same",
    "IDIOMATIC": "register or voicing moves",
    "LOSSY": "notes or harmony go",
}
_MANY = 6
"""So many notes of one change are named; of more, how many there are."""
_FEW = 3
"""Of changes that say the same, so many kinds are named by their notes."""
_EDITOR = {"editor": "What the editor wrote into the result."}


def changes_markdown(conversion: Conversion, record: Record) -> str:
    """The change log: the piece, the levers, what was changed and why, what is left.

    Args:
        conversion: what came of it.
        record: its summary.
    """
    return "\n".join(_Log(conversion, record).lines()) + "\n"


class _Log:
    def __init__(self, conversion: Conversion, record: Record) -> None:
        self._record = record
        self._title = conversion.score.title or record["source"]["file"]
        self._findings = conversion.log.findings
        self._score = conversion.score
        self._rules = {rule.id: RuleCard.of(type(rule)).summary
                       for rule in conversion.settings.book.rules}  # fmt: skip

    def lines(self) -> Iterator[str]:
        yield f"# {in_markdown(self._title)}: what was changed"
        yield ""
        yield from self._head()
        yield from self._levers()
        yield from self._changes()
        yield from self._not_carried_out()
        decided = decision_lines(self._record)
        yield from _section("Decided by people", [in_markdown(line) for line in decided])
        yield from _section("Open points", [_open_line(point) for point in self._record["open"]])
        yield from _section("Noticed", [_finding_line(f) for f in self._findings])

    def _head(self) -> Iterator[str]:
        record = self._record
        harp, key = record["harp"], record["key"]
        yield f"- Source: {in_markdown(record['source']['file'])}"
        yield f"- Result: {in_markdown(record['result']['file'])}"
        strings = harp["strings"]
        yield (
            f"- Harp: {in_markdown(harp['name'])}, {len(strings)} strings, "
            f"{strings[0]['string']} to {strings[-1]['string']}, {in_markdown(harp['tuning'])} "
            f"tuning; rule book: {in_markdown(record['book'])}"
        )
        yield f"- Key: {_key(key['to'])} ({_moved(key)})"
        check, audit = record["check"], record["audit"]
        playable = "can be played as written" if check["playable"] else "cannot be played"
        accounted = "accounted for" if audit["accounted"] else "not accounted for"
        yield f"- Replayed on this harp: {playable}; every difference is {accounted}."
        yield ""

    def _levers(self) -> Iterator[str]:
        levers = self._record["levers"]
        raised = [entry["string"] for entry in levers["initial"] if entry["position"] == "up"]
        yield "## Levers"
        yield ""
        yield f"- Up at the start: {', '.join(raised) or 'none'}"
        moves = levers["moves"]
        yield f"- Moves while playing: {len(moves)}"
        if moves:
            yield ""
            yield "| measure | beat | string | lever | becomes | hand | time to spare |"
            yield "|---|---|---|---|---|---|---|"
            yield from map(self._move_row, moves)
        yield ""

    def _move_row(self, move: Mapping[str, Any]) -> str:
        passes = move["passes"]
        when = f" (time {', '.join(map(str, passes))})" if passes else ""
        cells = (
            in_markdown(move["measure"]) + when,
            self._beat(move["part"], move["index"], move["offset"]),
            move["string"],
            move["position"],
            self._sounding(move["string"], move["position"]),
            move["hand"],
            f"{move['slack_s']:.2f} s",
        )
        return f"| {' | '.join(cells)} |"

    def _sounding(self, string: str, position: str) -> str:
        for entry in self._record["harp"]["strings"]:
            if entry["string"] == string:
                pitch = entry["raised"] if position == "up" else entry["open"]
                return note_in_signs(Pitch.parse(pitch)) if pitch else ""
        return ""

    def _beat(self, part: str, index: int, offset: str) -> str:
        return self._score.measure(part, index).meter.count(Quarters(offset))

    def _changes(self) -> Iterator[str]:
        applied = [c for c in self._record["changes"] if c["outcome"] == "APPLIED"]
        yield f"## Changes ({len(applied)})"
        yield ""
        if not applied:
            yield "None."
            yield ""
        for rule, group in groupby(applied, key=lambda change: str(change["rule"])):
            yield from self._rule(rule, list(group))

    def _not_carried_out(self) -> Iterator[str]:
        rest = [c for c in self._record["changes"] if c["outcome"] != "APPLIED"]
        lines = [f"{c['outcome'].lower()}: {self._change_line([c])}" for c in rest]
        yield from _section("Proposed and not carried out", lines)

    def _rule(self, rule: str, changes: Sequence[Mapping[str, Any]]) -> Iterator[str]:
        yield f"### {in_markdown(rule)} ({len(changes)})"
        yield ""
        summary = self._rules.get(rule) or _EDITOR.get(rule, "")
        if summary:
            yield in_markdown(summary)
            yield ""
        for alike in _alike(changes):
            yield f"- {self._change_line(alike)}"
            for option in alike[0]["options"]:
                if not option["taken"]:
                    yield f"  - or: {_option(option)}"
        yield ""

    def _change_line(self, alike: Sequence[Mapping[str, Any]]) -> str:
        """Changes that one sentence speaks of, with the measures in which they are made."""
        change = alike[0]
        parts = self._record["parts"]
        named = f"part {in_markdown(change['part'])}, " if len(parts) > 1 else ""
        whats = dict.fromkeys(map(_what, alike))
        what = "".join(whats) if len(whats) <= _FEW else ""
        return (
            f"{named}{_measures(alike)}{what}: "
            f"{in_markdown(change['reason'])} *{_FIDELITIES[change['fidelity']]}*"
        )


def _alike(changes: Sequence[Mapping[str, Any]]) -> list[list[Mapping[str, Any]]]:
    """The changes of a rule, those together that say the same and were weighed alike.

    Marks are together only where they are the same marks.
    """
    found: dict[tuple[object, ...], list[Mapping[str, Any]]] = {}
    for change in changes:
        ways = (tuple(sorted(option.items())) for option in change["options"])
        mark = "" if change["kind"] == "note" else _what(change)
        key = (change["part"], mark, change["reason"], change["fidelity"], *ways)
        found.setdefault(key, []).append(change)
    return list(found.values())


def _measures(alike: Sequence[Mapping[str, Any]]) -> str:
    """``measure 4``, ``measures 4 (2 times), 6``."""
    times = Counter(in_markdown(change["measure"]) for change in alike)
    if len(alike) == 1:
        return f"measure {next(iter(times))}"
    said = (f"{number} ({n} times)" if n > 1 else number for number, n in times.items())
    return f"measure{'s' if len(times) > 1 else ''} {', '.join(said)}"


def _what(change: Mapping[str, Any]) -> str:
    """``, C1 → C2``: the notes or words of a change; of many, how many."""
    sides = []
    for side in (change["before"], change["after"]):
        said = [value.get("pitch") or f"“{value.get('text', '')}”" for value in side]
        many = f"{len(said)} {'notes' if change['kind'] == 'note' else 'marks'}"
        sides.append(in_markdown(" ".join(said)) if len(said) <= _MANY else many)
    if sides[0] == sides[1]:
        return ""
    return f", {sides[0] or 'nothing'} → {sides[1] or 'nothing'}"


def _option(option: Mapping[str, Any]) -> str:
    cost = option["cost"]
    price = "cannot be done" if cost is None else f"price {cost / 100:.2f} lever moves"
    return f"{in_markdown(option['text'])} ({price})"


def _open_line(point: Mapping[str, Any]) -> str:
    notes = f", {', '.join(point['pitches'])}" if point["pitches"] else ""
    tried = "; ".join(in_markdown(s).rstrip(".") for s in point["suggestions"])
    return (
        f"measure {in_markdown(point['measure'])}, staff {point['staff']}{notes}: "
        f"{in_markdown(point['problem'])}" + (f" Perhaps: {tried}." if tried else "")
    )


def _finding_line(finding: Finding) -> str:
    place = f"measure {in_markdown(finding.measure)}: " if finding.measure else ""
    return f"{place}{in_markdown(finding.text)}"


def _section(title: str, lines: Sequence[str]) -> Iterator[str]:
    yield f"## {title} ({len(lines)})" if lines else f"## {title}"
    yield ""
    yield from (f"- {line}" for line in lines or ["none"])
    yield ""


def _moved(key: Mapping[str, Any]) -> str:
    interval = Interval.parse(key["transposition"]["interval"])
    if interval == UNISON:
        return "kept"
    return f"from {_key(key['from'])}, {interval_text(interval)}"


def _key(name: str) -> str:
    return in_markdown(key_in_words(name))
