"""``leverwright fit``: what each key would take on a harp, or on several."""

from typing import Annotated

import typer

from arrange.cli.options import (
    DEFAULT_BOOK,
    DEFAULT_HARP,
    AsJson,
    BookName,
    MelodyNames,
    PartNames,
    Score,
    TempoText,
)
from arrange.cli.streams import Progress, note, say, say_json

ALL = "all"

HarpNames = Annotated[
    list[str] | None,
    typer.Option(
        "--harp",
        metavar="NAME|FILE.toml|all",
        help=f"A harp, or all that ship; may be repeated. [default: {DEFAULT_HARP}]",
    ),
]


def add_to(app: typer.Typer) -> None:
    """Add the command."""
    app.command(help="Weigh every key of a score, on one harp or several.")(fit)


def fit(
    score: Score,
    *,
    harp: HarpNames = None,
    book: BookName = DEFAULT_BOOK,
    part: PartNames = None,
    melody: MelodyNames = None,
    tempo: TempoText = "",
    json: AsJson = False,
) -> int:
    """Weigh every key of a score."""
    from arrange import fitting
    from arrange.cli import asking
    from arrange.harp.files import harp_names
    from arrange.pipeline import Settings
    from arrange.pipeline.lightening import lightened
    from arrange.report.fit_pages import fit_record, fit_text
    from arrange.score.opening import open_score

    asked = harp or [DEFAULT_HARP]
    names = dict.fromkeys(n for name in asked for n in (harp_names() if name == ALL else (name,)))
    versions = []
    for name in names:
        harp_file, rule_book = asking.harp_and_book(name, book)
        versions.append(Settings(harp_file.harp, rule_book))
    progress = Progress()
    progress(f"reading {score.name}")
    source = open_score(score)
    document, reading = asking.opened(source, part, tempo, asking.melody(melody))
    harps = [(v.terms, lightened(document, reading, v)) for v in versions]
    found = fitting.fit(reading.score(), harps, progress=progress)
    progress.clear()
    for remark in asking.remarks(source, found.score):
        note(remark)
    if json:
        say_json(fit_record(found, asking.fingerprint(score)))
    else:
        say(fit_text(found))
    return 0
