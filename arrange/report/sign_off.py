"""The sign-off sheet: what was changed, what was decided by whom, what is open; on one page."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from arrange.harp.wording import key_in_words
from arrange.phrasing import counted
from arrange.pitch import UNISON, Interval
from arrange.report.comparing.wording import interval_text
from arrange.report.lever_records import Record
from arrange.report.proofs.records import Proof
from arrange.report.proofs.records import sentence as proof_sentence

CAUTIONS = (
    "An arrangement of a protected work needs its owner's leave, whoever makes it.",
    "An edition may be protected where the work is not.",
    "No string is to be tuned above the pitch that it is made for.",
)
SIGNED = ("Arranger", "Editor", "Player or teacher")
FIDELITIES = ("EXACT", "IDIOMATIC", "LOSSY")
_LINES = 24
"""So many rules, decisions, open points and findings the page has room for."""
_RULES = 16
"""So many rules have a row of their own; what the others did stands in one more."""
_LEAST = 2
"""Of each list at least so many are named; of more, how many there are."""
_LONGEST = 115
"""Of a longer sentence the page shows the beginning; the whole stands in the summary."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """What stands on the sheet; every text as it is, escaped only where it is written.

    Attributes:
        facts: name and value of what the piece is and for which harp.
        rules: for each rule its changes by fidelity (exact, idiomatic, lossy) and in all.
        others: outcomes other than applied, with how many changes had them.
        lists: headings with what stands under them.
    """

    title: str
    facts: tuple[tuple[str, str], ...]
    rules: tuple[tuple[str, tuple[int, ...]], ...]
    others: tuple[tuple[str, int], ...]
    lists: tuple[tuple[str, tuple[str, ...]], ...]

    @property
    def sums(self) -> tuple[int, ...]:
        """The last row of the table."""
        return tuple(sum(column) for column in zip(*(c for _, c in self.rules), strict=True)) or (
            0,
        ) * (len(FIDELITIES) + 1)


def sign_off_sheet(record: Record, title: str, proof: Proof | None = None) -> Sheet:
    """Gather the sheet.

    Args:
        record: the summary of a conversion.
        title: the piece.
        proof: of the printed pages, where one was made.
    """
    applied = [c for c in record["changes"] if c["outcome"] == "APPLIED"]
    counts = Counter((c["rule"], c["fidelity"]) for c in applied)
    rules = []
    for rule in dict.fromkeys(c["rule"] for c in applied):
        row = tuple(counts[rule, fidelity] for fidelity in FIDELITIES)
        rules.append((rule, (*row, sum(row))))
    if len(rules) > _RULES:
        rest = tuple(map(sum, zip(*(row for _, row in rules[_RULES:]), strict=True)))
        rules[_RULES:] = [(f"{len(rules) - _RULES} other rules", rest)]
    others = Counter(c["outcome"].lower() for c in record["changes"] if c["outcome"] != "APPLIED")
    return Sheet(
        title or record["source"]["file"],
        tuple(_facts(record)),
        tuple(rules),
        tuple(sorted(others.items())),
        tuple(_lists(record, proof, max((_LINES - len(rules)) // 3, _LEAST))),
    )


def _facts(record: Record) -> Iterator[tuple[str, str]]:
    harp, key = record["harp"], record["key"]
    yield "Source", f"{record['source']['file']} ({record['source']['sha256'][:12]})"
    yield "Result", f"{record['result']['file']} ({record['result']['sha256'][:12]})"
    yield "Harp", f"{harp['name']}, {len(harp['strings'])} strings, tuning {harp['tuning']}"
    yield "Rule book", record["book"]
    interval = Interval.parse(key["transposition"]["interval"])
    how = "kept" if interval == UNISON else interval_text(interval)
    yield "Key", f"{key_in_words(key['to'])} ({how})"
    applied = [c["kind"] for c in record["changes"] if c["outcome"] == "APPLIED"]
    notes = counted(applied.count("note"), "change")
    yield "Changes", f"{notes} of notes, {applied.count('mark')} of words and signs"
    levers = record["levers"]
    raised = sum(1 for entry in levers["initial"] if entry["position"] == "up")
    yield "Levers", f"{raised} up at the start, {counted(len(levers['moves']), 'move')}"
    check, audit = record["check"], record["audit"]
    yield (
        "Check",
        "playable as written"
        if check["playable"]
        else f"{counted(len(check['violations']), 'thing')} cannot be played",
    )
    yield (
        "Audit",
        "every difference is in the log"
        if audit["accounted"]
        else f"{counted(len(audit['unlogged']), 'difference')} not in the log",
    )


def _lists(
    record: Record, proof: Proof | None, most: int
) -> Iterator[tuple[str, tuple[str, ...]]]:
    yield _list("Decided by people", decision_lines(record), most)
    yield _list("Open", [_open(point) for point in record["open"]], most)
    if proof is not None:
        yield _list(
            f"Proof ({counted(proof.pages, 'page')} of {proof.paper.upper()})",
            [proof_sentence(f) for f in proof.findings],
            most,
        )
    yield "Cautions", CAUTIONS


def decision_lines(record: Record) -> list[str]:
    """What people decided, a sentence each, with who did; from the summary of a conversion."""
    decisions = record.get("decisions")
    if not decisions:
        return []
    all_of_it = ["every change is declined"] if decisions.get("all_declined") else []
    return all_of_it + [_decision(entry) for entry in decisions["entries"]]


def _list(title: str, texts: Sequence[str], most: int) -> tuple[str, tuple[str, ...]]:
    if not texts:
        return title, ("nothing",)
    named = texts if len(texts) <= most else texts[: most - 1]
    shown = tuple(
        text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1].rstrip()}…" for text in named
    )
    if len(texts) > len(named):
        shown += (f"and {len(texts) - len(named)} more",)
    return f"{title}: {len(texts)}", shown


_KINDS = {"decline": "declined", "choose": "another way chosen", "pin": "pinned",
          "accept": "accepted"}  # fmt: skip


def _decision(entry: Mapping[str, Any]) -> str:
    place = entry.get("place") or {}
    measure = f"measure {place['measure']}: " if place.get("measure") else ""
    by = f", by {entry['by']}" if entry.get("by") else ", by someone who gave no name"
    outcome = str(entry.get("outcome", "")).lower()
    unheeded = f" ({outcome}: {entry.get('detail', '')})" if outcome in _UNHEEDED else ""
    return f"{measure}{_KINDS.get(entry['kind'], entry['kind'])}: {entry['what']}{by}{unheeded}"


_UNHEEDED = ("stale", "refused")


def _open(point: Mapping[str, Any]) -> str:
    notes = f", {', '.join(point['pitches'])}" if point["pitches"] else ""
    return f"measure {point['measure']}{notes}: {point['problem']}"
