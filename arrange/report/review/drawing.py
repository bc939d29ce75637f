"""What the engraver draws, written anew from a closed list of elements and attributes.

Nothing that is not on the list comes through, so words of a score can never become anything but
words. What the page has once (outlines, colours, fonts) is taken out.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from html import escape, unescape

_TOKEN = re.compile(
    r"""<(?P<close>/?)(?P<tag>[A-Za-z]+)(?P<attrs>(?:\s+[\w:-]+="[^"]*")*)\s*(?P<empty>/?)>|(?P<text>[^<]+)"""
)
_ATTRIBUTE = re.compile(r'([\w:-]+)="([^"]*)"')
_GLYPH = re.compile(r'<g id="(\w+?)-\w+">\s*<path transform="scale\(1,-1\)" d="([-\w., ]*)"')
_SIZE = re.compile(r'class="definition-scale"[^>]*viewBox="0 0 (\d+) (\d+)"')
_MEASURE = re.compile(r'id="m-(\d+)"')
_TAGS = frozenset({
    "circle", "ellipse", "g", "line", "path", "polygon", "polyline", "rect", "text", "tspan",
    "use",
})  # fmt: skip
_SHOWN = frozenset({
    "transform", "d", "x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "rx", "ry", "r", "width",
    "height", "points", "stroke-width", "stroke-dasharray", "stroke-linecap", "stroke-linejoin",
    "stroke-opacity", "fill-opacity", "opacity", "text-anchor", "font-size", "font-style",
    "font-weight", "visibility",
})  # fmt: skip
_CLASSES = frozenset({
    "note", "rest", "mRest", "measure", "staff", "dir", "dynam", "tempo", "reh", "fing", "ending",
    "mNum", "label", "labelAbbr", "harm",
})  # fmt: skip
_NAMED = frozenset({"note", "rest", "mRest"})
_DROPPED = re.compile(r"placeholder|[Mm]ilestone")
_PLAIN = re.compile(r"[-+\w.,#()%\s]*")
_NOTE = re.compile(r"[nd]-[\w.-]+")
_WHOLE = re.compile(r"-?\d+(\.\d+)?")
_TEXT_FONTS = ("Times", "serif")


@dataclass(frozen=True, slots=True)
class Drawing:
    """One system.

    Attributes:
        svg: the picture; its ids begin with the side's letter.
        width, height: of its view box.
        measures: indices of the measures in it, in order.
    """

    svg: str
    width: int
    height: int
    measures: tuple[int, ...]


def drawn(svg: str, prefix: str, marks: Mapping[str, str], glyphs: dict[str, str]) -> Drawing:
    """Write a picture anew.

    Args:
        svg: what the engraver drew.
        prefix: ``b`` or ``a``, put before every id.
        marks: the ids of directions by their colours.
        glyphs: takes up the outlines that the picture uses, by name.
    """
    definitions, _, body = svg.partition("</defs>")
    if not body:
        definitions, body = "", svg
    glyphs.update(_GLYPH.findall(definitions))
    size = _SIZE.search(body)
    width, height = (int(size[1]), int(size[2])) if size else (1, 1)
    body = body[size.start() :] if size else ""
    pieces = "".join(_Drawn(prefix, marks).pieces(body.partition(">")[2]))
    picture = f'<svg viewBox="0 0 {width} {height}">{pieces}</svg>'
    measures = tuple(sorted({int(index) for index in _MEASURE.findall(body)}))
    return Drawing(picture, width, height, measures)


class _Drawn:
    """Rewrites tokens; knows which open elements were written."""

    def __init__(self, prefix: str, marks: Mapping[str, str]) -> None:
        self._prefix = prefix
        self._marks = marks
        self._open: list[str] = []
        self._depth_left_out = 0

    def pieces(self, body: str) -> Iterator[str]:
        for token in _TOKEN.finditer(body):
            if token["text"] is not None:
                if self._open and not self._depth_left_out:
                    yield escape(unescape(token["text"]), quote=False)
            elif token["close"]:
                if self._depth_left_out:
                    self._depth_left_out -= 1
                elif self._open:
                    yield self._open.pop()
            else:
                yield self._opened(token["tag"], token["attrs"], is_empty=bool(token["empty"]))
        while self._open:
            yield self._open.pop()

    def _opened(self, tag: str, spelled: str, *, is_empty: bool) -> str:
        attrs = dict(_ATTRIBUTE.findall(spelled))
        is_left_out = tag not in _TAGS or bool(_DROPPED.search(attrs.get("class", "")))
        if self._depth_left_out or is_left_out:
            self._depth_left_out += not is_empty
            return ""
        kept = "".join(f' {name}="{value}"' for name, value in self._kept(tag, attrs))
        is_bare = tag in ("g", "tspan") and not kept
        if is_empty:
            return "" if tag in ("g", "tspan", "text") else f"<{tag}{kept}/>"
        self._open.append("" if is_bare else f"</{tag}>")
        return "" if is_bare else f"<{tag}{kept}>"

    def _kept(self, tag: str, attrs: dict[str, str]) -> Iterator[tuple[str, str]]:
        for name, value in attrs.items():
            is_plain = name in _SHOWN and _PLAIN.fullmatch(value)
            if is_plain or (name in ("fill", "stroke") and value == "none"):
                yield name, value
        yield from self._named(attrs)
        if tag == "use":
            target = attrs.get("href") or attrs.get("xlink:href", "")
            yield "href", "#g-" + re.sub(r"\W", "", target.partition("-")[0])

    def _named(self, attrs: dict[str, str]) -> Iterator[tuple[str, str]]:
        """Classes and ids."""
        classes = [c for c in attrs.get("class", "").split() if c in _CLASSES]
        family = attrs.get("font-family", "")
        if family and not any(font in family for font in _TEXT_FONTS):
            classes.append("sign")
        if classes:
            yield "class", " ".join(classes)
        name = attrs.get("id", "")
        is_note = _NOTE.fullmatch(name) and not _NAMED.isdisjoint(classes)
        if is_note or ("measure" in classes and _MEASURE.fullmatch(f'id="{name}"')):
            yield "id", f"{self._prefix}-{name}"
        colour = (attrs.get("color") or attrs.get("fill") or "").lower()
        if colour in self._marks:
            yield "data-mark", f"{self._prefix}-{self._marks[colour]}"
