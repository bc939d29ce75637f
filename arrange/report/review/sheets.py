"""Both scores engraved, system beside system, as the page carries them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from arrange.report.review.drawing import Drawing
from arrange.report.review.engraver import Engraved, engraved
from arrange.report.review.payload import packed
from arrange.report.review.preview import Side
from arrange.report.review.systems import Columns, Row, rows, widths


@dataclass(frozen=True, slots=True)
class Sheets:
    """Both scores.

    Attributes:
        columns: ``[printed number, index before or -1, index after or -1]`` for each measure.
        rows: for each row its first and last column, and the systems of either side: width,
            height, the measures in it, and the packed picture.
        glyphs: outlines that the systems use, by name; *music_font*: a data URL.
    """

    columns: list[tuple[str, int, int]]
    rows: list[dict[str, Any]]
    glyphs: dict[str, str]
    music_font: str

    def places(self, side: int) -> dict[int, int]:
        """The column of each measure of a side: 1 for before, 2 for after."""
        indices = [column[1] if side == 1 else column[2] for column in self.columns]
        return {index: i for i, index in enumerate(indices) if index >= 0}


def sheets(before: Side, after: Side, pairs: Columns, names: tuple[str, str]) -> Sheets:
    """Engrave two scores.

    Args:
        before: one score.
        after: the other.
        pairs: measures that belong together, by index.
        names: of their files, for messages.

    Raises:
        BadInput: the engraver is not installed, or cannot draw one of them.
    """
    planned = rows(pairs, widths(before.score), widths(after.score))
    one = engraved(before, _starts(row.before for row in planned), "b", names[0])
    two = engraved(after, _starts(row.after for row in planned), "a", names[1])
    sides = (
        _by_row(one, [row.before for row in planned]),
        _by_row(two, [row.after for row in planned]),
    )
    return Sheets(
        [_column(before, after, pair) for pair in pairs],
        [_row(row, place, sides) for place, row in enumerate(planned)],
        dict(sorted((one.glyphs | two.glyphs).items())),
        two.music_font or one.music_font,
    )


def _starts(measures: Iterable[tuple[int, ...]]) -> list[int]:
    return [row[0] for row in measures if row]


def _by_row(score: Engraved, planned: Sequence[tuple[int, ...]]) -> Mapping[int, list[Drawing]]:
    """Each system with the row that has its first measure."""
    row_of = {index: place for place, row in enumerate(planned) for index in row}
    found: dict[int, list[Drawing]] = {}
    last = 0
    for drawing in score.drawings:
        last = next((row_of[m] for m in drawing.measures if m in row_of), last)
        found.setdefault(last, []).append(drawing)
    return found


def _column(
    before: Side, after: Side, pair: tuple[int | None, int | None]
) -> tuple[str, int, int]:
    one, two = pair
    side, index = (after, two) if two is not None else (before, one)
    longest = max(side.score.parts, key=lambda part: len(part.measures))
    number = longest.measures[index or 0].number
    return number, -1 if one is None else one, -1 if two is None else two


def _row(
    row: Row, place: int, sides: tuple[Mapping[int, list[Drawing]], Mapping[int, list[Drawing]]]
) -> dict[str, Any]:
    systems = [
        [
            {"width": d.width, "height": d.height, "packed": packed(d.svg)}
            for d in side.get(place, ())
        ]
        for side in sides
    ]
    return {"first": row.first, "last": row.last, "before": systems[0], "after": systems[1]}
