"""Compares any two MusicXML scores: what changed, in classes, and what stayed the same."""

import hashlib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from arrange.phrasing import counted
from arrange.pitch import UNISON, Interval
from arrange.report.comparing.aligning import Pairs
from arrange.report.comparing.cells import compared_cells, is_same_cell
from arrange.report.comparing.forms import as_json, as_markdown, as_text
from arrange.report.comparing.head import head_differences
from arrange.report.comparing.matching import Voices, renumbered_voices
from arrange.report.comparing.measures import renumbered, run_differences
from arrange.report.comparing.pairing import (
    Moved,
    PairedParts,
    columns_of,
    intervals_of,
    paired_columns,
    paired_parts,
)
from arrange.report.comparing.records import (
    Aspect,
    Comparison,
    Difference,
    File,
    Kind,
    MeasurePlace,
    PartPair,
    Transposition,
    Verdict,
)
from arrange.report.comparing.sheets import Cell, Sheet, SheetPart
from arrange.report.comparing.subjects import Terms
from arrange.report.comparing.wording import interval_text, listed

__all__ = [
    "Aspect",
    "Comparison",
    "Difference",
    "Kind",
    "Transposition",
    "Verdict",
    "as_json",
    "as_markdown",
    "as_text",
    "compare",
]


def compare(before: bytes, after: bytes, names: tuple[str, str]) -> Comparison:
    """Compare two scores, plain or compressed.

    Args:
        before: the bytes of a MusicXML file.
        after: the bytes of another, or of the same.
        names: what the files are called.

    Raises:
        BadInput: one of them cannot be read.
    """
    files = (
        File(names[0], hashlib.sha256(before).hexdigest()),
        File(names[1], hashlib.sha256(after).hexdigest()),
    )
    one = Sheet.read(before, names[0])
    if before == after:
        pairs = tuple(PartPair(p.part.id, p.part.id, p.part.name) for p in one.parts)
        count = max(len(part.cells) for part in one.parts)
        return Comparison(*files, pairs, measures=tuple((i, i) for i in range(count)))
    return _Work(one, Sheet.read(after, names[1])).comparison(files)


@dataclass(frozen=True, slots=True)
class _OnPage:
    """How many things of a measure stand elsewhere on the page."""

    part: str
    one: MeasurePlace
    two: MeasurePlace
    count: int


class _Work:
    """One comparison while it is made."""

    def __init__(self, one: Sheet, two: Sheet) -> None:
        self._one = one
        self._two = two
        self._parts: PairedParts = paired_parts(one.parts, two.parts)
        self._moved: list[Moved] = intervals_of(self._parts.pairs)
        self._measures: Pairs = []

    def comparison(self, files: tuple[File, File]) -> Comparison:
        pairs = self._parts.pairs
        intervals = [moved.interval for moved in self._moved]
        before = columns_of([a for a, _ in pairs], intervals)
        after = columns_of([b for _, b in pairs], [UNISON] * len(pairs))
        self._measures = paired_columns(before, after)
        differences = [
            *head_differences(self._one, self._two, self._parts),
            *self._in_order(
                [
                    *run_differences(self._measures, pairs, before, after),
                    *renumbered(self._measures, pairs),
                    *self._of_cells(),
                ]
            ),
        ]
        return Comparison(
            *files,
            tuple(self._part_pairs()),
            tuple(self._transpositions()),
            tuple(_in_all_parts(differences)),
            tuple(self._measures),
        )

    def _of_cells(self) -> Iterator[Difference]:
        both = [(i, j) for i, j in self._measures if i is not None and j is not None]
        for (one, two), moved in zip(self._parts.pairs, self._moved, strict=True):
            yield from _of_part(one, two, both, moved.interval)

    def _in_order(self, differences: Sequence[Difference]) -> list[Difference]:
        """In the order of the music, parts one below the other."""
        before = {i: n for n, (i, _) in enumerate(self._measures) if i is not None}
        after = {j: n for n, (_, j) in enumerate(self._measures) if j is not None}
        parts = {two.part.id: n for n, (_, two) in enumerate(self._parts.pairs)}

        def place(difference: Difference) -> tuple[int, int, object]:
            measure = -1
            if difference.place_after is not None:
                measure = after[difference.place_after.index]
            elif difference.place_before is not None:
                measure = before[difference.place_before.index]
            offset = difference.offset
            return measure, parts.get(difference.part, -1), -1 if offset is None else offset

        return sorted(differences, key=place)

    def _part_pairs(self) -> Iterator[PartPair]:
        for one, two in self._parts.pairs:
            yield PartPair(one.part.id, two.part.id, two.part.name or one.part.name)
        for part in self._parts.removed:
            yield PartPair(part.part.id, "", part.part.name)
        for part in self._parts.added:
            yield PartPair("", part.part.id, part.part.name)

    def _transpositions(self) -> Iterator[Transposition]:
        """One for each interval; the parts that share it are named together."""
        shared: dict[object, list[tuple[SheetPart, Moved]]] = {}
        for (_, two), moved in zip(self._parts.pairs, self._moved, strict=True):
            if moved.interval != UNISON:
                shared.setdefault(moved.interval, []).append((two, moved))
        playing = sum(moved.notes > 0 for moved in self._moved)
        for members in shared.values():
            interval = members[0][1].interval
            who = "Everything"
            if len(members) < playing:
                who = listed(part.part.name or part.part.id for part, _ in members)
            explained = sum(moved.explained for _, moved in members)
            notes = sum(moved.notes for _, moved in members)
            rest = f", {counted(notes - explained, 'note')} aside" if notes > explained else ""
            verb = "are" if len(members) > 1 and who != "Everything" else "is"
            sentence = f"{who} {verb} transposed {interval_text(interval)}{rest}."
            if not interval.semitones:
                words = f"spelled anew ({interval_text(interval)})"
                sentence = f"{who} {verb} {words} and sounds the same{rest}."
            ids = tuple(part.part.id for part, _ in members)
            yield Transposition(interval, ids, explained, notes, sentence)


