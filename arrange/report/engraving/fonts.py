"""The fonts of printed texts: how wide a text is, which font has a sign, what a PDF embeds.

They are the fonts that come with the engraver: a text face in four cuts, and its music font for
the signs that no text face has (♭ ♮ ♯, notes in tempo marks). So a page looks, measures and
embeds the same on any machine.
"""

import base64
import io
import re
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Any

from arrange.errors import BadInput, Fault
from arrange.report.engraving.needs import INSTALL

TEXT, MUSIC = "Liberation", "Leipzig"
_FONT = re.compile(
    r"base64,(?P<coded>[^)]*)\).*?font-weight: (?P<weight>\w+).*?font-style: (?P<style>\w+)",
    re.DOTALL,
)


@dataclass(frozen=True, slots=True)
class Cut:
    """One cut of a text face."""

    is_bold: bool = False
    is_italic: bool = False
    is_music: bool = False

    @property
    def name(self) -> str:
        """What a PDF calls it."""
        if self.is_music:
            return "Music"
        return "Text" + "Bold" * self.is_bold + "Italic" * self.is_italic


@dataclass(frozen=True, slots=True)
class Run:
    """Signs of one font in a row.

    Attributes:
        x: where it begins; *size*: of the font; *rise*: how far above the line it is set.
    """

    x: float
    size: float
    cut: Cut
    text: str
    rise: float = 0.0


@dataclass(frozen=True)
class Face:
    """A font that was read.

    Attributes:
        font: as the font library has it.
        file: as a PDF takes it, TrueType.
    """

    font: Any
    file: bytes

    @cached_property
    def signs(self) -> dict[int, str]:
        """The glyph of each sign that it has."""
        return dict(self.font.getBestCmap())

    @cached_property
    def em(self) -> int:
        """Font units to the size of the font."""
        return int(self.font["head"].unitsPerEm)

    @cached_property
    def _widths(self) -> Any:
        return self.font["hmtx"].metrics

    @cached_property
    def _outlines(self) -> Any:
        return self.font["glyf"]

    def width(self, text: str) -> float:
        """How wide a text is, in sizes of the font."""
        signs, widths = self.signs, self._widths
        units: int = sum(widths[signs.get(ord(c), ".notdef")][0] for c in text)
        return units / self.em

    def height(self, text: str) -> tuple[float, float]:
        """How far it reaches above and below the line, in sizes of the font."""
        found = [self._outlines[self.signs[ord(c)]] for c in text if ord(c) in self.signs]
        drawn = [glyph for glyph in found if glyph.numberOfContours]
        top = max((glyph.yMax for glyph in drawn), default=0)
        bottom = min((glyph.yMin for glyph in drawn), default=0)
        return top / self.em, -bottom / self.em


SIGN_SIZE = 1.2
"""A sign of the music font among letters, by their size (house judgement)."""
CAPITAL = 0.66
"""How high a capital is, in sizes of the text face."""


class Fonts:
    """The fonts beside an engraver.

    Raises:
        BadInput: the library that reads them is not installed.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.face(Cut())

    def face(self, cut: Cut) -> Face:
        """The font of a cut, read once."""
        return _face(self._folder, cut)

    def runs(self, text: str, size: float, cut: Cut, x: float = 0.0) -> list[Run]:
        """The text in runs of one font; a sign that the text face lacks is the music font's."""
        own, music = self.face(cut), self.face(_MUSIC)
        found: list[tuple[Cut, str]] = []
        for sign in text:
            used = cut if ord(sign) in own.signs or ord(sign) not in music.signs else _MUSIC
            if found and found[-1][0] == used:
                found[-1] = (used, found[-1][1] + sign)
            else:
                found.append((used, sign))
        runs = []
        for used, piece in found:
            run = Run(x, size, used, piece)
            if used != cut:
                run = self._among_letters(run)
            runs.append(run)
            x = self.end(run)
        return runs

    def _among_letters(self, run: Run) -> Run:
        """Signs of the music font set as high as the capitals beside them."""
        size = run.size * SIGN_SIZE
        above, below = self.face(run.cut).height(run.text)
        rise = run.size * CAPITAL / 2 - size * (above - below) / 2
        return Run(run.x, size, run.cut, run.text, rise)

    def end(self, run: Run) -> float:
        """Where a run ends on its line."""
        return run.x + run.size * self.face(run.cut).width(run.text)

    def lacking(self, text: str) -> str:
        """The signs of a text that no font has, each once."""
        plain, music = self.face(Cut()), self.face(_MUSIC)
        return "".join(
            dict.fromkeys(
                c for c in text if ord(c) not in plain.signs and ord(c) not in music.signs
            )
        )


_MUSIC = Cut(is_music=True)


@cache
def _face(folder: Path, cut: Cut) -> Face:
    sheet = folder / f"{MUSIC if cut.is_music else TEXT}.css"
    wanted = ("bold" if cut.is_bold else "normal", "italic" if cut.is_italic else "normal")
    for found in _FONT.finditer(sheet.read_text("utf-8")):
        if (found["weight"], found["style"]) == wanted:
            try:
                return _unpacked(base64.b64decode(found["coded"]))
            except ImportError as missing:
                raise BadInput(INSTALL) from missing
    raise Fault(f"{sheet.name} has no font of weight {wanted[0]}, style {wanted[1]}")


def _unpacked(packed: bytes) -> Face:
    """A font for the web as a PDF takes it."""
    from fontTools.ttLib import TTFont  # noqa: PLC0415 - only who prints needs it

    font = TTFont(io.BytesIO(packed), recalcTimestamp=False)
    font.flavor = None
    file = io.BytesIO()
    font.save(file, reorderTables=False)
    return Face(TTFont(io.BytesIO(file.getvalue())), file.getvalue())
