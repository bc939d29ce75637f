"""Converts scores one after the other, writes what came of each and says so."""

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from arrange.changes import Outcome, to_lines
from arrange.cli import asking, targets
from arrange.cli.codes import ExitCode, worst
from arrange.cli.streams import Progress, complain, complain_of_fault, note, say
from arrange.cli.targets import Target
from arrange.errors import BadInput
from arrange.pipeline import Conversion, Settings, convert
from arrange.report.summary import summary
from arrange.score.container import Source
from arrange.score.packing import packed, unpacked

_SHOWN = 5
"""So many open points or faults are named on the screen; all stand in the summary."""


@dataclass
class Run:
    """One command's conversions.

    Attributes:
        scores: the score files; *out*: where results go, None for beside each score.
        settings: what every conversion is asked for.
        is_folder: results go into the folder *out* whatever their number.
    """

    scores: list[Path]
    out: Path | None
    settings: Settings
    is_folder: bool = False
    taken: dict[Path, Path] = field(default_factory=dict)
    progress: Progress = field(default_factory=Progress)

    def code(self) -> ExitCode:
        """Convert all of them and return the worst code."""
        if self.out is not None and (len(self.scores) > 1 or self.out.is_dir()):
            self.is_folder = True
        if self.is_folder and self.out is not None and self.out.is_file():
            raise BadInput("is a file; several scores go into a folder", file=str(self.out))
        return worst([self._one(score) for score in self.scores])

    def _one(self, score: Path) -> ExitCode:
        try:
            code = self._converted(score)
        except BadInput as error:
            self.progress.clear()
            complain(str(error))
            code = ExitCode.MISUSE
        except Exception as error:  # noqa: BLE001 - one score's fault must not stop the others
            self.progress.clear()
            complain_of_fault(error, score.name)
            code = ExitCode.FAULT
        return code

    def _converted(self, score: Path) -> ExitCode:
        source = asking.score_file(score)
        target = self._target(score, source)
        targets.require_free(target, self.scores, self.taken)
        self.taken[target.key] = score
        source = _in_container_of(target, source)
        conversion = convert(
            source, self.settings, lambda doing: self.progress(f"{score.name}: {doing}")
        )
        record = summary(
            conversion,
            result_name=target.result.name,
            source_sha256=asking.fingerprint(score)["sha256"],
        )
        self.progress.clear()
        for remark in source.notes:
            note(f"{score.name}: {remark}")
        return _written(score, target, conversion, record)

    def _target(self, score: Path, source: Source) -> Target:
        suffix = ".musicxml" if source.archive is None else ".mxl"
        if self.out is None:
            return targets.beside_source(score, suffix)
        if self.is_folder:
            return targets.in_folder(self.out, score, suffix)
        return Target(self.out)


def _in_container_of(target: Target, source: Source) -> Source:
    """The source, plain or in an archive as the result's name says."""
    suffix = target.result.suffix.lower()
    if suffix == targets.PACKED_SUFFIX:
        return packed(source)
    return unpacked(source) if suffix in targets.PLAIN_SUFFIXES else source


def _written(
    score: Path, target: Target, conversion: Conversion, record: dict[str, Any]
) -> ExitCode:
    log = to_lines(conversion.log, _header(record)).encode()
    told = (json.dumps(record, indent=2, ensure_ascii=False) + "\n").encode()
    if not conversion.is_sound:
        kept = target.beside("rejected")
        targets.write_files(
            {
                kept: conversion.result,
                target.beside("rejected.changes.jsonl"): log,
                target.beside("rejected.summary.json"): told,
            }
        )
        _complain_of(score, kept, conversion)
        return ExitCode.FAULT
    contents = {
        target.result: conversion.result,
        target.beside("changes.jsonl"): log,
        target.beside("summary.json"): told,
    }
    if asking.is_imported(score):
        contents[target.beside("imported.musicxml")] = conversion.source.score_bytes
    targets.write_files(contents)
    _tell(target, conversion, record)
    return ExitCode.OPEN if record["open"] else ExitCode.DONE


def _header(record: dict[str, Any]) -> dict[str, Any]:
    return {
        "source": record["source"],
        "result": record["result"],
        "harp": record["harp"]["name"],
        "book": record["book"],
    }


def _complain_of(score: Path, kept: Path, conversion: Conversion) -> None:
    faults = [f"measure {v.measure}: {v.problem}" for v in conversion.violations]
    faults += conversion.unlogged
    complain(
        f"{score.name}: a fault of the program, please report it: the result fails its own "
        f"{'check' if conversion.violations else 'audit'} and is kept as {kept}"
    )
    for fault in faults[:_SHOWN]:
        note(fault)
    if len(faults) > _SHOWN:
        note(f"and {len(faults) - _SHOWN} more, in {kept}.summary.json")


def _tell(target: Target, conversion: Conversion, record: dict[str, Any]) -> None:
    said = "already written for this harp, left as it is" if conversion.is_again else _key(record)
    applied = sum(1 for entry in conversion.log.entries if entry.outcome is Outcome.APPLIED)
    points = record["open"]
    counts = (
        _counted(len(record["levers"]["moves"]), "lever move"),
        _counted(applied, "change"),
        _counted(len(points), "open point"),
    )
    say(f"{target.result}: {', '.join((said, *counts))}")
    for point in points[:_SHOWN]:
        notes = f", {', '.join(point['pitches'])}" if point["pitches"] else ""
        say(f"  open: part {point['part']}, measure {point['measure']}{notes}: {point['problem']}")
    if len(points) > _SHOWN:
        say(f"  and {len(points) - _SHOWN} more, in {target.beside('summary.json')}")


def _counted(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"


def _key(record: dict[str, Any]) -> str:
    key = record["key"]
    if key["from"] == key["to"]:
        return f"{key['to']} kept"
    return f"{key['from']} to {key['to']} ({key['transposition']['interval']})"
