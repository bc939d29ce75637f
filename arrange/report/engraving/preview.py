"""The copy of a score that the engraver reads: every word in it can be found again on the page.

The copy is only looked at. It is partwise whatever the score is, says pedal diagrams and damping
signs, which the engraver does not draw, in words, and has no page layout of its own.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from html import escape

from arrange.report.engraving.headings import Heading, headings, number
from arrange.score.document import Document, Node

OPEN, CLOSE = "\U000f0000", "\U000f0001"
"""Around the number of a text: signs for private use, which no score's words hold."""
USUAL_WORDS_PT = 10.0
"""Words whose size the score does not say (house judgement)."""
USUAL_STAFF_MM = 7.0
"""From the lowest line of a staff to its highest, where the score does not say (from memory)."""
_PEDAL_SIGNS = {"-1": "♭", "0": "♮", "1": "♯"}
_SAID_IN_WORDS = {"damp": "damp", "damp-all": "damp all"}
_LEFT_OUT = frozenset({"print", "multiple-rest", "credit", "defaults", "appearance"})
"""Page layout, and rests drawn together: in the copy every measure stands for itself."""


@dataclass(frozen=True, slots=True)
class PrintedWords:
    """A text in the music.

    Attributes:
        kind: ``words``, ``rehearsal``, ``pedals`` or ``damping``.
        own: the id that this toolkit gave its direction, or "".
        beat: where it stands, counted from 1 in the beats of the time signature.
    """

    part: str
    index: int
    kind: str
    text: str
    own: str
    size_pt: float
    beat: float


@dataclass(frozen=True, slots=True)
class PreviewCopy:
    """What the engraver reads, and what can be found again on its pages.

    Attributes:
        text: MusicXML; the measures of the first part have the ids ``m-0``, ``m-1``, ...
        words: the texts in the music; the marker of each holds its place in this list.
        headings: what stands at the head and foot of the pages.
        staff_mm: how high a staff is printed.
        numbers: the numbers of the measures.
        unnumbered: measures, counted from 0, whose numbers are not printed: upbeats, and the
            second half of a measure that a barline parts.
    """

    text: str
    words: tuple[PrintedWords, ...]
    headings: tuple[Heading, ...]
    staff_mm: float
    numbers: tuple[str, ...]
    unnumbered: frozenset[int]


def preview_copy(
    score_bytes: bytes, file: str, starts: Mapping[int, bool] | None = None
) -> PreviewCopy:
    """Make the copy.

    Args:
        score_bytes: an uncompressed score file.
        file: its name, for messages.
        starts: measures, counted from 0, with which a line begins, and whether a page does.

    Raises:
        BadInput: it cannot be read.
    """
    return _Copying(Document.read(score_bytes, file).root, starts or {}).copy()


class Beats:
    """Counts where in its measure an element stands, well enough to print beside it."""

    def __init__(self) -> None:
        self._divisions = 1.0
        self._beat_type = 4.0
        self._now = 0.0

    def begin(self) -> None:
        """A measure begins."""
        self._now = 0.0

    def pass_by(self, node: Node) -> None:
        """Go past an element of the measure."""
        length = number(node.child_text("duration"), 0.0)
        if node.tag == "attributes":
            self._divisions = number(node.child_text("divisions"), self._divisions) or 1.0
            for time in node.find_all("time"):
                self._beat_type = number(time.child_text("beat-type"), self._beat_type)
        elif node.tag == "backup":
            self._now -= length
        elif node.tag == "forward" or (node.tag == "note" and node.find("chord") is None):
            self._now += length

    def at(self, direction: Node) -> float:
        """The beat of a direction here, counted from 1."""
        now = self._now + number(direction.child_text("offset"), 0.0)
        return 1 + max(now, 0.0) / self._divisions * self._beat_type / 4


