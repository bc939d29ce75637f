"""What is said of a run over a folder: how far it is, what was refused, how it ended."""

import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from arrange.bulk.outcomes import PieceOutcome
from arrange.bulk.rows import Overview
from arrange.bulk.run import BulkRun, Step
from arrange.bulk.tables import PAGE
from arrange.cli.codes import ExitCode, worst
from arrange.cli.streams import Progress, complain, note, say

STOPPED = 130
"""What is returned after Ctrl-C, as shells have it (common practice)."""
_CODES = {
    PieceOutcome.CONVERTED: ExitCode.DONE,
    PieceOutcome.OPEN: ExitCode.OPEN,
    PieceOutcome.REFUSED: ExitCode.MISUSE,
    PieceOutcome.FAILED: ExitCode.FAULT,
}
_SLOWEST = 3


class Telling:
    """Says what happens in a run, on stderr; and on stdout where the overview is."""

    def __init__(self, out: Path) -> None:
        """Prepare to tell of results in the folder *out*."""
        self._out = out
        self._progress = Progress()
        self._began = time.monotonic()
        self._counts = dict.fromkeys(PieceOutcome, 0)
        self._last: Step | None = None

    def __call__(self, step: Step) -> None:
        """One piece more is settled."""
        self._last = step
        self._counts[step.outcome] += 1
        if step.note:
            self._progress.clear()
            note(_of_harp(step.note, step.harp))
        self._progress(self._line(step))

    def code_of(self, run: BulkRun) -> int:
        """Carry out the run, say how it ended, and return the exit code.

        Raises:
            BadInput: the run cannot be carried out.
        """
        self._progress("looking for scores")
        try:
            with _ended_like_ctrl_c():
                overview = run.overview()
        except KeyboardInterrupt:
            self._progress.clear()
            complain("stopped; the same command goes on where it was")
            return STOPPED
        finally:
            self._progress.clear()
        self._tell(overview)
        return worst(_CODES[row.entry.outcome] for row in overview.rows)

    def _line(self, step: Step) -> str:
        said = f"{step.done:,} of {step.total:,}"
        seconds = time.monotonic() - self._began
        if step.fresh and seconds > 0:
            rate = step.fresh / seconds
            said += f", {rate:.1f} a second, {_duration((step.total - step.done) / rate)} left"
        for outcome in (PieceOutcome.OPEN, PieceOutcome.REFUSED, PieceOutcome.FAILED):
            if self._counts[outcome]:
                said += f", {self._counts[outcome]:,} {outcome.value}"
        return said

    def _tell(self, overview: Overview) -> None:
        counts = ", ".join(f"{overview.counts[o]:,} {o.value}" for o in PieceOutcome)
        say(f"{self._out / PAGE}: {counts}")
        fresh = self._last.fresh if self._last is not None else 0
        seconds = time.monotonic() - self._began
        note(
            f"{fresh:,} done in {_duration(seconds)}, {len(overview.rows) - fresh:,} as they were"
        )
        slow = sorted(overview.rows, key=lambda row: -row.entry.seconds)[:_SLOWEST]
        is_one = len({row.entry.harp for row in overview.rows}) == 1
        told = [
            f"{_of_harp(row.entry.source, '' if is_one else row.entry.harp)} "
            f"{row.entry.seconds:.1f} s"
            for row in slow
        ]
        if fresh and told:
            note(f"slowest: {', '.join(told)}")
        if overview.gone:
            note(
                f"{len(overview.gone):,} sources of earlier runs are gone; their results were "
                f"kept: {', '.join(overview.gone[:_SLOWEST])}"
            )
        minutes = sum(row.minutes for row in overview.queue)
        if minutes:
            note(f"{len(overview.queue):,} wait for an editor, about {minutes:,} minutes in all")


def _of_harp(text: str, harp: str) -> str:
    """The text, and which harp it is about; nothing where there is only one."""
    return f"{text} [{harp}]" if harp else text


def _duration(seconds: float) -> str:
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60} s"
    return f"{whole // 3600} h {whole % 3600 // 60} min"


@contextmanager
def _ended_like_ctrl_c() -> Iterator[None]:
    """A polite request to end (SIGTERM) stops the run as Ctrl-C does."""

    def stop(_number: int, _frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)
