"""Converts scores in several versions, a harp and a rule book each, and shows them together."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from arrange.cli.codes import ExitCode, worst
from arrange.cli.converting import Run
from arrange.cli.streams import complain, say
from arrange.errors import BadInput
from arrange.pipeline import Settings, shared_keys
from arrange.report.extras import Extras
from arrange.report.versions import Version, versions_text
from arrange.score.opening import open_score


@dataclass
class Versions:
    """One command's conversions of each score for several harps or levels.

    Attributes:
        scores: the score files; *out*: the folder of the results, None for beside each score.
        settings: one a version; nothing differs but harp and book.
        extras: what else is written beside each result.
    """

    scores: list[Path]
    out: Path | None
    settings: Sequence[Settings]
    extras: Extras
    taken: dict[Path, Path] = field(default_factory=dict)

    def code(self) -> ExitCode:
        """Convert all of them, show each score's versions side by side, return the worst code."""
        if self.out is not None and self.out.is_file():
            raise BadInput("is a file; several versions go into a folder", file=str(self.out))
        return worst([code for score in self.scores for code in self._of_score(score)])

    def _of_score(self, score: Path) -> Iterator[ExitCode]:
        try:
            keys = shared_keys(open_score(score), self.settings)
        except BadInput as error:
            complain(str(error))
            yield ExitCode.MISUSE
            return
        made: list[Version] = []
        for settings, key in zip(self.settings, keys, strict=True):
            run = Run(
                [score],
                self.out or score.parent,
                replace(settings, key=key),
                is_folder=True,
                extras=self.extras,
                taken=self.taken,
                version=f"{settings.harp.name}.{Path(settings.book.name).stem}",
            )
            yield run.code()
            made += run.made
        if len(made) > 1:
            say(versions_text(made))