class _Copying:
    def __init__(self, root: Node, starts: Mapping[int, bool]) -> None:
        self._root = root
        self._starts = starts
        self._words: list[PrintedWords] = []
        self._pieces: list[str] = []
        self._beats = Beats()

    def copy(self) -> PreviewCopy:
        root, pieces = self._root, self._pieces
        pieces.append('<?xml version="1.0" encoding="UTF-8"?>\n<score-partwise version="4.0">')
        for node in root.children:
            if node.tag not in ("part", "measure"):
                self._write(node)
        first: list[Node] = []
        for place, (part, measures) in enumerate(_parts(root)):
            self._beats = Beats()
            pieces.append(f'<part id="{escape(part)}">')
            for index, measure in enumerate(measures):
                self._measure(part, index, measure, is_first=place == 0)
            pieces.append("</part>\n")
            if place == 0:
                first = measures
        pieces.append("</score-partwise>\n")
        return PreviewCopy(
            "".join(pieces),
            tuple(self._words),
            headings(root),
            _staff_mm(root),
            tuple(measure.attrs.get("number", "") for measure in first),
            frozenset(n for n, m in enumerate(first) if m.attrs.get("implicit") == "yes"),
        )

    def _measure(self, part: str, index: int, measure: Node, *, is_first: bool) -> None:
        attrs = {k: v for k, v in measure.attrs.items() if k not in ("id", "width")}
        if is_first:
            attrs["id"] = f"m-{index}"
        self._pieces.append(f"<measure{_spelled(attrs)}>")
        if is_first and index in self._starts:
            begins = "new-page" if self._starts[index] else "new-system"
            self._pieces.append(f'<print {begins}="yes"></print>')
        self._beats.begin()
        for node in measure.children:
            if node.tag == "direction":
                self._direction(part, index, node)
            else:
                self._beats.pass_by(node)
                self._write(node)
        self._pieces.append("</measure>\n")

    def _direction(self, part: str, index: int, direction: Node) -> None:
        own = direction.attrs.get("id", "")
        beat = self._beats.at(direction)
        attrs = {k: v for k, v in direction.attrs.items() if k != "id"}
        self._pieces.append(f"<direction{_spelled(attrs)}>")
        for child in direction.children:
            if child.tag != "direction-type":
                self._write(child)
                continue
            self._pieces.append("<direction-type>")
            for node in child.children:
                self._mark(PrintedWords(part, index, "", "", own, 0.0, beat), node)
            self._pieces.append("</direction-type>")
        self._pieces.append("</direction>")

    def _mark(self, place: PrintedWords, node: Node) -> None:
        kind, text = _words_of(node)
        if not text.strip():
            self._write(node)
            return
        size = number(node.attrs.get("font-size", ""), USUAL_WORDS_PT)
        marker = f"{OPEN}{len(self._words)}{CLOSE}"
        self._words.append(replace(place, kind=kind, text=text, size_pt=size))
        tag = "rehearsal" if kind == "rehearsal" else "words"
        attrs = {k: v for k, v in node.attrs.items() if k != "id"}
        self._pieces.append(f"<{tag}{_spelled(attrs)}>{_plain(text)}{marker}</{tag}>")

    def _write(self, node: Node) -> None:
        if node.tag in _LEFT_OUT:
            return
        attrs = node.attrs
        if "id" in attrs and node.tag not in ("score-part", "score-instrument", "midi-instrument"):
            attrs = {k: v for k, v in attrs.items() if k != "id"}
        self._pieces.append(f"<{node.tag}{_spelled(attrs)}>")
        if node.children:
            for child in node.children:
                self._write(child)
        elif node.text:
            self._pieces.append(_plain(node.text))
        self._pieces.append(f"</{node.tag}>")


def _parts(root: Node) -> Iterator[tuple[str, list[Node]]]:
    """Each part's measures, whichever way round the file has them."""
    if root.tag == "score-partwise":
        for part in root.find_all("part"):
            yield part.attrs.get("id", ""), part.find_all("measure")
        return
    by_part: dict[str, list[Node]] = {}
    for measure in root.find_all("measure"):
        for part in measure.find_all("part"):
            turned = Node("measure", measure.attrs, part.children)
            by_part.setdefault(part.attrs.get("id", ""), []).append(turned)
    yield from by_part.items()


def _words_of(node: Node) -> tuple[str, str]:
    """What kind of text an element of a direction is, and the text; empty where it is none."""
    match node.tag:
        case "words" | "rehearsal":
            return node.tag, node.text
        case "harp-pedals":
            tunings = [
                child.child_text("pedal-step")
                + _PEDAL_SIGNS.get(child.child_text("pedal-alter", "0"), "")
                for child in node.find_all("pedal-tuning")
            ]
            return "pedals", " ".join(tunings)
        case "damp" | "damp-all":
            return "damping", _SAID_IN_WORDS[node.tag]
        case _:
            return "", ""


def _staff_mm(root: Node) -> float:
    """How high a staff is printed, by the score's own scaling."""
    defaults = root.find("defaults")
    scaling = None if defaults is None else defaults.find("scaling")
    if scaling is None:
        return USUAL_STAFF_MM
    millimeters = number(scaling.child_text("millimeters"), 0.0)
    tenths = number(scaling.child_text("tenths"), 0.0)
    return 40 * millimeters / tenths if millimeters > 0 and tenths > 0 else USUAL_STAFF_MM


def _spelled(attrs: Mapping[str, str]) -> str:
    return "".join(f' {name}="{_plain(value)}"' for name, value in attrs.items())


def _plain(text: str) -> str:
    """Text of the score as XML spells it, without what might be taken for a marker."""
    return escape(text.replace(OPEN, "").replace(CLOSE, ""))
