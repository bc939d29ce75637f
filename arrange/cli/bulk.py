"""``leverwright bulk``: a whole folder of scores, resumable."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from arrange.cli.options import (
    DEFAULT_BOOK,
    DEFAULT_HARP,
    FINGERING,
    BookName,
    Furthest,
    FurthestChange,
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

if TYPE_CHECKING:
    from arrange.bulk.crews import Crew


def add_to(app: typer.Typer) -> None:
    """Add the command."""
    app.command(help="Convert a whole folder of scores; a run that was stopped goes on.")(bulk)


def bulk(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="The folder of the scores.")],
    *,
    out: Annotated[
        Path, typer.Option("-o", "--out", metavar="OUT", help="The folder of the results.")
    ],
    harp: Annotated[
        list[str] | None,
        typer.Option(
            "--harp",
            metavar="NAME|FILE.toml",
            help="The harp; may be repeated: then each has a folder of its own in OUT.",
        ),
    ] = None,
    book: BookName = DEFAULT_BOOK,
    key: KeyText = "auto",
    part: PartNames = None,
    melody: MelodyNames = None,
    transpose_all: TransposeAll = False,
    tempo: TempoText = "",
    fidelity: FurthestChange = Furthest.LOSSY,
    fingering: WithFingering = False,
    markdown: WithMarkdown = False,
    pdf: WithPdf = False,
    sign_off: WithSignOff = False,
    paper: PaperChoice = PaperName.A4,
    review: WithReview = False,
    workers: Annotated[
        int,
        typer.Option(min=0, help="How many work at once; 0: as many as there are processors."),
    ] = 0,
    cluster: Annotated[
        str,
        typer.Option(metavar="ADDRESS", help="A Dask cluster that stands: tcp://HOST:PORT."),
    ] = "",
    seconds: Annotated[
        int, typer.Option(min=1, help="No piece may take longer; it is refused then.")
    ] = 120,
    memory: Annotated[
        int, typer.Option(min=0, metavar="MB", help="No worker may hold more; 0: any amount.")
    ] = 3000,
    largest: Annotated[
        int, typer.Option("--largest", min=1, metavar="MB", help="No file may be longer.")
    ] = 100,
    anew: Annotated[
        bool,
        typer.Option("--anew", help="Convert everything again; write over what was edited since."),
    ] = False,
    retry: Annotated[
        bool, typer.Option("--retry", help="Try again what failed, took too long or too much.")
    ] = False,
    send_scores: Annotated[
        bool, typer.Option("--send-scores", help="Put the score beside the report of a fault.")
    ] = False,
) -> int:
    """Convert a whole folder of scores; a run that was stopped goes on."""
    from importlib.util import find_spec

    from arrange.bulk.run import BulkRun
    from arrange.bulk.work import Bounds, Order, distinct
    from arrange.changes import Fidelity
    from arrange.cli import asking
    from arrange.cli.bulk_telling import Telling
    from arrange.errors import BadInput
    from arrange.pipeline import Settings
    from arrange.report.engraving.papers import PAPERS
    from arrange.report.extras import Extras
    from arrange.score.limits import Limits

    if (pdf or sign_off or review) and find_spec("verovio") is None:
        raise BadInput(
            "pages need the engraver; install it: pip install 'leverwright[review,pdf]'"
        )
    extras = Extras(markdown, pdf, sign_off, PAPERS[paper.value], review)
    asked = (FINGERING,) if fingering else ()
    orders = []
    for name in harp or [DEFAULT_HARP]:
        harp_file, rule_book = asking.harp_and_book(name, book, asked)
        settings = Settings(
            harp=harp_file.harp,
            book=rule_book,
            key=asking.key(key),
            parts=tuple(part or ()),
            transpose_all=transpose_all,
            tempo=asking.tempo(tempo),
            limit=Fidelity(fidelity.name),
            melody=asking.melody(melody),
        )
        limits = Limits(file_bytes=largest * 1_000_000)
        bounds = Bounds(seconds, memory * 1_000_000)
        orders.append(Order(settings, extras, limits, bounds, sends_score=send_scores))
    telling = Telling(out)
    run = BulkRun(
        folder,
        out,
        distinct(orders),
        lambda: _crew(workers, cluster),
        telling,
        is_anew=anew,
        retries=retry,
    )
    return telling.code_of(run)


def _crew(workers: int, cluster: str) -> "Crew":
    if cluster:
        from arrange.bulk.cluster import ClusterCrew

        return ClusterCrew(cluster)
    from arrange.bulk.crews import LocalCrew, usual_workers

    return LocalCrew(workers or usual_workers())
