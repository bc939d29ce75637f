"""Slurs and lines that may have lost an end, since a note that carried one was taken away."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

from arrange.audit.ledger import Ledger, Page
from arrange.audit.shapes import LINES, signs
from arrange.score.nodes import Node

FAR = 32
"""How many measures on the other end of a slur may lie that loses its note."""
Parts = Mapping[str, list[Node]]
"""The measures of each part."""


class Lines:
    """Judges the ends of lines for a whole part where they need not stay where they were.

    A note that goes hands its slur to a neighbour, or takes the other end with it; so near such
    a note ends may move, but there are no new ones, and no more are lost than hung together.
    Where the source has ends that belong to no other end, such an end may go alone.
    """

    def __init__(self, ledger: Ledger, before: Parts) -> None:
        self._ledger = ledger
        self._before = before
        self._taken: dict[str, dict[int, int]] = {}
        for (part, index), page in ledger.pages.items():
            if page.takes_notes and index < len(before.get(part, ())):
                ends = sum(1 for _ in line_ends(_taken(before[part][index], page)))
                if ends:
                    self._taken.setdefault(part, {})[index] = ends

    def may_move(self, part: str, index: int) -> bool:
        """Whether lines of the measure may end or begin elsewhere."""
        return any(abs(index - taken) <= FAR for taken in self._taken.get(part, ()))

    def problems(self, after: Parts) -> Iterator[str]:
        """Yield what the ends of lines in a part have too many or too few of."""
        for part, taken in self._taken.items():
            was, now = _counted(self._before[part]), _counted(after[part])
            for tag, kind in now - was:
                yield f"part {part}: a new {tag} has a {kind or 'sign'}, and no entry says so"
            for tag in sorted(LINES):
                named = self._named(part, tag)
                lost = _ends(was, tag) - _ends(now, tag) - named
                torn = _unpaired(was, tag)
                spare = sum(taken.values()) if torn else 0
                is_torn = _unpaired(now, tag) > torn + named + spare
                if is_torn or lost > 2 * sum(taken.values()):
                    yield f"part {part}: ends of a {tag} are gone, and no entry says so"

    def _named(self, part: str, tag: str) -> int:
        """How many ends the entries take off."""
        return sum(
            kinds.count(tag)
            for (name, _), page in self._ledger.pages.items()
            if name == part
            for kinds in page.signs.values()
        )


def _taken(measure: Node, page: Page) -> Iterator[Node]:
    """The notes of a measure that may be taken away."""
    for child in measure.children:
        if child.tag == "note" and (page.runs or child.key in page.removed):
            yield child


def line_ends(notes: Iterable[Node]) -> Iterator[tuple[str, str]]:
    """The ends of slurs and lines on notes: what, and which end."""
    for note in notes:
        if note.tag == "note":
            for sign in signs(note):
                if sign.tag in LINES:
                    yield sign.tag, sign.attrs.get("type", "")


def _counted(measures: list[Node]) -> "Counter[tuple[str, str]]":
    return Counter(end for measure in measures for end in line_ends(measure.children))


def _ends(counted: "Counter[tuple[str, str]]", tag: str) -> int:
    return sum(count for (name, _), count in counted.items() if name == tag)


def _unpaired(counted: "Counter[tuple[str, str]]", tag: str) -> int:
    """How many more beginnings than ends there are, or the reverse."""
    return abs(counted[tag, "start"] - counted[tag, "stop"])
