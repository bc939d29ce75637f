"""The elements of a measure in a row, without those that the log puts in or takes out."""

from collections import Counter
from collections.abc import Iterator, Mapping

from arrange.audit.ledger import Page, Span
from arrange.audit.shapes import Shape, lyrics, shape
from arrange.edits import NoteValue
from arrange.score.model import Note, Rest
from arrange.score.nodes import Node

_PEDAL_SOUNDS = frozenset({"damper-pedal", "soft-pedal", "sostenuto-pedal"})
"""What goes with a pedal mark; anything else that a direction sounds stays behind."""


class Streams:
    """Source and result of one measure, each reduced to what should be the same.

    Attributes:
        heirs: keys of notes to the elements that left their chord.
    """

    def __init__(
        self,
        page: Page,
        before: Mapping[str, Note | Rest],
        after: Mapping[str, Note | Rest],
        own: frozenset[str],
    ) -> None:
        self._page = page
        self._before = before
        self._after = after
        self._own = own
        self._sounds: list[Shape] = []
        self._lyrics: tuple[Counter[Shape], Counter[Shape]] = (Counter(), Counter())
        self._old = Counter(_place(v) for v in page.run_notes)
        self.heirs: dict[str, list[Node]] = {}

    @property
    def sounding(self) -> tuple[Mapping[str, Note | Rest], Mapping[str, Note | Rest]]:
        """The notes and rests of source and result by key."""
        return self._before, self._after

    def source(self, measure: Node) -> list[Node]:
        """What of the source's measure should still be there."""
        removed = [c for c in measure.children if c.tag == "note" and c.key in self._page.removed]
        self._find_heirs(removed)
        kept = []
        for child in measure.children:
            if child.tag == "note":
                self._take_lyrics(0, child)
                if self._leaves(child):
                    continue
            elif child.tag == "direction" and self._is_taken_out(child):
                self._sounds += _remaining_sound(child)
                continue
            kept.append(child)
        return kept

    def result(self, measure: Node) -> list[Node]:
        """What of the result's measure should have been there before; call `source` first."""
        kept = []
        for child in measure.children:
            if child.tag == "note":
                self._take_lyrics(1, child)
                if self._arrives(child):
                    continue
            elif child.tag == "direction" and child.attrs.get("id") in self._own:
                continue
            elif child.tag == "sound" and shape(child) in self._sounds:
                self._sounds.remove(shape(child))
                continue
            kept.append(child)
        return kept

    def problems(self) -> Iterator[str]:
        """What got lost with the notes and marks that went."""
        if self._sounds:
            yield "a tempo or another sound went with a mark, and no entry says so"
        before, after = self._lyrics
        is_sung = bool(before or after)
        if is_sung and (after - before or (before - after and not self._page.runs)):
            yield "lyrics differ, and no entry says so"

    def _take_lyrics(self, side: int, note: Node) -> None:
        sung = lyrics(note)
        if sung:
            self._lyrics[side].update(map(shape, sung))

    def _find_heirs(self, removed: list[Node]) -> None:
        for node in removed:
            gone = self._before.get(node.key)
            if not isinstance(gone, Note):
                continue
            for key, other in self._before.items():
                if (
                    isinstance(other, Note)
                    and other.chord == gone.chord
                    and key not in self._page.removed
                ):
                    self.heirs.setdefault(key, []).append(node)

    def _leaves(self, node: Node) -> bool:
        """Whether a note of the source is not to be looked for in the result."""
        if node.key in self._page.removed:
            return True
        event = self._before.get(node.key)
        if isinstance(event, Rest):
            return self._is_in(event, self._page.spans)
        if event is not None and self._old and self._old[_place(event)] > 0:
            self._old[_place(event)] -= 1
            return True
        return False

    def _arrives(self, node: Node) -> bool:
        """Whether a note of the result is one that the log brought in, or a rest it left."""
        event = self._after.get(node.key)
        if isinstance(event, Rest):
            return self._is_in(event, self._page.spans)
        return (
            event is not None and not event.is_grace and self._is_in(event, self._page.run_spans)
        )

    @staticmethod
    def _is_in(event: Note | Rest, spans: list[Span]) -> bool:
        return any(
            voice == event.voice and begin <= event.offset < end for voice, begin, end in spans
        )

    def _is_taken_out(self, direction: Node) -> bool:
        marks = self._page.marks
        if direction.key in marks:
            return True
        count = len(direction.find_all("direction-type"))
        return count > 0 and all(f"{direction.key}.{n}" in marks for n in range(count))


def _place(event: Note | NoteValue) -> tuple[object, ...]:
    return (event.offset, event.staff, event.voice, event.is_grace)


def _remaining_sound(direction: Node) -> list[Shape]:
    sound = direction.find("sound")
    if sound is None:
        return []
    tag, text, attrs, children = shape(sound)
    kept = tuple(p for p in attrs if p[0] not in _PEDAL_SOUNDS) if isinstance(attrs, tuple) else ()
    return [(tag, text, kept, children)] if kept or children else []
