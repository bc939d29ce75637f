"""What of the engraving follows from edited notes: stems, clefs, and places on the page."""

from dataclasses import dataclass

from arrange.apply.clefs import (
    MOST_LEDGER_LINES,
    clef_changes_wanted,
    lines_at,
    write_clef,
)
from arrange.apply.pages import Pages
from arrange.apply.printed import (
    PrintedMeasure,
    PrintedNote,
)
from arrange.apply.stems import (
    drop_positions,
    give_stem,
    groups_in,
    stem_anew,
    stem_direction,
    stems_by_rule,
)
from arrange.score.document import Document, Node

_WITHOUT_STEM = frozenset({"whole", "breve", "long", "maxima"})


@dataclass(frozen=True, slots=True)
class _Before:
    """How a measure stood: its notes' lines and staves, and which stems followed the rule."""

    places: dict[Node, tuple[int, int]]
    stems: dict[Node, bool]
    has_stems: bool


class Engraving:
    """Keeps stems and places on the page right while notes are edited.

    Call `remember` before the first edit of a measure and `refresh` when the edits are done.
    Measures are read from *pages*, which others may share. Beams are the business of the edits
    themselves.
    """

    def __init__(self, document: Document, pages: Pages | None = None) -> None:
        self._document = document
        self._pages = pages or Pages(document)
        self._before: dict[tuple[str, int], _Before] = {}

    def remember(self, part: str, index: int) -> None:
        """Note how a measure stands."""
        if (part, index) in self._before:
            return
        measure = self._pages.measure(part, index)
        places = {n.node: (n.line, n.staff) for n in measure.notes if n.pitch is not None}
        has_stems = any(note.stem is not None for note in measure.notes)
        self._before[part, index] = _Before(places, stems_by_rule(measure), has_stems)

    def refresh(self) -> None:
        """Engrave anew what moved in the remembered measures, and forget them."""
        moved: dict[str, set[Node]] = {}
        far: dict[tuple[str, int], None] = {}
        for (part, index), before in self._before.items():
            measure = self._pages.measure(part, index)
            nodes = _engrave(self._document, measure, before)
            moved.setdefault(part, set()).update(nodes)
            far.update(dict.fromkeys((part, staff) for staff in _far_staves(measure, nodes)))
        for part, staff in far:
            for wanted in clef_changes_wanted(self._document, part, staff, moved[part]):
                write_clef(self._document, wanted)
        self._before = {}
        self._pages.renew()


def _engrave(document: Document, measure: PrintedMeasure, before: _Before) -> set[Node]:
    """Engrave a measure anew; the notes that are new or moved are returned."""
    moved = {
        note.node
        for note in measure.notes
        if note.pitch is not None and before.places.get(note.node) != (note.line, note.staff)
    }
    stems = dict(before.stems)
    groups = groups_in(measure)
    for group in groups:
        notes = group.notes
        if any(note.node in moved for note in notes):
            _forget_places(document, group.chords, moved)
        for note in notes:
            if note.node not in before.places:
                stems[note.node] = not group.is_grace
        if before.has_stems and not group.is_grace:
            _complete(document, measure, group.chords)
    stem_anew(document, measure, stems, groups)
    return moved


def _far_staves(measure: PrintedMeasure, moved: set[Node]) -> list[int]:
    """The staves on which notes moved beyond the ledger lines that a clef should keep them in."""
    staves = []
    for note in measure.notes:
        if note.node in moved and note.staff not in staves:
            clef = measure.clef_at(note.staff, note.onset)
            if lines_at(measure.display_line(note), clef) > MOST_LEDGER_LINES:
                staves.append(note.staff)
    return staves


def _forget_places(document: Document, chords: list[list[PrintedNote]], moved: set[Node]) -> None:
    """Drop heights of moved notes, and of every stem that one beam joins to them."""
    for chord in chords:
        has_moved = any(note.node in moved for note in chord)
        for note in chord:
            if note.node in moved:
                drop_positions(document, note)
            stem = note.stem
            if stem is not None and "default-y" in stem.attrs:
                document.set_attribute(stem, "default-y", None)
            if has_moved and len(chord) > 1 and "default-x" in note.node.attrs:
                document.set_attribute(note.node, "default-x", None)
            for dot in note.node.find_all("dot") if note.node in moved else ():
                if "placement" in dot.attrs:
                    document.set_attribute(dot, "placement", None)


def _complete(
    document: Document, measure: PrintedMeasure, chords: list[list[PrintedNote]]
) -> None:
    """Give stems to notes that an edit brought in without."""
    bare = [c[0] for c in chords if all(n.stem is None for n in c) and _has_stem(c[0])]
    if not bare:
        return
    direction = stem_direction(measure, chords)
    for note in bare:
        give_stem(document, note, direction)


def _has_stem(note: PrintedNote) -> bool:
    return note.pitch is not None and bool(note.value) and note.value not in _WITHOUT_STEM
