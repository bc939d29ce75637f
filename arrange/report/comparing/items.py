"""One thing printed in a measure beside its notes, and how an element is put into words."""

from collections.abc import Iterator
from dataclasses import dataclass

from arrange.report.comparing.records import Aspect
from arrange.score.nodes import Node
from arrange.units import Quarters

Look = tuple[tuple[str, str], ...]
"""Names and values of what an element says about its looks."""

ON_THE_PAGE = frozenset({
    "default-x", "default-y", "relative-x", "relative-y", "bezier-x", "bezier-y", "bezier-x2",
    "bezier-y2", "bezier-offset", "bezier-offset2", "width", "end-length", "line-length",
})  # fmt: skip
_LOOK = frozenset({
    "placement", "orientation", "color", "font-family", "font-style", "font-size", "font-weight",
    "justify", "halign", "valign", "enclosure", "underline", "overline", "line-through",
    "rotation", "letter-spacing", "line-height", "dir", "line-shape", "line-type", "dash-length",
    "space-length", "print-object", "print-dot", "print-spacing", "print-lyric", "print-leger",
    "size", "spread", "line", "sign", "abbreviated", "bracket", "show-number",
    "show-type", "parentheses", "cautionary", "editorial", "use-symbols", "stack-degrees",
    "parentheses-degrees", "bracket-degrees", "print-style", "text", "symbol", "xml:lang",
    "smufl", "directive", "system", "line-end", "print-frame", "filled", "name",
    "start-note", "trill-step", "two-note-turn", "accelerate", "beats", "second-beat",
    "last-beat", "after-barline", "repeater", "fan", "separator", "winged", "location",
    "arrow", "relation", "additional", "new-system", "new-page",
})  # fmt: skip
FOLLOWS_STEMS = frozenset({"placement", "orientation"})
"""Looks that turn with the stem."""
_NAMELESS = frozenset({
    "id", "number", "xml:space", "xlink:href", "xlink:type", "xmlns:xlink",
})  # fmt: skip
"""What pairs or names elements within the file."""


@dataclass(frozen=True, slots=True)
class Item:
    """One thing printed in a measure beside its notes, or on a note.

    Attributes:
        kind: what a musician calls it.
        text: what it says.
        offset: quarters from the start of the measure; *staff*: 0 for all.
        look: fonts, colours, above or below; *page*: its places on the page.
    """

    aspect: Aspect
    kind: str
    text: str
    offset: Quarters
    staff: int = 0
    look: Look = ()
    page: Look = ()

    @property
    def name(self) -> str:
        """What it is called in a sentence."""
        return f"{self.kind} “{self.text}”" if self.text else self.kind


def on_one_line(text: str) -> str:
    """Text with its white space made plain; a line end becomes a stroke."""
    lines = (" ".join(line.split()) for line in text.splitlines())
    return " / ".join(line for line in lines if line)


def said(node: Node, *, spared: frozenset[str] = frozenset()) -> str:
    """What an element says, but for its looks: its text, its own attributes, what is in it."""
    pieces = [] if node.children else [plain_number(on_one_line(node.text))]
    pieces += [
        value
        for name, value in node.attrs.items()
        if name not in _LOOK
        and name not in ON_THE_PAGE
        and name not in _NAMELESS
        and value != "no"
    ]
    for child in node.children:
        if child.tag not in spared:
            inner = said(child, spared=spared)
            pieces.append(f"{called(child.tag)} {inner}" if inner else called(child.tag))
    return " ".join(filter(None, pieces))


def plain_number(text: str) -> str:
    """``120`` for ``120.00``, ``7.5`` for ``7.50``; any other text as it is."""
    whole, point, digits = text.strip().partition(".")
    if not point or not digits.isdecimal() or not whole.lstrip("+-").isdecimal():
        return text.strip()
    kept = digits.rstrip("0")
    return f"{whole}.{kept}" if kept else whole


def called(tag: str) -> str:
    """An element's name in plain words."""
    return tag.replace("-", " ")


def look_of(*nodes: Node, spared: frozenset[str] = frozenset()) -> Look:
    """The looks that elements, and those in them, ask for."""
    return tuple(sorted(_attributes(nodes, _LOOK - spared)))


def page_of(*nodes: Node) -> Look:
    """The places on the page that elements, and those in them, ask for."""
    return tuple(_attributes(nodes, ON_THE_PAGE))


def _attributes(nodes: tuple[Node, ...], wanted: frozenset[str]) -> Iterator[tuple[str, str]]:
    for top in nodes:
        for node in top.iter() if top.children else (top,):
            for name, value in node.attrs.items():
                if name in wanted:
                    yield (name if node is top else f"{called(node.tag)} {name}"), value


def look_text(look: Look) -> str:
    """Looks in one line."""
    return ", ".join(f"{name} {value}" for name, value in look)
