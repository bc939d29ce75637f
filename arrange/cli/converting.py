"""Converts scores one after the other, writes what came of each and says so."""

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from arrange.changes import Outcome
from arrange.cli import asking
from arrange.cli.codes import ExitCode, worst
from arrange.cli.streams import Progress, complain, complain_of_fault, note, say
from arrange.errors import BadInput
from arrange.phrasing import counted
from arrange.pipeline import Conversion, Settings, convert, convert_edited
from arrange.report import targets
from arrange.report.decision_records import not_carried_out
from arrange.report.extras import NOTHING, PDF, PROOF, Extras
from arrange.report.result_files import REJECTED, result_files
from arrange.report.summary import summary
from arrange.report.targets import Target
from arrange.report.versions import Version
from arrange.score.container import Source
from arrange.score.opening import is_imported, open_score

_SHOWN = 5
"""So many open points or faults are named on the screen; all stand in the summary."""


@dataclass
class Run:
    """One command's conversions.

    Attributes:
        scores: the score files; *out*: where results go, None for beside each score.
        settings: what every conversion is asked for.
        is_folder: results go into the folder *out* whatever their number.
        extras: what else is written beside each result.
        version: is put into the results' names where there are several of each score.
        edited: an earlier result of the score that was edited by hand.
        made: what has come of it so far.
    """

    scores: list[Path]
    out: Path | None
    settings: Settings
    is_folder: bool = False
    extras: Extras = NOTHING
    version: str = ""
    edited: Path | None = None
    taken: dict[Path, Path] = field(default_factory=dict)
    made: list[Version] = field(default_factory=list)
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
        source = open_score(score)
        target = self._target(score, source)
        given = [*self.scores, *([] if self.edited is None else [self.edited])]
        targets.require_free(target, given, self.taken)
        self.taken[target.key] = score
        sha256 = asking.fingerprint(score)["sha256"]
        conversion = self._conversion(score, source, target, sha256)
        if self.version:
            self.made.append(Version.of(conversion))
        record = summary(conversion, result_name=target.result.name, source_sha256=sha256)
        self.progress.clear()
        for remark in (*source.notes, *not_carried_out(conversion.settlement)):
            note(f"{score.name}: {remark}")
        return self._written(score, target, conversion, record)

    def _conversion(self, score: Path, source: Source, target: Target, sha256: str) -> Conversion:
        settings = replace(self.settings, source_sha256=sha256)

        def progress(doing: str) -> None:
            self.progress(f"{score.name}: {doing}")

        if self.edited is None:
            return convert(targets.in_container_of(target.result, source), settings, progress)
        edited = targets.in_container_of(target.result, open_score(self.edited))
        return convert_edited(source, edited, settings, progress)

    def _written(
        self, score: Path, target: Target, conversion: Conversion, record: dict[str, Any]
    ) -> ExitCode:
        files = result_files(conversion, record, is_imported=is_imported(score.name))
        if conversion.is_sound:
            files |= _extra_files(self.extras, conversion, record)
        targets.write_files({target.beside(ending): content for ending, content in files.items()})
        if not conversion.is_sound:
            _complain_of(score, target.beside(REJECTED), conversion)
            return ExitCode.FAULT
        _tell(target, conversion, record)
        if PDF in files:
            say(f"  printed: {target.beside(PDF)}; its proof: {target.beside(PROOF)}")
        return ExitCode.OPEN if record["open"] else ExitCode.DONE

    def _target(self, score: Path, source: Source) -> Target:
        if self.edited is not None and self.out is None:
            return Target(self.edited.with_name(f"{self.edited.stem}.again{self.edited.suffix}"))
        suffix = ".musicxml" if source.archive is None else ".mxl"
        if self.out is None:
            return targets.beside_source(score, suffix)
        if self.is_folder:
            return targets.in_folder(self.out, score, suffix, self.version)
        return Target(self.out)


def _extra_files(
    extras: Extras, conversion: Conversion, record: dict[str, Any]
) -> dict[str, bytes]:
    if extras == NOTHING:
        return {}
    from arrange.report.extra_files import extra_files

    return extra_files(extras, conversion, record)


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
    applied = sum(1 for entry in conversion.log.entries if entry.outcome is Outcome.APPLIED)
    said = "already written for this harp" if conversion.is_again else _key(record)
    if conversion.is_again and not applied:
        said += ", left as it is"
    points = record["open"]
    counts = (
        counted(len(record["levers"]["moves"]), "lever move"),
        counted(applied, "change"),
        counted(len(points), "open point"),
    )
    say(f"{target.result}: {', '.join((said, *counts))}")
    for point in points[:_SHOWN]:
        notes = f", {', '.join(point['pitches'])}" if point["pitches"] else ""
        say(f"  open: part {point['part']}, measure {point['measure']}{notes}: {point['problem']}")
    if len(points) > _SHOWN:
        say(f"  and {len(points) - _SHOWN} more, in {target.beside('summary.json')}")


def _key(record: dict[str, Any]) -> str:
    key = record["key"]
    if key["from"] == key["to"]:
        return f"{key['to']} kept"
    return f"{key['from']} to {key['to']} ({key['transposition']['interval']})"
