"""The melody engraved: systems as pictures, and how many of them the printed page has room for."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from arrange.report.review.engraver import engraved_copy
from arrange.report.review.preview import Preview
from arrange.teach.melody import MelodyMeasure, melody_score

PREFIX = "l"
"""Stands before the ids of notes in the page."""
WIDTH, LARGE_WIDTH = 2700, 1500
"""Of a system, in tenths of a millimetre before it is drawn to the page's width: the wider, the
smaller the notes (house judgement)."""
MARGIN = 50
"""Left of a system, for measure numbers; as the width."""
PAGE_MM = 182
ROOM_MM, MOST = 110, 8
"""Height that the printed melody may take; most measures in a system (house judgement)."""
_BARE, _NOTE, _CHORD = 75, 42, 60
_LETTER, _GAP = 28, 25
"""Of a chord name, and after it; all of them as the width (measured on drawn systems)."""
_LETTERS = {
    "\uea64": "\N{MUSIC FLAT SIGN}",
    "\uea65": "\N{MUSIC NATURAL SIGN}",
    "\uea66": "\N{MUSIC SHARP SIGN}",
}
"""Accidentals as the engraver writes them in chord names (SMuFL), and as usual letters."""
_SIGN = re.compile(r'</tspan><tspan font-size="\d+px" class="sign">([\uea64-\uea66])</tspan>')


@dataclass(frozen=True, slots=True)
class System:
    """One line of music: its picture, its measures, whether the two printed pages have it."""

    svg: str
    first: int
    last: int
    is_printed: bool


@dataclass(frozen=True, slots=True)
class MelodyPicture:
    """The melody: systems, the outlines that they share, a font for signs, printed height."""

    systems: tuple[System, ...]
    glyphs: dict[str, str]
    music_font: str
    height_mm: int


def melody_picture(
    row: Sequence[MelodyMeasure], file: str, *, is_large: bool = False
) -> MelodyPicture:
    """Engrave the melody.

    Args:
        row: its measures.
        file: the score's name, for messages.
        is_large: in large notes; then all of it is printed.

    Raises:
        BadInput: the engraver is not installed, or cannot draw it.
    """
    width = LARGE_WIDTH if is_large else WIDTH
    starts = _starts(row, width)
    drawn = engraved_copy(
        Preview(melody_score(row, starts), {}),
        PREFIX,
        file,
        {"pageWidth": width, "pageMarginLeft": MARGIN},
    )
    systems: list[System] = []
    used = 0
    for drawing in drawn.drawings:
        height = PAGE_MM * drawing.height // max(drawing.width, 1) + 1
        is_printed = is_large or (used + height <= ROOM_MM and all(s.is_printed for s in systems))
        used += height if is_printed else 0
        first, last = drawing.measures[0], drawing.measures[-1]
        systems.append(System(_plain_signs(drawing.svg), first, last, is_printed))
    return MelodyPicture(tuple(systems), drawn.glyphs, drawn.music_font, used)


def _starts(row: Sequence[MelodyMeasure], width: int) -> list[int]:
    starts: list[int] = []
    taken, crowd = 0, 100
    for one in row:
        wide = _BARE + max(_NOTE * len(one.signs), _CHORD * len(one.chords))
        wide += _NOTE // 2 * sum(map(len, one.graces.values()))
        here = _crowd(one, wide)
        is_full = (taken + wide) * max(crowd, here) > (width - 200) * 100
        if not starts or is_full or one.measure.index - starts[-1] >= MOST:
            starts.append(one.measure.index)
            taken, crowd = 0, 100
        taken, crowd = taken + wide, max(crowd, here)
    return starts


def _crowd(one: MelodyMeasure, wide: int) -> int:
    """By how much a measure must be stretched for its chord names, in hundredths of its width."""
    ends = [chord.offset for chord in one.chords[1:]] + [one.measure.length]
    most = 100
    for chord, end in zip(one.chords, ends, strict=False):
        between = sum(chord.offset <= sign.offset < end for sign in one.signs)
        room = wide * max(between, 1) // max(len(one.signs), len(one.chords))
        room += _BARE // 2 if end == one.measure.length else 0
        most = max(most, 100 * (_LETTER * len(chord.name) + _GAP) // room)
    return most


def _plain_signs(svg: str) -> str:
    """The picture with the sharps and flats of chord names as letters of a usual font."""
    return _SIGN.sub(lambda found: f"{_LETTERS[found[1]]}</tspan>", svg)
