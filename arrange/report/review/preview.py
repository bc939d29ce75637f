"""A preview copy of a score for the engraver: every note named, every sign drawn, own systems.

The copy is written straight from the tree of the source, which stays as it is. It differs where
the engraver needs help: notes and measures get ids, directions a colour that stands for their
own, pedal diagrams and other signs that would not be drawn become words, and a system begins
where it is told to and nowhere else.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from arrange.report.listening import note_id
from arrange.score.document import Document
from arrange.score.markup import new_start_tag, spelled_text
from arrange.score.model import EventId, MarkKind, Score
from arrange.score.nodes import Node, element
from arrange.score.reading import Reading

_PICTURES = {
    "accordion-registration": "registration",
    "damp": "damp",
    "damp-all": "damp all",
    "eyeglasses": "watch",
    "image": "picture",
    "other-direction": "",
    "percussion": "percussion",
    "scordatura": "scordatura",
    "string-mute": "mute",
    "symbol": "",
}
"""Signs that are not drawn, and the words that stand for them."""
_LEFT_OUT = frozenset({"defaults", "credit", "identification", "work", "movement-title"})
_SIGNS = str.maketrans({"b": "♭", "#": "♯"})


def mark_id(event: EventId) -> str:
    """What the page calls a direction: ``d-P1-4-3``, by the scheme of `note_id`."""
    return "d" + note_id(EventId(event.part, event.index, event.key.partition(".")[0]))[1:]


def measure_id(index: int) -> str:
    """What the page calls a measure."""
    return f"m-{index}"


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two scores, read.

    Attributes:
        score: as it is read; *reading*: where its elements are found; *root*: the whole tree.
    """

    score: Score
    reading: Reading
    root: Node

    @classmethod
    def read(cls, score_bytes: bytes, name: str, parts: tuple[str, ...] | None = None) -> "Side":
        """Read a score that is not compressed.

        Args:
            score_bytes: the file.
            name: its name, for messages.
            parts: as `Reading` wants them.

        Raises:
            BadInput: it cannot be read.
        """
        document = Document.read(score_bytes, name)
        reading = Reading(document, parts=parts)
        return cls(reading.score(), reading, document.root)

    @property
    def count(self) -> int:
        """How many measures its longest part has."""
        return max(len(part.measures) for part in self.score.parts)


@dataclass(frozen=True, slots=True)
class Preview:
    """The copy.

    Attributes:
        text: a MusicXML score.
        marks: the id of each direction by the colour that stands for it (``#00002a``).
    """

    text: str
    marks: dict[str, str]


def preview(side: Side, starts: Collection[int]) -> Preview:
    """Write the preview copy of a score.

    Args:
        side: the score.
        starts: indices of the measures that begin a system.
    """
    copy = _Copy(side, frozenset(starts))
    return Preview("".join(copy.pieces()), copy.marks)


class _Copy:
    def __init__(self, side: Side, starts: frozenset[int]) -> None:
        self._side = side
        self._starts = starts
        self.marks: dict[str, str] = {}

    def pieces(self) -> Iterator[str]:
        yield '<?xml version="1.0" encoding="UTF-8"?>'
        yield '<score-partwise version="4.0">'
        for child in self._side.root.children:
            if child.tag not in _LEFT_OUT | {"part", "measure"}:
                yield from _written(child)
        for place, part in enumerate(self._side.score.parts):
            yield new_start_tag("part", {"id": part.id}) + ">"
            for measure in part.measures:
                yield from self._measure(part.id, measure.index, is_first=not place)
            yield "</part>"
        yield "</score-partwise>"

    def _measure(self, part: str, index: int, *, is_first: bool) -> Iterator[str]:
        node = self._side.reading.measure_node(part, index)
        number = self._side.score.measure(part, index).number
        yield new_start_tag("measure", {"number": number, "id": measure_id(index)}) + ">"
        if is_first and index in self._starts and index:
            yield '<print new-page="yes"/>'
        pedals = self._pedal_rows(part, index)
        for child in node.children:
            match child.tag:
                case "print":
                    continue
                case "note":
                    yield from _note(child, note_id(EventId(part, index, child.key)))
                case "direction":
                    yield from self._direction(child, EventId(part, index, child.key), pedals)
                case "attributes":
                    yield from _attributes(child)
                case _:
                    yield from _written(child)
        yield "</measure>"

    def _pedal_rows(self, part: str, index: int) -> dict[str, str]:
        """The words that say the same as a pedal diagram, by the direction's key."""
        marks = self._side.score.measure(part, index).marks
        return {
            mark.id.key.partition(".")[0]: mark.text.translate(_SIGNS)
            for mark in marks
            if mark.kind is MarkKind.HARP_PEDALS
        }

    def _direction(self, node: Node, event: EventId, pedals: dict[str, str]) -> Iterator[str]:
        colour = f"#{len(self.marks) + 1:06x}"
        self.marks[colour] = mark_id(event)
        yield new_start_tag("direction", node.attrs) + ">"
        for child in node.children:
            if child.tag != "direction-type":
                yield from _written(child)
                continue
            yield "<direction-type>"
            for sign in child.children:
                drawn = _drawn(sign, pedals.get(event.key, ""))
                yield from _written(drawn, {"color": colour})
            yield "</direction-type>"
        yield "</direction>"


def _note(node: Node, name: str) -> Iterator[str]:
    yield from _written(node, {"id": name, "color": ""})


def _drawn(sign: Node, pedals: str) -> Node:
    """The sign, or words for one that would not be drawn."""
    if sign.tag == "harp-pedals":
        return element("words", pedals or "pedals", font_style="normal", font_weight="bold")
    if sign.tag not in _PICTURES:
        return sign
    said = " ".join(filter(None, (_PICTURES[sign.tag], *_told(sign))))
    return element("words", said or "sign")


def _told(sign: Node) -> Iterator[str]:
    for node in sign.iter():
        if not node.children and node.text.strip():
            yield node.text.strip()
    if sign.attrs.get("type"):
        yield sign.attrs["type"]


def _attributes(node: Node) -> Iterator[str]:
    """Signatures and clefs; rests of many measures are drawn measure by measure."""
    yield "<attributes>"
    for child in node.children:
        is_merged = child.tag == "measure-style" and child.find("multiple-rest") is not None
        if not is_merged:
            yield from _written(child)
    yield "</attributes>"


def _written(node: Node, changed: dict[str, str] | None = None) -> Iterator[str]:
    """An element as XML, some attributes changed or (empty) left out."""
    attrs = node.attrs
    if changed:
        attrs = {k: v for k, v in {**node.attrs, **changed}.items() if v}
    tag = new_start_tag(node.tag, attrs) if attrs else f"<{node.tag}"
    if node.children:
        yield tag + ">"
        for child in node.children:
            yield from _written(child)
        yield f"</{node.tag}>"
    elif node.text:
        yield f"{tag}>{spelled_text(node.text, chr(10))}</{node.tag}>"
    else:
        yield tag + "/>"
