"""A report about a fault of the program, to be sent to its makers: no music in it."""

import platform
import re
import traceback

from arrange.bulk.fingerprints import program_version, sha256
from arrange.errors import LeverwrightError
from arrange.pipeline import Conversion, Settings

_PITCH = re.compile(r"\b[A-G](?:(?:#+|b+)?-?\d\b|[ -](?:natural|sharp|flat)\b)")
_INTRODUCTION = (
    "A fault of the program. Please send this file to its makers. It holds no music: names of",
    "pitches are covered, and the words of an error are left out, as they may quote the score.",
    "",
)


def report_of_error(error: BaseException, raw: bytes, settings: Settings) -> bytes:
    """What went wrong in the program, and where in its code."""
    said = [f"error: {type(error).__name__}"]
    if isinstance(error, LeverwrightError):
        said.append(f"words: {_covered(str(error))}")
    said.append("where, outermost first:")
    for frame, line in traceback.walk_tb(error.__traceback__):
        module = frame.f_globals.get("__name__", "?")
        said.append(f"  {module}, line {line}, in {frame.f_code.co_name}")
    return _report(said, raw, settings)


def report_of_rejection(conversion: Conversion, raw: bytes) -> bytes:
    """What the program's own check or audit found in a result."""
    said = ["error: the result fails its own check or audit"]
    said += [
        f"  check, measure index {violation.index}: {_covered(violation.problem)}"
        for violation in conversion.violations
    ]
    said += [f"  audit: {_covered(text)}" for text in conversion.unlogged]
    return _report(said, raw, conversion.settings)


def report_of_death(how: str, raw: bytes, settings: Settings) -> bytes:
    """The worker ended in the middle of the piece."""
    return _report([f"error: the worker ended ({how}), whenever it was tried"], raw, settings)


def _report(said: list[str], raw: bytes, settings: Settings) -> bytes:
    asked = {
        "program": program_version(),
        "python": platform.python_version(),
        "system": platform.system(),
        "source": f"{len(raw)} bytes, sha256 {sha256(raw)}",
        "harp": f"{len(settings.harp.strings)} strings, {settings.harp.tuning}",
        "book": settings.book.name if not settings.book.name.endswith(".toml") else "a file",
        "key": settings.key,
        "fidelity": settings.limit.name,
        "transpose all": str(settings.transpose_all),
    }
    lines = [*_INTRODUCTION, *(f"{name}: {value}" for name, value in asked.items()), "", *said]
    return ("\n".join(lines) + "\n").encode()


def _covered(text: str) -> str:
    return _PITCH.sub("(pitch)", " ".join(text.split()))
