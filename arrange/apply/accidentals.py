"""The accidentals that notes show: set anew where notes changed, and nowhere else.

Common practice: an accidental holds for its staff line or space, in its octave, in all voices
of the staff, until the next barline; a tied note needs none.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from arrange.apply.neighbours import Distances, distances, keep_neighbours
from arrange.apply.pages import Pages
from arrange.apply.printed import (
    PrintedMeasure,
    PrintedNote,
    key_on,
)
from arrange.apply.signatures import MEANING_OF, SIGN_OF, Alter, Alters
from arrange.quick import quickly_made
from arrange.score.document import Document, Node, element, place_in_order

_KEPT_FOR = ("cautionary", "editorial", "parentheses", "bracket")
_UNCLEAR: Alter = 99
"""In force where two voices disagree at once: whatever follows shows its sign."""


@quickly_made
@dataclass(frozen=True, slots=True)
class Was:
    """How a note stood before: its line and alteration, whether it needed a sign, had one."""

    line: int
    alter: Alter
    is_needed: bool
    is_shown: bool


def needed(measure: PrintedMeasure) -> dict[Node, bool]:
    """Whether each pitched note of a measure needs an accidental to be read right."""
    return _Reader(measure).read()


class _Reader:
    """Reads a measure as a player does, keeping what holds on each line and space."""

    def __init__(self, measure: PrintedMeasure) -> None:
        self.order = measure.reading_order()
        self.keys = measure.keys
        self.changes = sorted(measure.key_changes, key=lambda change: change[0])
        self.in_force: dict[tuple[int, int], Alter] = {}
        self.latest: dict[tuple[int, int], PrintedNote] = {}
        self.needs: dict[Node, bool] = {}
        self.staves: dict[int, Alters] = {}

    def read(self) -> dict[Node, bool]:
        changes = self.changes
        turn = 0
        for note in self.order:
            if note.pitch is None:
                continue
            while turn < len(changes) and changes[turn][0] <= note.onset:
                self._change_key(changes[turn][1], changes[turn][2])
                turn += 1
            self.needs[note.node] = not note.is_hidden and self._is_needed(note)
        return self.needs

    def _change_key(self, staff: int, alters: Alters) -> None:
        self.keys = {**self.keys, staff: alters} if staff else {0: alters}
        self.staves = {}
        self.in_force = {}

    def _is_needed(self, note: PrintedNote) -> bool:
        place = note.staff, note.line
        in_force = self.in_force.get(place)
        if in_force is None:
            key = self.staves.get(note.staff)
            if key is None:
                key = self.staves[note.staff] = key_on(self.keys, note.staff)
            in_force = key[note.line % 7]
        if note.is_tied:
            return False
        before = self.latest.get(place)
        self.latest[place] = note
        at_once = before is not None and before.onset == note.onset
        if in_force == note.alter:
            return before is not None and at_once and self._takes_over(before, note)
        clashes = before is not None and at_once and before.is_grace == note.is_grace
        self.in_force[place] = _UNCLEAR if clashes else note.alter
        return True

    def _takes_over(self, before: PrintedNote, note: PrintedNote) -> bool:
        """A unison of two voices: the one that shows its sign is the one that needs it."""
        if note.shown is None or before.shown is not None or not self.needs[before.node]:
            return False
        self.needs[before.node] = False
        return True


def remembered(measure: PrintedMeasure) -> dict[Node, Was]:
    """How the notes of a measure stand now."""
    needs = needed(measure)
    return {
        note.node: Was(note.line, note.alter, needs[note.node], note.shown is not None)
        for note in measure.notes
        if note.pitch is not None
    }


def settle(document: Document, measure: PrintedMeasure, before: dict[Node, Was]) -> None:
    """Show what the notes of a measure need now, given how they stood *before*."""
    needs = needed(measure)
    for note in measure.notes:
        if note.pitch is not None:
            was = before.get(note.node)
            is_needed = needs[note.node]
            if note.shown is not None or was is None:
                _settle_note(document, note, was, is_needed=is_needed)
            elif is_needed and not (was.is_needed and _is_same(was, note)):
                _add(document, note)
        elif note.is_rest and note.shown is not None:
            document.remove(note.shown)


def _settle_note(
    document: Document, note: PrintedNote, was: Was | None, *, is_needed: bool
) -> None:
    shown = note.shown
    if shown is None:
        if is_needed:
            _add(document, note)
    elif was is not None and _is_same(was, note):
        if was.is_needed and not is_needed and not _is_kept(shown, was):
            document.remove(shown)
        elif is_needed and not was.is_needed:
            _correct(document, shown, note.alter)
    elif is_needed or (was is not None and _is_kept(shown, was)):
        _correct(document, shown, note.alter)
    else:
        document.remove(shown)


def _is_same(was: Was, note: PrintedNote) -> bool:
    return was.line == note.line and was.alter == note.alter


def _is_kept(shown: Node, was: Was) -> bool:
    """Whether the sign was there for the reader's comfort, not because it had to be."""
    return not was.is_needed or any(shown.attrs.get(name) == "yes" for name in _KEPT_FOR)


