"""What goes to the screen: results to stdout; progress, notes and errors to stderr."""

import json
import sys
import traceback
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import typer

NAME = "leverwright"


def say(text: str) -> None:
    """Write what was asked for."""
    typer.echo(text)


def say_json(content: Mapping[str, Any]) -> None:
    """Write one JSON document."""
    typer.echo(json.dumps(content, indent=2))


def note(text: str) -> None:
    """Write one line beside the result."""
    typer.echo(" ".join(text.split()), err=True)


def complain(text: str) -> None:
    """Write one line that says what is wrong."""
    note(f"{NAME}: {text}")


def complain_of_fault(error: Exception, about: str = "") -> None:
    """Write one line about a fault of the program, with the place in the code."""
    frames = traceback.extract_tb(error.__traceback__)
    place = f" ({Path(frames[-1].filename).name}:{frames[-1].lineno})" if frames else ""
    said = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
    where = f"{about}: " if about else ""
    complain(f"{where}a fault of the program, please report it: {said}{place}")


class Progress:
    """A line on stderr that says what is being done, where that is a terminal."""

    def __init__(self) -> None:
        self._is_shown = sys.stderr.isatty()
        self._width = 0

    def __call__(self, text: str) -> None:
        """Show *text* in place of what was shown before."""
        if self._is_shown:
            sys.stderr.write("\r" + text.ljust(self._width))
            sys.stderr.flush()
            self._width = len(text)

    def clear(self) -> None:
        """Take the line away, so that other lines stand alone."""
        if self._width:
            self("")
            sys.stderr.write("\r")
            self._width = 0
