"""``leverwright demo``: converts the scores that come with the program."""

from pathlib import Path
from typing import Annotated

import typer

from arrange.cli.options import DEFAULT_HARP, HarpName
from arrange.cli.streams import say

_SCORES = ("musicxml", "mxl")


def add_to(app: typer.Typer) -> None:
    """Add the command."""
    app.command(help="Convert the demo scores and say where the results are.")(demo)


def demo(
    folder: Annotated[Path, typer.Argument(metavar="[DIR]", help="Where results go.")] = Path(
        "leverwright-demo"
    ),
    harp: HarpName = DEFAULT_HARP,
) -> int:
    """Convert the demo scores."""
    from importlib import resources

    from arrange.cli import asking
    from arrange.cli.converting import Run
    from arrange.pipeline import Settings

    harp_file, book = asking.harp_and_book(harp)
    with resources.as_file(resources.files("corpus")) as corpus:
        scores = sorted(p for p in corpus.iterdir() if p.suffix.lstrip(".") in _SCORES)
        code = Run(scores, folder, Settings(harp_file.harp, book), is_folder=True).code()
        say(f"{len(scores)} scores from {corpus}; the results are in {folder.resolve()}")
    return code
