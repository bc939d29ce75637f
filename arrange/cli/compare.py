"""``leverwright compare``: what changed between any two scores."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from arrange.cli.codes import ExitCode
from arrange.cli.options import AsJson
from arrange.cli.streams import note, say, say_json

if TYPE_CHECKING:
    from arrange.report.compare import Comparison

_ENDINGS = ".html, .md or .json"


def add_to(app: typer.Typer) -> None:
    """Add the command."""
    app.command(help="Say what changed between any two scores, in classes.")(compare)


def compare(
    before: Annotated[Path, typer.Argument(metavar="BEFORE", help="The score as it was.")],
    after: Annotated[Path, typer.Argument(metavar="AFTER", help="The score as it is.")],
    out: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--out",
            metavar="FILE.html",
            help=f"A page to look at; by its ending {_ENDINGS}. Without it: text to stdout.",
        ),
    ] = None,
    json: AsJson = False,
) -> int:
    """Say what changed between two scores."""
    from arrange.report.compare import as_json, as_text
    from arrange.report.compare import compare as compared
    from arrange.report.targets import write_files

    if out is not None:
        _require_good(out, (before, after))
    contents = _score_bytes(before), _score_bytes(after)
    comparison = compared(*contents, (before.name, after.name))
    if out is not None:
        write_files({out: _content(comparison, contents, out)})
    if json:
        say_json(as_json(comparison))
    elif out is None:
        say(as_text(comparison))
    else:
        say(f"{comparison.summary} Written: {out}")
    return ExitCode.DONE


def _require_good(out: Path, scores: tuple[Path, ...]) -> None:
    from arrange.errors import BadInput

    if out.suffix.lower() not in (".html", ".htm", ".md", ".json"):
        raise BadInput(f"the ending tells what to write; use {_ENDINGS}", file=str(out))
    if out.resolve() in [score.resolve() for score in scores]:
        raise BadInput("would be overwritten; name another place with -o", file=str(out))


def _score_bytes(path: Path) -> bytes:
    """The whole file; one in another format as the MusicXML that it is imported as."""
    from arrange.score.opening import open_score

    source = open_score(path)
    for finding in source.notes:
        note(f"{path.name}: {finding}")
    return source.score_bytes if source.archive is None else source.archive.raw


def _content(comparison: "Comparison", contents: tuple[bytes, bytes], out: Path) -> bytes:
    import json

    from arrange.report.compare import as_json, as_markdown
    from arrange.report.review.comparing import comparison_page

    match out.suffix.lower():
        case ".md":
            text = as_markdown(comparison)
        case ".json":
            text = json.dumps(as_json(comparison), indent=2) + "\n"
        case _:
            text = comparison_page(comparison, *contents)
    return text.encode()
