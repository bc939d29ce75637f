"""A score as printed pages, and the proof of them: what a publisher checks before printing."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from arrange.check import Instructions
from arrange.hands.player import Player
from arrange.report.engraving.engraver import engraved
from arrange.report.engraving.fonts import Fonts
from arrange.report.engraving.footings import footed
from arrange.report.engraving.headings import headings
from arrange.report.engraving.ink import Sheet, sheets
from arrange.report.engraving.paging import better_starts, reaches_no_lower, systems
from arrange.report.engraving.papers import FOOTING_MM, Paper
from arrange.report.engraving.pdf import Titles, pdf_of
from arrange.report.engraving.preview import PreviewCopy, preview_copy
from arrange.report.proofs.collisions import collisions
from arrange.report.proofs.hands import Performance
from arrange.report.proofs.layout import Layout
from arrange.report.proofs.legibility import ledger_lines, letters, measure_numbers, staves
from arrange.report.proofs.records import Proof, ProofFinding
from arrange.report.proofs.statement import statement
from arrange.report.proofs.turns import moves_after_turns, turns
from arrange.score.document import Document
from arrange.score.model import Score


@dataclass(frozen=True)
class Printed:
    """A score on paper.

    Attributes:
        copy: what the engraver read; *pages*: its pages as ink.
    """

    copy: PreviewCopy
    pages: tuple[Sheet, ...]
    fonts: Fonts
    paper: Paper

    def pdf(self) -> bytes:
        """The pages as a PDF; the same bytes for the same pages."""
        named = {h.kind: " ".join(h.lines) for h in reversed(self.copy.headings)}
        return pdf_of(
            self.pages,
            self.fonts,
            Titles(named.get("title", ""), named.get("composer", ""), named.get("rights", "")),
        )


def printed(
    score_bytes: bytes, file: str, paper: Paper, performance: Performance | None = None
) -> Printed:
    """Engrave a score.

    Args:
        score_bytes: an uncompressed score file.
        file: its name, for messages.
        paper: the sheets.
        performance: how it is played; with it, pages begin where a hand has time to turn.

    Raises:
        BadInput: it cannot be read, or what printing needs is not installed.
    """
    copy = preview_copy(score_bytes, file)
    engraving = engraved(copy, paper, file)
    fonts = Fonts(engraving.fonts)
    pages = sheets(engraving, fonts)
    if performance is not None and len(pages) > 1:
        floor = paper.height_mm - paper.margin_mm - FOOTING_MM
        starts = better_starts(systems(pages), floor, performance.free_at())
        if starts is not None:
            again = preview_copy(score_bytes, file, starts)
            turned = sheets(engraved(again, paper, file, is_paged=True), fonts)
            if reaches_no_lower(systems(turned), floor):
                copy, pages = again, turned
    return Printed(copy, footed(pages, copy.headings, paper, fonts), fonts, paper)


def performance_of(score: Score, player: Player, instructions: Instructions) -> Performance:
    """A score as it is played, for turns and for the moves near them."""
    return Performance(score, player, instructions)


def proof_of(
    sheet: Printed, performance: Performance, rights_before: Collection[str] = ()
) -> Proof:
    """Check printed pages as a publisher does.

    Args:
        sheet: the printed score.
        performance: how it is played.
        rights_before: the source's rights lines, which must have been kept.
    """
    layout = Layout(sheet.copy, sheet.pages, sheet.paper.margin_mm)
    found = list(_findings(layout, sheet, performance, rights_before))
    return Proof(sheet.paper.name, len(sheet.pages), sheet.copy.staff_mm, tuple(found))


def rights_of(score_bytes: bytes, file: str) -> tuple[str, ...]:
    """The rights lines of a score file."""
    root = Document.read(score_bytes, file).root
    return tuple(line for h in headings(root) if h.is_footing for line in h.lines)


def _findings(
    layout: Layout, sheet: Printed, performance: Performance, rights_before: Collection[str]
) -> Iterator[ProofFinding]:
    yield from statement(layout, rights_before)
    yield from staves(layout)
    yield from letters(layout, sheet.fonts)
    yield from collisions(layout)
    yield from turns(layout, performance)
    yield from moves_after_turns(layout, performance)
    yield from ledger_lines(layout)
    yield from measure_numbers(layout)
