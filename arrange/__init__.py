"""Rewrites pedal-harp and keyboard scores in MusicXML for a given lever harp.

::

    from pathlib import Path
    from arrange import Settings, convert, installed, load_harp, load_rulebook, read_source

    harp = load_harp("lever-34")
    book = load_rulebook("concert", installed(), harp.player)
    conversion = convert(read_source(Path("nocturne.musicxml")), Settings(harp.harp, book))
    Path("nocturne.lever.musicxml").write_bytes(conversion.result)

The names are loaded when they are first used, so that importing the package costs nothing.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from arrange.errors import BadInput
    from arrange.fitting import fit
    from arrange.harp.files import load_harp
    from arrange.pipeline import Conversion, Settings, convert
    from arrange.registry import installed
    from arrange.report.compare import compare
    from arrange.report.summary import summary
    from arrange.rulebook import load_rulebook
    from arrange.score.container import read_source

__all__ = [
    "BadInput",
    "Conversion",
    "Settings",
    "compare",
    "convert",
    "fit",
    "installed",
    "load_harp",
    "load_rulebook",
    "read_source",
    "summary",
]

_HOMES = {
    "BadInput": "errors",
    "Conversion": "pipeline",
    "Settings": "pipeline",
    "compare": "report.compare",
    "convert": "pipeline",
    "fit": "fitting",
    "installed": "registry",
    "load_harp": "harp.files",
    "load_rulebook": "rulebook",
    "read_source": "score.container",
    "summary": "report.summary",
}


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module 'arrange' has no attribute {name!r}")
    return getattr(import_module(f"arrange.{_HOMES[name]}"), name)
