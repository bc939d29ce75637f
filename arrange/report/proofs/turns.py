"""Page turns: whether a hand has time for them, and lever moves that come just then."""

from collections.abc import Iterator

from arrange.report.proofs.hands import Performance
from arrange.report.proofs.layout import Layout
from arrange.report.proofs.records import ProofFinding, Subject
from arrange.units import SECOND, Microseconds

TURN_S = 1.5
"""Turning a page and coming back to the strings takes a hand so long (house judgement)."""


def turns(layout: Layout, performance: Performance) -> Iterator[ProofFinding]:
    """Yield the turns for which no hand has time, each printed place once.

    Every change of page counts, from a screen or single sheets as from a bound copy.
    """
    told: set[tuple[int, int]] = set()
    for before, after, time in _page_changes(layout, performance):
        free = performance.free_s(time)
        if free >= TURN_S or (before, after) in told:
            continue
        told.add((before, after))
        pages = layout.spots[before].page, layout.spots[after].page
        way = f"to page {pages[1]}" if pages[1] > pages[0] else f"back to page {pages[1]}"
        text = f"The turn {way} gives a hand {free:.1f} s; it takes {TURN_S:g} s."
        yield layout.finding(Subject.TURN, before, text)


def moves_after_turns(layout: Layout, performance: Performance) -> Iterator[ProofFinding]:
    """Yield lever moves that begin while a hand is turning, each printed place once."""
    told: set[tuple[int, str]] = set()
    reach: Microseconds = int(TURN_S * SECOND)
    for before, _, time in _page_changes(layout, performance):
        page = layout.spots[before].page
        for move in performance.moves:
            if not time <= move.ends <= time + reach or (move.index, move.string) in told:
                continue
            told.add((move.index, move.string))
            after = max(move.begins - time, 0) / SECOND
            text = (
                f"The lever of {move.string} is moved by the {move.hand.value} hand "
                f"{after:.1f} s after the turn from page {page}."
            )
            yield layout.finding(Subject.MOVE_AFTER_TURN, move.index, text)


def _page_changes(
    layout: Layout, performance: Performance
) -> Iterator[tuple[int, int, Microseconds]]:
    spots = layout.spots
    for before, after, time in performance.passages():
        if before in spots and after in spots and spots[before].page != spots[after].page:
            yield before, after, time
