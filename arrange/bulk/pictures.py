"""Small pictures of a piece and of a folder, as SVG within a page."""

from collections.abc import Iterable, Mapping

from arrange.bulk.facts import Facts
from arrange.bulk.outcomes import PieceOutcome

_WIDTH = 180
_SHARES = {
    PieceOutcome.CONVERTED: "c",
    PieceOutcome.OPEN: "o",
    PieceOutcome.REFUSED: "r",
    PieceOutcome.FAILED: "f",
}


def strip(facts: Facts) -> str:
    """A piece from left to right: lever moves above the line, open points below it."""
    said = (
        f"{facts.moves} lever moves and {facts.open_points} open points in "
        f"{facts.measures} measures"
    )
    return (
        f'<svg role="img" aria-label="{said}" width="{_WIDTH}" height="20" '
        f'viewBox="0 0 {_WIDTH} 20"><path class="base" d="M0 10H{_WIDTH}"/>'
        f'<path class="move" stroke-width="1.5" d="{_ticks(facts.moves_at, facts.measures, 2)}"/>'
        f'<path class="point" stroke-width="2" d="{_ticks(facts.open_at, facts.measures, 11)}"/>'
        "</svg>"
    )


def _ticks(indices: Iterable[int], measures: int, top: int) -> str:
    places = {(2 * index + 1) * _WIDTH // (2 * max(measures, 1)) for index in indices}
    return "".join(f"M{place} {top}v7" for place in sorted(places))


def share_picture(counts: Mapping[PieceOutcome, int]) -> str:
    """How many pieces came to which outcome, as shares of one bar."""
    total = sum(counts.values())
    if not total:
        return ""
    pieces, begin = [], 0
    for outcome, kind in _SHARES.items():
        count = counts.get(outcome, 0)
        end = begin + count
        x, width = 1000 * begin // total, 1000 * end // total - 1000 * begin // total
        if count:
            pieces.append(
                f'<rect class="{kind}" x="{x}" y="0" width="{width}" height="14">'
                f"<title>{count} {outcome.value}</title></rect>"
            )
        begin = end
    said = ", ".join(f"{counts.get(outcome, 0)} {outcome.value}" for outcome in _SHARES)
    return (
        f'<svg class="share" role="img" aria-label="{said}" viewBox="0 0 1000 14" '
        f'preserveAspectRatio="none">{"".join(pieces)}</svg>'
    )
