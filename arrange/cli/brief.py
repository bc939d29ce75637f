"""``leverwright brief``: a lesson page from a score."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from arrange.cli.codes import ExitCode
from arrange.cli.options import (
    DEFAULT_BOOK,
    DEFAULT_HARP,
    MelodyNames,
    PartNames,
    Score,
    TempoText,
)
from arrange.cli.streams import note, say

if TYPE_CHECKING:
    from arrange.changes import ChangeLog
    from arrange.harp.files import HarpFile
    from arrange.rulebook import RuleBook
    from arrange.score.model import Score as ReadScore


def add_to(app: typer.Typer) -> None:
    """Add the command."""
    app.command(help="Make a lesson page of a score: how to set the harp, how to practise.")(brief)


def brief(
    score: Score,
    *,
    out: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--out",
            metavar="FILE.html",
            help="The page. Without it: STEM.brief.html beside.",
        ),
    ] = None,
    harp: Annotated[
        str,
        typer.Option(
            "--harp",
            metavar="NAME|FILE.toml",
            help=f"The harp; see `harps`. [default: the score's own, else {DEFAULT_HARP}]",
        ),
    ] = "",
    book: Annotated[
        str,
        typer.Option(
            "--book",
            metavar="NAME|FILE.toml",
            help=f"The rule book; see `rules`. [default: the score's own, else {DEFAULT_BOOK}]",
        ),
    ] = "",
    part: PartNames = None,
    melody: MelodyNames = None,
    tempo: TempoText = "",
    large_print: Annotated[
        bool, typer.Option("--large-print", help="In large letters and notes, on more pages.")
    ] = False,
    midi: Annotated[
        Path | None,
        typer.Option("--midi", metavar="FOLDER", help="Also the practice sound as MIDI files."),
    ] = None,
) -> int:
    """Make a lesson page."""
    from arrange.check import from_page
    from arrange.cli import asking
    from arrange.report.targets import write_files
    from arrange.score.opening import open_score
    from arrange.teach import PageSettings, lesson, lesson_page, practice_files

    page = out or score.with_name(f"{score.stem}.brief.html")
    _require_good(page, score)
    source = open_score(score)
    read = asking.read(source, part, tempo, asking.melody(melody))
    harp_file, rule_book = _harp_and_book(read, harp, book, score.name)
    for remark in asking.remarks(source, read):
        note(remark)
    instructions = from_page(read, harp_file.harp)
    log = _log_beside(score)
    made = lesson(read, harp_file.harp, rule_book.player, instructions, log)
    settings = PageSettings(score.name, rule_book.name, large_print)
    files = {page: lesson_page(made, settings).encode()}
    if midi is not None:
        files |= {midi / one.name: one.content for one in practice_files(made.piece, score.stem)}
    if len(read.harps) > 1:
        note(f"{score.name}: has several harps; the lesson is about the first, see --part")
    write_files(files)
    say(f"{page}: {_told(made.is_ours, len(made.missing))}")
    if midi is not None:
        say(f"  practice sound: {len(files) - 1} MIDI files in {midi}")
    return ExitCode.OPEN if made.missing or read.left_open else ExitCode.DONE


def _told(is_ours: bool, missing: int) -> str:
    where = "levers as the page says" if is_ours else "levers set once, as most notes ask"
    return f"lesson written, {where}" + (f", {missing} places cannot be played" if missing else "")


def _require_good(page: Path, score: Path) -> None:
    from arrange.errors import BadInput

    if page.suffix.lower() not in (".html", ".htm"):
        raise BadInput("the lesson is a page; use the ending .html", file=str(page))
    if page.resolve() == score.resolve():
        raise BadInput("would be overwritten; name another place with -o", file=str(page))


def _own(read: "ReadScore", field: str, usual: str) -> str:
    """What a result says that it is made with; of another score the usual."""
    from arrange.score.own import FIELD_PREFIX

    return read.own.get(FIELD_PREFIX + field) or usual


def _harp_and_book(
    read: "ReadScore", harp: str, book: str, name: str
) -> "tuple[HarpFile, RuleBook]":
    """The harp and the book that are named, else the score's own.

    Raises:
        BadInput: there is none of that name; of the score's own, what to give instead.
    """
    from arrange.cli import asking
    from arrange.errors import BadInput

    own_harp, own_book = _own(read, "harp", DEFAULT_HARP), _own(read, "book", DEFAULT_BOOK)
    try:
        return asking.harp_and_book(harp or own_harp, book or own_book)
    except BadInput as error:
        if harp and book:
            raise
        raise BadInput(
            f"is made for the harp {own_harp!r} with the rule book {own_book!r}; of these one "
            f"does not ship ({error.message}); give their files with --harp and --book",
            file=name,
        ) from error


def _log_beside(score: Path) -> "ChangeLog | None":
    """The change log beside a result, where it is that of this very file."""
    from arrange.changes.lines import from_lines, header_of
    from arrange.cli import asking
    from arrange.errors import BadInput

    path = score.with_name(f"{score.stem}.changes.jsonl")
    if not path.is_file():
        return None
    try:
        text = path.read_text("utf-8")
        header = header_of(text, file=path.name)
        log = from_lines(text, file=path.name)
    except (OSError, UnicodeDecodeError, BadInput) as error:
        note(f"{path.name}: is left aside, it cannot be read ({error})")
        return None
    result = header.get("result")
    sha256 = result.get("sha256") if isinstance(result, dict) else None
    if sha256 != asking.fingerprint(score)["sha256"]:
        note(f"{path.name}: is left aside, it is the log of another file")
        return None
    return log
