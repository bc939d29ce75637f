"""Where things lie on the printed pages."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from arrange.report.engraving.ink import Ink, Sheet
from arrange.report.engraving.paging import System, systems
from arrange.report.engraving.preview import PreviewCopy
from arrange.report.proofs.records import ProofFinding, Subject


@dataclass(frozen=True, slots=True)
class Spot:
    """A measure's place: page and system, both counted from 1 (the system on its page)."""

    page: int
    system: int


@dataclass(frozen=True)
class Layout:
    """The printed pages of a copy.

    Attributes:
        margin_mm: what is kept clear at the edges of the paper.
    """

    copy: PreviewCopy
    pages: tuple[Sheet, ...]
    margin_mm: float

    @cached_property
    def systems(self) -> tuple[System, ...]:
        """The lines of music."""
        return systems(self.pages)

    @cached_property
    def spots(self) -> dict[int, Spot]:
        """Where each measure lies."""
        found: dict[int, Spot] = {}
        page, number = 0, 0
        for system in self.systems:
            number = number + 1 if system.page == page else 1
            page = system.page
            for index in range(system.first, system.last + 1):
                found[index] = Spot(page, number)
        return found

    @cached_property
    def words(self) -> dict[int, list[tuple[Sheet, Ink]]]:
        """The lines of ink of each text of the copy, by its place in the copy's list."""
        found: dict[int, list[tuple[Sheet, Ink]]] = {}
        for page in self.pages:
            for ink in page.ink:
                number = words_of(ink) if ink.runs else None
                if number is not None:
                    found.setdefault(number, []).append((page, ink))
        return found

    def own_words(self) -> Iterator[int]:
        """The texts that this toolkit wrote."""
        for number, words in enumerate(self.copy.words):
            if words.own:
                yield number

    def finding(
        self, subject: Subject, index: int, text: str, *, words: str = "", against: str = ""
    ) -> ProofFinding:
        """A finding in a measure; *index* -1: about the whole score."""
        spot = self.spots.get(index, Spot(0, 0))
        numbers = self.copy.numbers
        measure = numbers[index] if 0 <= index < len(numbers) else ""
        return ProofFinding(subject, spot.page, spot.system, index, measure, text, words, against)


def words_of(ink: Ink) -> int | None:
    """Which text of the copy the ink belongs to."""
    for id_ in ink.group.ids:
        if id_.startswith("w-"):
            return int(id_.removeprefix("w-"))
    return None
