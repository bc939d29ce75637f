"""The music element by element, beside the notes' pitches and lengths."""

from collections.abc import Iterator
from dataclasses import dataclass

from arrange.audit.beside import in_time, is_extra, is_followed, is_placed, moves
from arrange.audit.ledger import Ledger
from arrange.audit.lines import Lines
from arrange.audit.pairs import Pairing, note_problem
from arrange.audit.shapes import is_same
from arrange.audit.streams import Streams
from arrange.audit.views import View
from arrange.audit.wording import called
from arrange.pitch import Interval
from arrange.score.nodes import Node


@dataclass(frozen=True)
class Music:
    """The two files and what the log claims.

    Attributes:
        moving: parts that are transposed by *interval*.
    """

    source: View
    result: View
    ledger: Ledger
    interval: Interval
    moving: frozenset[str]

    def differences(self) -> Iterator[str]:
        """Yield a sentence for every difference that has no entry."""
        before, after = self.source.measures(), self.result.measures()
        if list(before) != list(after):
            yield "the parts are not those of the source"
            return
        if [len(row) for row in before.values()] != [len(row) for row in after.values()]:
            yield "a part has another number of measures"
            return
        lines = Lines(self.ledger, before)
        for name, measures in before.items():
            terms = self._terms(name, lines)
            for index, pair in enumerate(zip(measures, after[name], strict=True)):
                yield from self._measure(terms, index, pair)
        yield from lines.problems(after)

    def _terms(self, part: str, lines: Lines) -> "_PartTerms":
        return _PartTerms(
            part,
            self.interval if part in self.moving else None,
            lines,
            self.ledger.moves_notes_of(part),
            frozenset(own for own, (place, _) in self.ledger.words.items() if place == part),
        )

    def _measure(self, terms: "_PartTerms", index: int, pair: tuple[Node, Node]) -> Iterator[str]:
        page = self.ledger.page(terms.part, index)
        one, two = self.source.spelled(pair[0]), self.result.spelled(pair[1])
        if one == two and terms.interval is None and not page.is_of_marks:
            return
        is_loose = terms.interval is not None or self.ledger.changes_notes_near(terms.part, index)
        number = self.source.score.measure(terms.part, index).number
        for problem in self._aligned(terms, index, pair, is_loose=is_loose):
            yield f"part {terms.part}, measure {number}: {problem}"

    def _aligned(
        self, terms: "_PartTerms", index: int, pair: tuple[Node, Node], *, is_loose: bool
    ) -> Iterator[str]:
        before, after = pair
        if before.tag != after.tag or before.attrs != after.attrs:
            yield "the measure's own attributes differ, and no entry says so"
        page = self.ledger.page(terms.part, index)
        streams = Streams(
            page,
            self.source.sounding(terms.part, index),
            self.result.sounding(terms.part, index),
            terms.own,
        )
        one, two = streams.source(before), streams.result(after)
        pairing = Pairing(
            page,
            terms.interval,
            is_loose=is_loose,
            loses_lines=terms.lines.may_move(terms.part, index),
            is_first=index == 0,
            may_turn_clefs=terms.may_turn_clefs,
            heirs=streams.heirs,
            sounding=streams.sounding,
        )
        if page.takes_notes:
            yield from _marks_in_time(one, two, pairing)
            one, two = ([n for n in row if not is_placed(n)] for row in (one, two))
        yield from _walked(one, two, pairing)
        yield from streams.problems()


@dataclass(frozen=True, slots=True)
class _PartTerms:
    """What holds for all measures of a part: its interval (None where it does not move), the
    lines, whether clefs may follow its notes, and the ids of the directions that it was given.
    """

    part: str
    interval: Interval | None
    lines: Lines
    may_turn_clefs: bool
    own: frozenset[str]


def _marks_in_time(before: list[Node], after: list[Node], pairing: Pairing) -> Iterator[str]:
    """Compare the marks between notes by the time at which they speak.

    Where notes went, a mark may stand beside another note, and say by an offset when it speaks.
    """
    sides = (before, after)
    one, two = (
        in_time([node for node in row if is_placed(node)], sounding)
        for row, sounding in zip(sides, pairing.sounding, strict=True)
    )
    if len(one) != len(two):
        yield "a mark between the notes is gone or new, and no entry says so"
        return
    for (was, mark), (now, other) in zip(one, two, strict=True):
        problem = _difference(mark, other, pairing)
        if problem or was != now:
            yield problem or f"{called(mark)} speaks at another time, and no entry says so"


def _walked(before: list[Node], after: list[Node], pairing: Pairing) -> Iterator[str]:
    """Go along both measures; after the first difference of order the rest is not compared."""
    i = j = 0
    while i < len(before) or j < len(after):
        one = before[i] if i < len(before) else None
        two = after[j] if j < len(after) else None
        problem = "" if one is not None and two is not None else "one is missing"
        if one is not None and two is not None:
            problem = _difference(one, two, pairing)
        if not problem:
            i, j = i + 1, j + 1
        elif two is not None and is_extra(two, pairing):
            j += 1
        elif one is not None and two is not None and one.tag == two.tag:
            yield problem
            i, j = i + 1, j + 1
        else:
            yield _missing(one, two)
            return


def _missing(one: Node | None, two: Node | None) -> str:
    if one is None and two is not None:
        return f"{called(two)} is new, and no entry says so"
    if one is not None and two is None:
        return f"{called(one)} is gone, and no entry says so"
    if one is not None and two is not None:
        return f"{called(two)} stands in place of {called(one)}, and no entry says so"
    return "something differs"


def _difference(one: Node, two: Node, pairing: Pairing) -> str:
    """What differs between two elements that should be one; empty where nothing does."""
    if pairing.are_pitched(one, two):
        return note_problem(one, two, pairing)
    if is_same(one, two) and not (moves(one, pairing) or pairing.is_claimed(one)):
        return ""
    if one.tag != two.tag:
        return _missing(one, two)
    if one.tag == "note":
        return note_problem(one, two, pairing)
    return "" if is_followed(one, two, pairing) else f"{called(one)} differs, and no entry says so"
