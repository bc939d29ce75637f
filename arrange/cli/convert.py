"""``leverwright convert``: rewrites scores for a lever harp."""

from pathlib import Path
from typing import Annotated

import typer

from arrange.cli.options import (
    DEFAULT_BOOK,
    DEFAULT_HARP,
    BookName,
    Furthest,
    HarpName,
    PartNames,
    TempoText,
)


def add_to(app: typer.Typer) -> None:
    """Add the command."""
    app.command(help="Rewrite scores for a lever harp, with a log of every change.")(convert)


def convert(
    scores: Annotated[list[Path], typer.Argument(metavar="SCORE", help="The score files.")],
    *,
    out: Annotated[
        str,
        typer.Option(
            "-o",
            "--out",
            metavar="OUT",
            help="The result; for several scores a folder. Without it: STEM.lever.musicxml "
            "beside the score.",
        ),
    ] = "",
    harp: HarpName = DEFAULT_HARP,
    book: BookName = DEFAULT_BOOK,
    key: Annotated[
        str,
        typer.Option(
            metavar="auto|keep|INTERVAL", help="Choose the key, keep it, or move by m3, -P4, ..."
        ),
    ] = "auto",
    part: PartNames = None,
    transpose_all: Annotated[
        bool, typer.Option("--transpose-all", help="Other parts move with the harp.")
    ] = False,
    tempo: TempoText = "",
    fidelity: Annotated[
        Furthest, typer.Option(help="The furthest that a change may go without being asked for.")
    ] = Furthest.LOSSY,
) -> int:
    """Rewrite scores for a lever harp."""
    from arrange.changes import Fidelity
    from arrange.cli import asking
    from arrange.cli.converting import Run
    from arrange.pipeline import Settings

    harp_file, rule_book = asking.harp_and_book(harp, book)
    settings = Settings(
        harp=harp_file.harp,
        book=rule_book,
        key=asking.key(key),
        parts=tuple(part or ()),
        transpose_all=transpose_all,
        tempo=asking.tempo(tempo),
        limit=Fidelity(fidelity.name),
    )
    is_folder = out.endswith(("/", "\\"))
    return Run(scores, Path(out) if out else None, settings, is_folder).code()
