"""The options that commands share, in one wording; nothing of the engine is loaded for them."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

DEFAULT_HARP = "lever-34"
DEFAULT_BOOK = "concert"
FINGERING = "write-fingering"
"""The rule that ``--fingering`` asks for."""


class Furthest(StrEnum):
    """How far a change may go without being asked for."""

    EXACT = "exact"
    IDIOMATIC = "idiomatic"
    LOSSY = "lossy"


class PaperName(StrEnum):
    """What is printed on."""

    A4 = "a4"
    LETTER = "letter"


Score = Annotated[Path, typer.Argument(metavar="SCORE", help="The score file.")]
HarpName = Annotated[
    str, typer.Option("--harp", metavar="NAME|FILE.toml", help="The harp; see `harps`.")
]
BookName = Annotated[
    str, typer.Option("--book", metavar="NAME|FILE.toml", help="The rule book; see `rules`.")
]
HarpNames = Annotated[
    list[str] | None,
    typer.Option(
        "--harp",
        metavar="NAME|FILE.toml",
        help=f"The harp; see `harps`. Several give a version each. [default: {DEFAULT_HARP}]",
    ),
]
BookNames = Annotated[
    list[str] | None,
    typer.Option(
        "--book",
        metavar="NAME|FILE.toml",
        help="The rule book or level; see `rules`. Several give a version each. "
        f"[default: {DEFAULT_BOOK}]",
    ),
]
PartNames = Annotated[
    list[str] | None,
    typer.Option(
        "--part",
        metavar="NAME",
        help="A part that the harp plays, by name or id; may be repeated.",
    ),
]
MelodyNames = Annotated[
    list[str] | None,
    typer.Option(
        "--melody",
        metavar="STAFF[/VOICE]",
        help="Where the melody is, if it is not found: 1 is the upper staff; may be repeated.",
    ),
]
TempoText = Annotated[
    str, typer.Option("--tempo", metavar="BPM", help="Quarters a minute, in place of the score's.")
]
DecisionsFile = Annotated[
    Path | None,
    typer.Option(
        "--decisions",
        metavar="FILE.toml",
        help="What was declined, chosen otherwise or pinned; the review page writes it.",
    ),
]
KeyText = Annotated[
    str,
    typer.Option(
        "--key",
        metavar="auto|keep|INTERVAL",
        help="Choose the key, keep it, or move by m3, -P4, ...",
    ),
]
TransposeAll = Annotated[
    bool, typer.Option("--transpose-all", help="Other parts move with the harp.")
]
FurthestChange = Annotated[
    Furthest,
    typer.Option("--fidelity", help="The furthest that a change may go without being asked for."),
]
WithFingering = Annotated[
    bool, typer.Option("--fingering", help="Write fingers, and brackets for placing, as well.")
]
WithMarkdown = Annotated[
    bool, typer.Option("--markdown", help="Also the change log to read, NAME.changes.md.")
]
WithPdf = Annotated[
    bool, typer.Option("--pdf", help="Also the printed pages, NAME.pdf, and their proof.")
]
WithSignOff = Annotated[
    bool, typer.Option("--sign-off", help="Also a sheet to sign, NAME.sign-off.html and .md.")
]
WithReview = Annotated[
    bool,
    typer.Option(
        "--review", help="Also the page to look at, hear and decide on, NAME.review.html."
    ),
]
EditedFile = Annotated[
    Path | None,
    typer.Option(
        "--edited",
        metavar="RESULT",
        help="An earlier result of the score that was edited by hand: plan anew where it was.",
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Write one JSON document to stdout.")]
PaperChoice = Annotated[PaperName, typer.Option("--paper", help="What is printed on.")]
