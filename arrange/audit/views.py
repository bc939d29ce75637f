"""A file as the audit sees it: its text, its elements, its notes."""

from dataclasses import dataclass

from arrange.score.document import Document
from arrange.score.model import Note, Rest, Score
from arrange.score.nodes import Node
from arrange.score.reading import Reading
from arrange.score.reading.part_list import give_keys, part_nodes


@dataclass(frozen=True, eq=False)
class View:
    """One file.

    Attributes:
        text: as its bytes say it; *root*: its elements, which know their place in the text.
        score: what it means.
    """

    text: str
    root: Node
    score: Score

    @classmethod
    def read(cls, raw: bytes, name: str = "", parts: tuple[str, ...] = ()) -> "View":
        """Read a file; *parts* are the harp's, where they are not found by name.

        Raises:
            BadInput: it cannot be read.
        """
        document = Document.read(raw, name)
        return cls.of(document, Reading(document, parts=parts).score())

    @classmethod
    def of(cls, document: Document, score: Score) -> "View":
        """A file that has been read already; nothing in *document* may have been changed."""
        view = cls(document.text, document.root, score)
        for measures in view.measures().values():
            for measure in measures:
                give_keys(measure)
        return view

    def measures(self) -> dict[str, list[Node]]:
        """The elements that hold the measures of each part, in order."""
        parts, _ = part_nodes(self.root, file="")
        return {part.listed.id: list(part.measures) for part in parts}

    def spelled(self, node: Node) -> str:
        """How the file spells an element."""
        return self.text[node.start : node.end]

    def sounding(self, part: str, index: int) -> dict[str, Note | Rest]:
        """The notes and rests of a measure by their keys."""
        measure = self.score.measure(part, index)
        events: tuple[Note | Rest, ...] = (*measure.notes, *measure.rests)
        return {event.id.key: event for event in events}
