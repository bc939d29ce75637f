"""``leverwright harps``: the harps that ship, or one of them string by string."""

from itertools import groupby
from typing import Annotated

import typer

from arrange.cli.streams import say


def add_to(app: typer.Typer) -> None:
    """Add the command."""
    app.command(help="List the harps that ship, or show one string by string.")(harps)


def harps(
    name: Annotated[
        str, typer.Argument(metavar="[NAME]", help="A harp, or a harp file (.toml).")
    ] = "",
) -> int:
    """List the harps, or show one."""
    from arrange.harp.files import harp_names, load_harp
    from arrange.harp.harp import Harp
    from arrange.harp.tunings import TUNINGS

    def compass(harp: Harp) -> str:
        first, last = harp.strings[0].name, harp.strings[-1].name
        return f"{len(harp.strings)} strings, {first} to {last}, {harp.tuning} tuning"

    if not name:
        for each in harp_names():
            say(f"{each:10} {compass(load_harp(each).harp)}")
        others = [tuning for tuning in TUNINGS if tuning != "E-flat"]
        say(f"In another tuning: {harp_names()[-1]}-{others[0]}; also {', '.join(others[1:])}.")
        return 0
    found = load_harp(name)
    say(f"{found.harp.name}: {compass(found.harp)}")
    say("Each string: lever down / lever up.")
    for octave, strings in groupby(found.harp.strings, key=lambda s: s.octave):
        pairs = [f"{s.open}/{s.raised}" if s.raised else f"{s.open} (no lever)" for s in strings]
        say(f"  octave {octave}: {'  '.join(pairs)}")
    for key, value in found.player.items():
        say(f"  player: {key} = {value}")
    return 0
