"""Source text to a tree of nodes that know their place in it.

Expat judges whether the text is well-formed XML and finds the root; then one regular expression
walks over the tags. It meets nothing but well-formed XML, so it need not look for errors.
"""

import re
import sys
from collections.abc import Mapping
from xml.parsers import expat

from arrange.errors import BadInput
from arrange.memory import rare_collections
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
_REMARK, _OPENED, _EMPTY, _LEAF, _CLOSED = 0, 2, 3, 4, 5
_WITHOUT_NODE = frozenset({_REMARK, _CLOSED})
_Said = tuple[int, str, Mapping[str, str], str]
"""The kind of a token, its tag, its attributes and its text."""


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
        with rare_collections():
            return _tree(text, begin, file, limits.depth)
    except UnknownReferenceError as fault:
        raise BadInput(
            f"the reference &{fault}; is defined nowhere in the file; "
            "replace it by the sign that it stands for",
            file=file,
        ) from fault


def _place_of_root(text: str, file: str) -> int:
    if "\0" in text:  # expat would take it for two bytes a sign
        line = text.count("\n", 0, text.index("\0")) + 1
        raise BadInput(
            f"not well-formed XML (line {line} holds zero bytes); export the score again as "
            "MusicXML",
            file=file,
        )
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


class _Spellings:
    """What tokens say, by how they are spelled: most tokens of a score are there many times."""

    def __init__(self, text: str, file: str) -> None:
        self._text = text
        self._file = file
        self._has_references = "&" in text or "\r" in text
        self._attributes: dict[str, Mapping[str, str]] = {"": NO_ATTRIBUTES}

    def said(self, token: re.Match[str]) -> _Said:
        """What a token says that was not met before.

        Raises:
            BadInput: a run of digits in it is too long.
        """
        kind = token.lastindex or _REMARK
        if kind in _WITHOUT_NODE:
            return kind, "", NO_ATTRIBUTES, ""
        tag, raw, _, words, _ = token.groups("")
        attrs = self._attributes.get(raw)
        if attrs is None:
            attrs = self._attributes[raw] = attributes(raw)
        for row in (raw, words):
            if len(row) > MOST_DIGITS and _ENDLESS.search(row):
                line = self._text.count("\n", 0, token.start()) + 1
                raise BadInput(
                    f"line {line}: <{tag}> has more than {MOST_DIGITS} digits in a row; "
                    "correct it",
                    file=self._file,
                )
        words = resolved_text(words) if self._has_references else words
        return kind, sys.intern(tag), attrs, words


def _tree(text: str, begin: int, file: str, deepest: int) -> Node:  # noqa: C901, PLR0915 - for speed
    spellings = _Spellings(text, file)
    known: dict[str, _Said] = {}
    new = Node.__new__
    around: Node | None = None
    depth = 0
    for token in _TOKEN.finditer(text, begin):
        spelled = token[0]
        said = known.get(spelled)
        if said is None:
            said = known[spelled] = spellings.said(token)
        kind, tag, attrs, words = said
        if kind == _CLOSED:
            assert around is not None  # noqa: S101 - expat has matched the tags
            around.end = token.end()
            if not around.children:
                around.text = _inner_text(text, around, token.start())
            if around.parent is None:
                return around
            around = around.parent
            depth -= 1
        elif kind != _REMARK:
            node = new(Node)
            node.tag = tag
            node.attrs = attrs
            node.text = words
            node.parent = around
            node.key = ""
            node.revision = 0
            node.start, node.end = token.span()
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


def _too_deep(text: str, node: Node, deepest: int) -> str:
    line = text.count("\n", 0, node.start) + 1
    return (
        f"line {line}: elements are nested more than {deepest} deep, which no score needs; "
        "export the score again as MusicXML"
    )