def _of_part(
    one: SheetPart, two: SheetPart, both: Sequence[tuple[int, int]], interval: Interval
) -> Iterator[Difference]:
    moved: list[_OnPage] = []
    renumbered_in: list[tuple[Cell, Voices]] = []
    for i, j in both:
        if i >= len(one.cells) or j >= len(two.cells):
            if i < len(one.cells) or j < len(two.cells):
                yield _one_sided(one, two, i, j)
            continue
        a, b = one.cells[i], two.cells[j]
        if interval == UNISON and is_same_cell(a, b):
            continue
        voices = renumbered_voices(a, b, interval)
        if voices:
            renumbered_in.append((b, voices))
        compared = compared_cells(a, b, Terms(interval, voices))
        yield from compared.differences
        if compared.moved_on_page:
            places = [MeasurePlace(c.measure.index, c.measure.number) for c in (a, b)]
            moved.append(_OnPage(two.part.id, places[0], places[1], compared.moved_on_page))
    yield from _on_page(moved)
    if renumbered_in:
        yield _voices_renumbered(two, renumbered_in)


def _one_sided(one: SheetPart, two: SheetPart, i: int, j: int) -> Difference:
    """A measure that only one of the two parts has, while other parts go on."""
    is_new = i >= len(one.cells)
    measure = (two.cells[j] if is_new else one.cells[i]).measure
    place = MeasurePlace(measure.index, measure.number)
    named = f"measure {measure.number} of {two.part.name or two.part.id}"
    return Difference(
        Aspect.STRUCTURE,
        Kind.INSERTED if is_new else Kind.REMOVED,
        f"{named[0].upper()}{named[1:]} is {'inserted' if is_new else 'left out'}.",
        two.part.id,
        None if is_new else place,
        place if is_new else None,
        before="" if is_new else named,
        after=named if is_new else "",
    )


def _voices_renumbered(two: SheetPart, found: Sequence[tuple[Cell, Voices]]) -> Difference:
    """One difference for all measures in which voices only have other numbers."""
    changes = sorted({(staff, old, new) for _, v in found for (staff, old), new in v.items()})
    said = [f"{old} of staff {staff} is now {new}" for staff, old, new in changes]
    place = MeasurePlace(found[0][0].measure.index, found[0][0].measure.number)
    measures = counted(len(found), "measure")
    return Difference(
        Aspect.LAYOUT,
        Kind.RENUMBERED,
        f"Voices are only numbered anew, in {measures}: {listed(said)}.",
        two.part.id,
        None,
        place,
        before=", ".join(old for _, old, _ in changes),
        after=", ".join(new for _, _, new in changes),
    )


def _on_page(moved: Sequence[_OnPage]) -> Iterator[Difference]:
    """One difference for each stretch of measures in which things stand elsewhere."""
    stretch: list[_OnPage] = []
    for entry in moved:
        if stretch and entry.two.index != stretch[-1].two.index + 1:
            yield _stands_elsewhere(stretch)
            stretch = []
        stretch.append(entry)
    if stretch:
        yield _stands_elsewhere(stretch)


def _stands_elsewhere(stretch: Sequence[_OnPage]) -> Difference:
    total = sum(entry.count for entry in stretch)
    until = f" up to measure {stretch[-1].two.number}" if len(stretch) > 1 else ""
    verb = "stands" if total == 1 else "stand"
    things = counted(total, "note or mark", "notes and marks")
    return Difference(
        Aspect.LAYOUT,
        Kind.MOVED,
        f"{things}{until} {verb} elsewhere on the page.",
        stretch[0].part,
        stretch[0].one,
        stretch[0].two,
    )


def _in_all_parts(differences: Sequence[Difference]) -> list[Difference]:
    """What happened alike in several parts is told once."""
    found: dict[tuple[Difference, int], list[str]] = {}
    seen: Counter[Difference] = Counter()
    for difference in differences:
        key = difference
        is_of_notes = difference.notes_before or difference.notes_after
        if difference.aspect in (Aspect.STRUCTURE, Aspect.LAYOUT) and not is_of_notes:
            key = replace(difference, part="")
        found.setdefault((key, seen[difference]), []).append(difference.part)
        seen[difference] += 1
    return [
        replace(difference, part=parts[0], also=tuple(parts[1:]))
        for (difference, _), parts in found.items()
    ]
