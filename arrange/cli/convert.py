"""``leverwright convert``: rewrites scores for a lever harp."""

from pathlib import Path
from typing import Annotated

import typer

from arrange.cli.options import (
    DEFAULT_BOOK,
    DEFAULT_HARP,
    FINGERING,
    BookNames,
    DecisionsFile,
    EditedFile,
    Furthest,
    FurthestChange,
    HarpNames,
    KeyText,
    MelodyNames,
    PaperChoice,
    PaperName,
    PartNames,
    TempoText,
    TransposeAll,
    WithFingering,
    WithMarkdown,
    WithPdf,
    WithReview,
    WithSignOff,
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
    harp: HarpNames = None,
    book: BookNames = None,
    key: KeyText = "auto",
    part: PartNames = None,
    transpose_all: TransposeAll = False,
    melody: MelodyNames = None,
    tempo: TempoText = "",
    fidelity: FurthestChange = Furthest.LOSSY,
    decisions: DecisionsFile = None,
    edited: EditedFile = None,
    fingering: WithFingering = False,
    markdown: WithMarkdown = False,
    pdf: WithPdf = False,
    sign_off: WithSignOff = False,
    paper: PaperChoice = PaperName.A4,
    review: WithReview = False,
) -> int:
    """Rewrite scores for a lever harp."""
    from arrange.changes import Fidelity
    from arrange.cli import asking
    from arrange.cli.converting import Run
    from arrange.cli.versions import Versions
    from arrange.decisions import read_decisions
    from arrange.errors import BadInput
    from arrange.pipeline import Settings
    from arrange.report.engraving.papers import PAPERS
    from arrange.report.extras import Extras

    asked = (FINGERING,) if fingering else ()
    if edited is not None:
        made_for = asking.made_for(edited)
        harp, book = harp or [made_for["harp"]], book or [made_for["book"]]
    versions = [
        Settings(
            harp=harp_file.harp,
            book=rule_book,
            key=asking.key(key),
            parts=tuple(part or ()),
            transpose_all=transpose_all,
            tempo=asking.tempo(tempo),
            limit=Fidelity(fidelity.name),
            decisions=None if decisions is None else read_decisions(decisions),
            melody=asking.melody(melody),
        )
        for harp_name in dict.fromkeys(harp or [DEFAULT_HARP])
        for book_name in dict.fromkeys(book or [DEFAULT_BOOK])
        for harp_file, rule_book in (asking.harp_and_book(harp_name, book_name, asked),)
    ]
    if decisions is not None and len(scores) * len(versions) > 1:
        raise BadInput(
            "decisions are about one score for one harp; convert it alone", file=decisions.name
        )
    if edited is not None and len(scores) * len(versions) > 1:
        raise BadInput("is the result of one score for one harp", file=edited.name)
    is_folder = out.endswith(("/", "\\"))
    extras = Extras(markdown, pdf, sign_off, PAPERS[paper.value], review)
    folder = Path(out) if out else None
    if len(versions) > 1:
        return Versions(scores, folder, versions, extras).code()
    return Run(scores, folder, versions[0], is_folder, extras, edited=edited).code()
