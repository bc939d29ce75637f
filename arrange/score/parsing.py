"""Source text to a tree of nodes that know their place in it.

Expat judges whether the text is well-formed XML and finds the root; then one regular expression
walks over the tags. It meets nothing but well-formed XML, so it need not look for errors.
"""

import re
import sys
from collections.abc import Mapping
from xml.parsers import expat

from arrange.errors import BadInput
from arrange.score.limits import Limits, in_force
from arrange.score.markup import (
    START_TAG,
    START_TAG_PATTERN,
    UnknownReferenceError,
    attributes,
    resolved_content,
    resolved_text,
)
from arrange.score.nodes import NO_ATTRIBUTES, Node

MOST_DIGITS = 400
"""A run of more digits is no number of a score (house judgement)."""
_ENDLESS = re.compile(rf"\d{{{MOST_DIGITS}}}")
_TOKEN = re.compile(
    START_TAG_PATTERN
    + r"(?:([^<]*+)</\1\s*+>)?)"  # an element with nothing but text, in one piece
    r"|<(?:(/)[^>]*+>|!--.*?-->|!\[CDATA\[.*?\]\]>|\?.*?\?>)",
    re.DOTALL,
)
# The group that matched last tells the kind of token.
_OPENED, _EMPTY, _LEAF, _CLOSED = 2, 3, 4, 5


def parsed(text: str, file: str, limits: Limits | None = None) -> Node:
    """The root of an XML text.

    Args:
        text: The whole file, without a byte order mark.
        file: Its name, for messages.
        limits: How much it may hold.

    Raises:
        BadInput: Not well formed, with a document type of its own, entities unknown, too many
            elements, or nested too deep.
    """
    limits = limits or in_force()
    _require_few_tags(text, file, limits)
    begin = _place_of_root(text, file)
    try:
        return _tree(text, begin, file, limits.depth)
    except UnknownReferenceError as fault:
        raise BadInput(
            f"the reference &{fault}; is defined nowhere in the file; "
            "replace it by the sign that it stands for",
            file=file,
        ) from fault


def _place_of_root(text: str, file: str) -> int:
    raw = text.encode("utf-8", "surrogatepass")
    parser = expat.ParserCreate("utf-8")
    begin = 0
    has_own_type = False

    def note_root(_tag: str, _attrs: Mapping[str, str]) -> None:
        nonlocal begin
        begin = parser.CurrentByteIndex
        parser.StartElementHandler = None

    def refuse_entity(name: str, *_declaration: object) -> None:
        raise BadInput(
            f"line {parser.CurrentLineNumber} declares the entity {name}, which is not read; "
            "export the score again as plain MusicXML",
            file=file,
        )

    def note_type(_name: str, _system: str | None, _public: str | None, own: int) -> None:
        nonlocal has_own_type
        has_own_type = bool(own)

    def refuse_own_type() -> None:
        if has_own_type:
            raise BadInput(
                f"line {parser.CurrentLineNumber} ends a document type of the file's own, which "
                "is not read; export the score again as plain MusicXML",
                file=file,
            )

    parser.StartElementHandler = note_root
    parser.EntityDeclHandler = refuse_entity
    parser.StartDoctypeDeclHandler = note_type
    parser.EndDoctypeDeclHandler = refuse_own_type
    try:
        parser.Parse(raw, True)  # noqa: FBT003 - expat takes it by position only
    except expat.ExpatError as fault:
        raise BadInput(
            f"not well-formed XML (line {fault.lineno}, column {fault.offset + 1}: "
            f"{expat.ErrorString(fault.code)}); export the score again as MusicXML",
            file=file,
        ) from fault
    return len(raw[:begin].decode("utf-8", "surrogatepass"))


def _tree(text: str, begin: int, file: str, deepest: int) -> Node:  # noqa: C901, PLR0912, PLR0915 - for speed
    has_spelling = "&" in text or "\r" in text
    known: dict[str, Mapping[str, str]] = {"": NO_ATTRIBUTES}
    new, intern = Node.__new__, sys.intern
    around: Node | None = None
    depth = 0
    for token in _TOKEN.finditer(text, begin):
        kind = token.lastindex
        if kind is None:
            continue
        if kind == _CLOSED:
            assert around is not None  # noqa: S101 - expat has matched the tags
            around.end = token.end()
            if not around.children:
                around.text = _inner_text(text, around, token.start())
            if around.parent is None:
                return around
            around = around.parent
            depth -= 1
            continue
        tag, raw, _, words, _ = token.groups("")
        node = new(Node)
        node.tag = intern(tag)
        node.parent = around
        node.key = ""
        node.revision = 0
        node.start, node.end = token.span()
        try:
            node.attrs = known[raw]
        except KeyError:
            node.attrs = known[raw] = attributes(raw)
            if len(raw) > MOST_DIGITS and _is_endless(raw):
                raise BadInput(_too_many_digits(text, node), file=file) from None
        node.text = resolved_text(words) if has_spelling and words else words
        if len(words) > MOST_DIGITS and _is_endless(words):
            raise BadInput(_too_many_digits(text, node), file=file)
        if around is not None:
            around.children.append(node)  # type: ignore[attr-defined] # a list until it is closed
        if kind == _OPENED:
            node.children = []
            around = node
            depth += 1
            if depth > deepest:
                raise BadInput(_too_deep(text, node, deepest), file=file)
        else:
            node.children = ()
            if around is None:
                return node
    raise AssertionError("a well-formed text ends its root")  # pragma: no cover - expat


def _inner_text(text: str, node: Node, close: int) -> str:
    tag = START_TAG.match(text, node.start)
    assert tag is not None  # noqa: S101 - the node was made from one
    return resolved_content(text[tag.end() : close])


def _require_few_tags(text: str, file: str, limits: Limits) -> None:
    """Nearly every element of a score opens and closes: two brackets each."""
    if text.count("<") > 2 * limits.elements:
        raise BadInput(
            f"the score has more than {limits.elements:,} elements; convert it in parts",
            file=file,
        )


def _is_endless(words: str) -> bool:
    return _ENDLESS.search(words) is not None


def _too_many_digits(text: str, node: Node) -> str:
    line = text.count("\n", 0, node.start) + 1
    return f"line {line}: <{node.tag}> has more than {MOST_DIGITS} digits in a row; correct it"


def _too_deep(text: str, node: Node, deepest: int) -> str:
    line = text.count("\n", 0, node.start) + 1
    return (
        f"line {line}: elements are nested more than {deepest} deep, which no score needs; "
        "export the score again as MusicXML"
    )
