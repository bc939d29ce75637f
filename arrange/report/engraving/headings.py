"""What stands at the head and foot of a printed score: title, names, rights."""

from collections.abc import Iterator
from dataclasses import dataclass

from arrange.score.document import Node
from arrange.score.reading.titles import title

TITLE_PT, SUBTITLE_PT, NAME_PT, RIGHTS_PT = 20.0, 14.0, 11.0, 8.0
"""Where the score does not say (house judgement)."""
_PLACES = {"title": "center", "subtitle": "center", "composer": "right", "arranger": "right",
           "lyricist": "left", "poet": "left"}  # fmt: skip
_SIZES = {"title": TITLE_PT, "subtitle": SUBTITLE_PT, "rights": RIGHTS_PT}
_SMALLEST_PT, _LARGEST_PT = 5.0, 36.0


@dataclass(frozen=True, slots=True)
class Heading:
    """A text at the head of the first page, or at its foot.

    Attributes:
        kind: ``title``, ``subtitle``, ``composer``, ``lyricist``, ``arranger``, ``rights`` or
            empty.
        lines: its lines.
        side: ``left``, ``center`` or ``right``.
    """

    kind: str
    lines: tuple[str, ...]
    size_pt: float
    side: str

    @property
    def is_footing(self) -> bool:
        """It stands at the foot of the page."""
        return self.kind == "rights"


def headings(root: Node) -> tuple[Heading, ...]:
    """The headings of a score: its credits; without a title among them, what it says of itself."""
    credited = [found for node in root.find_all("credit") for found in _credited(node)]
    kinds = {heading.kind for heading in credited}
    said = [h for h in _said(root) if h.kind not in kinds and (h.is_footing or not credited)]
    order = ("title", "subtitle", "", "lyricist", "poet", "composer", "arranger", "rights")
    return tuple(sorted((*credited, *said), key=lambda h: order.index(h.kind)))


def _credited(credit: Node) -> Iterator[Heading]:
    if credit.attrs.get("page", "1") != "1":
        return
    words = credit.find_all("credit-words")
    kind = credit.child_text("credit-type").lower()
    if kind in ("page number", "part name") or not words:
        return
    first = words[0].attrs
    text = "".join(node.text for node in words)
    side = first.get("justify") or first.get("halign") or _PLACES.get(kind, "center")
    known = kind if kind in _PLACES or kind == "rights" else ""
    if not known and first.get("valign") == "bottom" and _is_low(first.get("default-y", "")):
        known = "rights"
    lines = tuple(line for line in (" ".join(part.split()) for part in text.splitlines()) if line)
    if lines:
        size = number(first.get("font-size", ""), _SIZES.get(known, NAME_PT))
        size = min(max(size, _SMALLEST_PT), _LARGEST_PT)
        yield Heading(known, lines, size, side if side in ("left", "right") else "center")


def _is_low(default_y: str) -> bool:
    """Whether a credit stands near the lower edge, in tenths."""
    return number(default_y, 1e9) < 200


def _said(root: Node) -> Iterator[Heading]:
    name = title(root)
    if name:
        yield Heading("title", (name,), TITLE_PT, "center")
    identification = root.find("identification")
    if identification is None:
        return
    for creator in identification.find_all("creator"):
        kind, text = creator.attrs.get("type", "").lower(), " ".join(creator.text.split())
        if kind in ("composer", "lyricist", "arranger") and text:
            yield Heading(kind, (text,), NAME_PT, _PLACES[kind])
    lines = [" ".join(node.text.split()) for node in identification.find_all("rights")]
    if any(lines):
        yield Heading("rights", tuple(filter(None, lines)), RIGHTS_PT, "center")


def number(text: str, otherwise: float) -> float:
    """A size as the score writes it; *otherwise* where it is none (``large``, empty)."""
    try:
        return float(text)
    except ValueError:
        return otherwise
