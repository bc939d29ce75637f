"""The command line, one small module a command: the only place that prints."""

import os
import sys
from collections.abc import Sequence
from typing import Any, cast

import typer

from arrange.cli.brief import add_to as add_brief
from arrange.cli.bulk import add_to as add_bulk
from arrange.cli.check import add_to as add_check
from arrange.cli.codes import ExitCode
from arrange.cli.compare import add_to as add_compare
from arrange.cli.convert import add_to as add_convert
from arrange.cli.demo import add_to as add_demo
from arrange.cli.fit import add_to as add_fit
from arrange.cli.harps import add_to as add_harps
from arrange.cli.proof import add_to as add_proof
from arrange.cli.rules import add_to as add_rules
from arrange.cli.streams import NAME, complain, complain_of_fault
from arrange.errors import BadInput
from arrange.memory import collect_rarely

_ABOUT = """Rewrites pedal-harp and keyboard scores in MusicXML for a given lever harp."""
_MISUSE: type[Exception] = typer.BadParameter.__bases__[0]
"""What is wrong with a command line; the library has no public name for it."""

app = typer.Typer(
    name=NAME,
    help=_ABOUT,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    add_completion=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
for add in (
    add_convert,
    add_bulk,
    add_fit,
    add_check,
    add_compare,
    add_brief,
    add_proof,
    add_harps,
    add_rules,
    add_demo,
):
    add(app)


def command() -> Any:
    """The command with all its subcommands, as the library builds it."""
    return typer.main.get_command(app)


def main(arguments: Sequence[str] | None = None) -> int:
    """Carry out a command line and return the exit code.

    Args:
        arguments: the words after the program's name; None for those it was started with.
    """
    if arguments is None:
        collect_rarely()
    words = None if arguments is None else list(arguments)
    try:
        code = command().main(args=words, prog_name=NAME, standalone_mode=False)
        sys.stdout.flush()
    except _MISUSE as error:
        complain(f"{cast('Any', error).format_message()} (`{NAME} --help` shows the way)")
        return ExitCode.MISUSE
    except BadInput as error:
        complain(str(error))
        return ExitCode.MISUSE
    except BrokenPipeError:
        # Whoever read the output has enough; nothing more can be said to them.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return ExitCode.FAULT
    except (typer.Abort, KeyboardInterrupt):
        complain("stopped")
        return ExitCode.FAULT
    except Exception as error:  # noqa: BLE001 - whatever it is, it becomes one line
        complain_of_fault(error)
        return ExitCode.FAULT
    return int(code or 0)
