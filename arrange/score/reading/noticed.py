"""What is worth a line in the log once the whole score is read."""

from collections.abc import Sequence

from arrange.score.model import Finding, MarkKind, Measure, Part
from arrange.score.reading.finding_harp import is_harp_name
from arrange.score.reading.measures import ReadMeasure
from arrange.score.reading.order import Performance


def at_the_ends(part: Part, read: Sequence[ReadMeasure]) -> list[Finding]:
    """What is missing at the start of a part, or still open at its end."""
    findings = []
    first, last = read[0], read[-1]
    if not first.after.has_meter:
        findings.append(
            Finding(
                "No time signature at the start; four quarters a measure are assumed for beats.",
                part.id, 0, first.measure.number,
            )
        )  # fmt: skip
    if last.after.octave_lines:
        findings.append(
            Finding(
                "An octave line is never closed; the pitches are read as they sound.",
                part.id, last.measure.index, last.measure.number,
            )
        )  # fmt: skip
    return findings


def harp_words(parts: Sequence[Part]) -> list[Finding]:
    """Words in a part of another name that call for a harp: the first in each part."""
    findings = []
    for part in parts:
        if is_harp_name(part.name):
            continue
        for measure in part.measures:
            if any(m.kind is MarkKind.WORDS and is_harp_name(m.text) for m in measure.marks):
                text = f"Words in '{part.name or part.id}' ask for a harp; the whole part is read."
                findings.append(Finding(text, part.id, measure.index, measure.number))
                break
    return findings


def order_findings(performed: Performance, parts: Sequence[Part]) -> list[Finding]:
    """What is odd about the order of play, and which measures it leaves out."""
    longest = max(parts, key=_count).measures
    findings = [
        Finding(text, index=index, measure=longest[index].number)
        for index, text in performed.oddities
    ]
    played = set(performed.performed)
    missed = [measure for measure in longest if measure.index not in played]
    if missed:
        numbers = ", ".join(_runs(missed))
        findings.append(
            Finding(
                f"By the repeat signs these measures are never played: {numbers}.",
                index=missed[0].index,
                measure=missed[0].number,
            )
        )
    return findings


def _count(part: Part) -> int:
    return len(part.measures)


def _runs(measures: Sequence[Measure]) -> list[str]:
    """Printed numbers, those that follow each other as ``3-7``."""
    runs: list[list[Measure]] = []
    for measure in measures:
        if runs and runs[-1][-1].index == measure.index - 1:
            runs[-1].append(measure)
        else:
            runs.append([measure])
    return [
        run[0].number if len(run) == 1 else f"{run[0].number}-{run[-1].number}" for run in runs
    ]
