"""The sheets that scores are printed on."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet, upright.

    Attributes:
        width_mm, height_mm: its size.
        margin_mm: kept clear on every side (house judgement: printers need about 5 mm, thumbs
            that hold a sheet more).
    """

    name: str
    width_mm: float
    height_mm: float
    margin_mm: float = 13.0


FOOTING_MM = 6.0
"""Kept for rights and page numbers at the foot of a page, above its margin (house judgement)."""
A4 = Paper("a4", 210.0, 297.0)
LETTER = Paper("letter", 215.9, 279.4)
"""Source: ISO 216 for the one; 8.5 by 11 inches, common practice, for the other."""
PAPERS = {paper.name: paper for paper in (A4, LETTER)}
