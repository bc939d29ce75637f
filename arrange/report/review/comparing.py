"""Two scores beside each other as a page: engraved, their differences as the list."""

from dataclasses import replace
from pathlib import PurePath

from arrange.phrasing import counted
from arrange.report.comparing.records import Aspect, Comparison, Kind
from arrange.report.listening import timeline
from arrange.report.review.entries import difference_entries
from arrange.report.review.page import Page, page_html
from arrange.report.review.payload import packed_json
from arrange.report.review.preview import Side
from arrange.report.review.sheets import sheets
from arrange.score.container import read_source_bytes
from arrange.score.model import HandName, Score, StaffHand


def comparison_page(comparison: Comparison, before: bytes, after: bytes) -> str:
    """A comparison as a page, as HTML.

    Args:
        comparison: of the two; it names the files.
        before: the bytes of the one score, plain or compressed.
        after: the bytes of the other.

    Raises:
        BadInput: the engraver is not installed, or cannot draw one of the scores.
    """
    names = comparison.before.name, comparison.after.name
    one, two = _side(before, names[0]), _side(after, names[1])
    drawn = sheets(one, two, comparison.measures, names)
    titles = dict.fromkeys(filter(None, (one.score.title, two.score.title)))
    entries = difference_entries(comparison, (drawn.places(1), drawn.places(2)))
    return page_html(
        Page(
            kind="Comparison",
            title=" and ".join(titles) or PurePath(names[1]).stem,
            facts=tuple(_facts(comparison)),
            figures=tuple(_figures(comparison)),
            sheets=drawn,
            content={
                "entries": entries,
                "moves": [],
                "listening": [packed_json(timeline(_heard(side.score))) for side in (one, two)],
            },
        )
    )


def _side(raw: bytes, name: str) -> Side:
    return Side.read(read_source_bytes(raw, name).score_bytes, name)


def _facts(comparison: Comparison) -> list[str]:
    moved = [f"{t.sentence} What follows of it is not listed." for t in comparison.transpositions]
    files = f"Before: {comparison.before.name}. After: {comparison.after.name}."
    return [comparison.summary, *moved, files]


def _figures(comparison: Comparison) -> list[tuple[str, str]]:
    found = [(str(number), f"in {aspect}") for aspect, number in comparison.counts.items()]
    new = sum(d.kind in (Kind.INSERTED, Kind.REPEATED) for d in comparison.of(Aspect.STRUCTURE))
    gone = sum(d.kind is Kind.REMOVED for d in comparison.of(Aspect.STRUCTURE))
    if new:
        found.append((str(new), f"of them {counted(new, 'insertion').partition(' ')[2]}"))
    if gone:
        found.append((str(gone), f"of them {counted(gone, 'removal').partition(' ')[2]}"))
    return found


def _heard(score: Score) -> Score:
    """The score with every pitched part to be heard, each as if it were a harp's."""
    hands = (HandName.RIGHT, HandName.LEFT)
    harps = tuple(
        tuple(StaffHand(part.id, n + 1, hands[min(n, 1)]) for n in range(part.staves))
        for part in score.parts
        if part.is_pitched
    )
    return replace(score, harps=harps)