def _add(document: Document, note: PrintedNote) -> None:
    name = SIGN_OF.get(note.alter)
    if name is not None:
        place_in_order(document, note.node, element("accidental", name))


def _correct(document: Document, shown: Node, alter: Alter) -> None:
    """Make a sign say *alter*; one that says so in its own way stays."""
    name = SIGN_OF.get(alter)
    if name is None or MEANING_OF.get(shown.text.strip()) == alter:
        return
    document.set_text(shown, name)
    if "smufl" in shown.attrs:
        document.set_attribute(shown, "smufl", None)


class Accidentals:
    """Keeps shown accidentals right while notes are edited, those of ornaments too.

    Call `remember` before the first edit of a measure and `refresh` when the edits are done.
    Measures are read from *pages*, which others may share.
    """

    def __init__(self, document: Document, pages: Pages | None = None) -> None:
        self._document = document
        self._is_alone = pages is None
        self._pages = pages or Pages(document)
        self._asked: set[tuple[str, int]] = set()
        self._before: dict[tuple[str, int], dict[Node, Was]] = {}
        self._ornaments: dict[Node, Distances] = {}

    def remember(self, part: str, index: int) -> None:
        """Note how a measure stands, and the next one where a tie leads into it."""
        if (part, index) in self._asked:
            return
        self._asked.add((part, index))
        measure = self._note_down(part, index)
        crosses = any(note.leaves_tie for note in measure.notes)
        if crosses and index + 1 < self._pages.count(part):
            self._note_down(part, index + 1)

    def _note_down(self, part: str, index: int) -> PrintedMeasure:
        measure = self._pages.measure(part, index)
        if (part, index) not in self._before:
            self._before[part, index] = remembered(measure)
            for note, key in with_signs(measure):
                self._ornaments[note.node] = distances(note, key)
        return measure

    def refresh(self) -> None:
        """Set the accidentals of all remembered measures anew, and forget them."""
        for (part, index), before in self._before.items():
            measure = self._pages.measure(part, index)
            settle(self._document, measure, before)
            for note, key in with_signs(measure):
                kept = self._ornaments.get(note.node)
                if kept:
                    keep_neighbours(self._document, note, key, kept)
        self._asked = set()
        self._before = {}
        self._ornaments = {}
        if self._is_alone:
            self._pages.renew()


def with_signs(measure: PrintedMeasure) -> Iterator[tuple[PrintedNote, Alters]]:
    """The notes that carry signs, each with the signature at its place."""
    for note in measure.notes:
        if note.has_signs and note.pitch is not None:
            keys = measure.keys
            for place, staff, alters in measure.key_changes:
                if place <= note.onset:
                    keys = {**keys, staff: alters} if staff else {0: alters}
            yield note, key_on(keys, note.staff)
