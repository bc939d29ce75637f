"""``leverwright check``: replays a score on a harp and names what cannot be played."""

from pathlib import Path
from typing import Annotated

import typer

from arrange.cli.codes import ExitCode
from arrange.cli.options import (
    DEFAULT_BOOK,
    DEFAULT_HARP,
    AsJson,
    BookName,
    HarpName,
    PartNames,
    Score,
    TempoText,
)
from arrange.cli.streams import note, say, say_json


def add_to(app: typer.Typer) -> None:
    """Add the command."""
    app.command(help="Replay a score on a harp and name all that cannot be played.")(check)


def check(
    score: Score,
    *,
    harp: HarpName = DEFAULT_HARP,
    summary: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The summary that was written with the score."),
    ] = None,
    book: BookName = DEFAULT_BOOK,
    part: PartNames = None,
    tempo: TempoText = "",
    json: AsJson = False,
) -> int:
    """Replay a score on a harp."""
    from arrange.check import check as replay
    from arrange.check import from_page, from_summary
    from arrange.cli import asking
    from arrange.report.check_pages import check_record, check_text
    from arrange.score.opening import open_score

    harp_file, rule_book = asking.harp_and_book(harp, book)
    source = open_score(score)
    read = asking.read(source, part, tempo)
    if summary is None:
        instructions = from_page(read, harp_file.harp)
    else:
        instructions = from_summary(asking.json_file(summary), read, summary.name)
    violations = replay(read, harp_file.harp, rule_book.player, instructions)
    for remark in asking.remarks(source, read):
        note(remark)
    if json:
        say_json(check_record(asking.fingerprint(score), harp_file.harp, violations))
    else:
        say(check_text(score.name, harp_file.harp, violations))
    return ExitCode.OPEN if violations else ExitCode.DONE
