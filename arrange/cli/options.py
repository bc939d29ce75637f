"""The options that commands share, in one wording; nothing of the engine is loaded for them."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

DEFAULT_HARP = "lever-34"
DEFAULT_BOOK = "concert"


class Furthest(StrEnum):
    """How far a change may go without being asked for."""

    EXACT = "exact"
    IDIOMATIC = "idiomatic"
    LOSSY = "lossy"


Score = Annotated[Path, typer.Argument(metavar="SCORE", help="The score file.")]
HarpName = Annotated[
    str, typer.Option("--harp", metavar="NAME|FILE.toml", help="The harp; see `harps`.")
]
BookName = Annotated[
    str, typer.Option("--book", metavar="NAME|FILE.toml", help="The rule book; see `rules`.")
]
PartNames = Annotated[
    list[str] | None,
    typer.Option(
        "--part",
        metavar="NAME",
        help="A part that the harp plays, by name or id; may be repeated.",
    ),
]
TempoText = Annotated[
    str, typer.Option("--tempo", metavar="BPM", help="Quarters a minute, in place of the score's.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Write one JSON document to stdout.")]
