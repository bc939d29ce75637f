"""The player as it stands in a page."""

from functools import cache
from importlib.resources import files

PIECES = (
    "listening-course.js",
    "listening-strings.js",
    "listening.js",
    "listening-turns.js",
)
"""In the order in which they stand: the course of a piece, strings, the player, two in turn."""


@cache
def listening_script() -> str:
    """Return the player's JavaScript, one classic script to stand inside a page.

    It defines ``Course``, ``weave``, ``Plucking``, ``Listening`` and ``InTurn`` and nothing else;
    it holds no ``</``, so that it cannot end the element that it stands in.
    """
    assets = files("arrange.report") / "assets"
    return "\n".join((assets / name).read_text("utf-8") for name in PIECES)
