"""``leverwright proof``: prints a score to a PDF and checks the pages as a publisher does."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from arrange.cli.codes import ExitCode
from arrange.cli.options import (
    DEFAULT_BOOK,
    DEFAULT_HARP,
    AsJson,
    BookName,
    HarpName,
    PaperChoice,
    PaperName,
    PartNames,
    Score,
    TempoText,
)
from arrange.cli.streams import note, say, say_json

if TYPE_CHECKING:
    from arrange.report.proof import Printed


def add_to(app: typer.Typer) -> None:
    """Add the command."""
    app.command(help="Print a score to a PDF, and check its pages as a publisher does.")(proof)


def proof(
    score: Score,
    *,
    out: Annotated[
        Path | None,
        typer.Option("-o", "--out", metavar="FILE.pdf", help="The printed pages as a PDF."),
    ] = None,
    paper: PaperChoice = PaperName.A4,
    harp: HarpName = DEFAULT_HARP,
    book: BookName = DEFAULT_BOOK,
    part: PartNames = None,
    tempo: TempoText = "",
    json: AsJson = False,
) -> int:
    """Print a score and check its pages."""
    from arrange.check import from_page
    from arrange.cli import asking
    from arrange.report.engraving.papers import PAPERS
    from arrange.report.proof import performance_of, printed, proof_of
    from arrange.report.proofs.records import proof_record, proof_text
    from arrange.score.opening import open_score

    _require_good(out, score)
    harp_file, rule_book = asking.harp_and_book(harp, book)
    source = open_score(score)
    read = asking.read(source, part, tempo)
    performance = performance_of(read, rule_book.player, from_page(read, harp_file.harp))
    sheet = printed(source.score_bytes, score.name, PAPERS[paper.value], performance)
    found = proof_of(sheet, performance)
    for remark in asking.remarks(source, read):
        note(remark)
    if out is not None:
        _write(sheet, out)
    if json:
        say_json(proof_record(found, asking.fingerprint(score)))
    else:
        say(proof_text(found, score.name))
    return ExitCode.OPEN if found.findings else ExitCode.DONE


def _require_good(out: Path | None, score: Path) -> None:
    from arrange.errors import BadInput

    if out is None:
        return
    if out.suffix.lower() != ".pdf":
        raise BadInput("the pages are written as a PDF; use the ending .pdf", file=str(out))
    if out.resolve() == score.resolve():
        raise BadInput("would be overwritten; name another place with -o", file=str(out))


def _write(sheet: "Printed", out: Path) -> None:
    from arrange.report.targets import write_files

    write_files({out: sheet.pdf()})
