"""Source text to a tree of nodes that know their place in it.

Expat judges whether the text is well-formed XML and finds the root; then one regular expression
walks over the tags. It meets nothing but well-formed XML, so it need not look for errors. A note
is stepped over: its elements are made when somebody looks into it.
"""

import re
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
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
from arrange.score.nodes import NO_ATTRIBUTES, FoldedNote, Inside, Node

MOST_DIGITS = 400
"""A run of more digits is no number of a score (house judgement)."""
_STRETCH = 1 << 20
"""How many signs are judged at a time: so a long text does not stand in memory twice."""
_ENDLESS = re.compile(rf"\d{{{MOST_DIGITS}}}")
_TOKEN = re.compile(
    START_TAG_PATTERN
    + r"(?:([^<]*+)</\1\s*+>)?)"  # an element with nothing but text, in one piece
    r"|<(?:(/)[^>]*+>|!--.*?-->|!\[CDATA\[.*?\]\]>|\?.*?\?>)",
    re.DOTALL,
)
_NOTE, _END_OF_NOTE = "<note", "</note>"
# The group that matched last tells the kind of token.
_REMARK, _OPENED, _EMPTY, _LEAF, _CLOSED = 0, 2, 3, 4, 5
_WITHOUT_NODE = frozenset({_REMARK, _CLOSED})
_Said = tuple[int, str, Mapping[str, str], str]
"""The kind of a token, its tag, its attributes and its text."""
_Placed = tuple[_Said, int, int]
"""What a token says, where it stands behind the start tag of its note, and how long it is."""


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
            return _Tree(text, file, limits.depth).root(begin)
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
        _judge(text, parser)
    except expat.ExpatError as fault:
        raise BadInput(
            f"not well-formed XML (line {fault.lineno}, column {fault.offset + 1}: "
            f"{expat.ErrorString(fault.code)}); export the score again as MusicXML",
            file=file,
        ) from fault
    return len(_raw(text[:begin])[:begin].decode("utf-8", "surrogatepass"))


def _judge(text: str, parser: expat.XMLParserType) -> None:
    for at in range(0, len(text), _STRETCH):
        parser.Parse(_raw(text[at : at + _STRETCH]), False)  # noqa: FBT003 - expat takes it
    parser.Parse(b"", True)  # noqa: FBT003 - by position only


def _raw(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")


class _Spellings:
    """What tokens say, by how they are spelled: most tokens of a score are there many times."""

    def __init__(self, text: str, file: str) -> None:
        self._text = text
        self._file = file
        self._has_references = "&" in text or "\r" in text
        self._attributes: dict[str, Mapping[str, str]] = {"": NO_ATTRIBUTES}

    def attributes(self, raw: str) -> Mapping[str, str]:
        """The attributes that a start tag spells; equal ones are one mapping."""
        attrs = self._attributes.get(raw)
        if attrs is None:
            attrs = self._attributes[raw] = attributes(raw)
        return attrs

    def said(self, token: re.Match[str]) -> _Said:
        """What a token says that was not met before.

        Raises:
            BadInput: a run of digits in it is too long.
        """
        kind = token.lastindex or _REMARK
        if kind in _WITHOUT_NODE:
            return kind, "", NO_ATTRIBUTES, ""
        tag, raw, _, words, _ = token.groups("")
        attrs = self.attributes(raw)
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


class _Tree:
    """Makes the nodes of one text, those within notes when they are asked for."""

    def __init__(self, text: str, file: str, deepest: int) -> None:
        self._text = text
        self._file = file
        self._deepest = deepest
        self._spellings = _Spellings(text, file)
        self._said: dict[str, _Said] = {}
        self._insides: dict[str, Inside | None] = {}

    def root(self, begin: int) -> Node:
        """The whole tree, its root at *begin*."""
        root = self._grown(begin)
        if root is None:  # pragma: no cover - expat has found its end
            raise AssertionError("a well-formed text ends its root")
        self._insides.clear()
        return root

    def children_of(self, note: FoldedNote) -> list[Node]:
        """The elements within a note."""
        inside = note.inside
        begin = note.end - len(_END_OF_NOTE) - len(inside.spelled)
        new = Node.__new__
        top: list[Node] = []
        around: Node = note
        row = top
        for (kind, tag, attrs, words), start, length in self._tokens(inside):
            if kind == _CLOSED:
                around.length = begin + start + length - around.start
                assert around.parent is not None  # noqa: S101 - it stands in the note
                around = around.parent
                row = top if around is note else around.children  # type: ignore[assignment] # a list
                continue
            node = new(Node)
            node.tag = tag
            node.attrs = attrs
            node.text = words
            node.parent = around
            node.key = ""
            node.revision = 0
            node.start = begin + start
            row.append(node)
            if kind == _OPENED:
                node.children = row = []
                around = node
            else:
                node.children = ()
                node.length = length
        return top

    def _tokens(self, inside: Inside) -> Iterable[_Placed]:
        """What stands in a note, token by token; kept from the second time on."""
        tokens: Sequence[_Placed] | None = inside.known.get(_Tree)
        if tokens is None:
            inside.known[_Tree] = ()
            return self._read_tokens(inside.spelled)
        if not tokens:
            tokens = inside.known[_Tree] = tuple(self._read_tokens(inside.spelled))
        return tokens

    def _read_tokens(self, spelled: str) -> Iterator[_Placed]:
        known = self._said
        for token in _TOKEN.finditer(spelled):
            written = token[0]
            said = known.get(written)
            if said is None:
                said = known[written] = self._spellings.said(token)
            yield said, token.start(), len(written)

    def attributes_of(self, note: FoldedNote) -> Mapping[str, str]:
        """The attributes of a note."""
        return self._spellings.attributes(self.spelled_attributes(note))

    def spelled_attributes(self, note: FoldedNote) -> str:
        """How the text spells the attributes of a note, with the white space before them."""
        end = note.end - len(_END_OF_NOTE) - len(note.inside.spelled) - 1
        return self._text[note.start + len(_NOTE) : end]

    def _grown(self, at: int) -> Node | None:  # noqa: C901, PLR0912, PLR0915 - for speed
        """Make the nodes from *at* on and return the root, once it is closed."""
        known, text = self._said, self._text
        new = Node.__new__
        around: Node | None = None
        depth = 0
        while at < len(text):
            for token in _TOKEN.finditer(text, at):
                spelled = token[0]
                said = known.get(spelled)
                if said is None:
                    if spelled.startswith(_NOTE) and around is not None:
                        note = self._folded(token, depth)
                        if note is not None:
                            note.parent = around
                            around.children.append(note)  # type: ignore[attr-defined] # a list until it is closed
                            at = note.end
                            break
                    said = self._spellings.said(token)
                    if said[1] != "note":  # it may stay folded next time
                        known[spelled] = said
                kind, tag, attrs, words = said
                if kind == _CLOSED:
                    assert around is not None  # noqa: S101 - expat has matched the tags
                    around.length = token.end() - around.start
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
                    node.start, node.length = token.start(), len(spelled)
                    if around is not None:
                        around.children.append(node)  # type: ignore[attr-defined] # as above
                    if kind == _OPENED:
                        node.children = []
                        around = node
                        depth += 1
                        if depth > self._deepest:
                            raise BadInput(_too_deep(text, node, self._deepest), file=self._file)
                    else:
                        node.children = ()
                        if around is None:
                            return node
            else:
                break
        return None

    def _folded(self, token: re.Match[str], depth: int) -> FoldedNote | None:
        """The note that begins here, with nothing made of it; None if it must be looked into."""
        begin, attrs = token.end(), token[2]
        end = self._text.find(_END_OF_NOTE, begin)
        if token.lastindex != _OPENED or token[1] != "note" or end < 0 or not _is_plain(attrs):
            return None
        spelled = self._text[begin:end]
        inside = self._insides.get(spelled)
        if inside is None:
            if spelled in self._insides or not _is_plain_note(spelled):
                self._insides[spelled] = None
                return None
            inside = self._insides[spelled] = Inside(self, spelled)
        if inside.ends >= self._deepest - depth:
            return None
        note = FoldedNote.__new__(FoldedNote)
        note.tag = "note"
        note.text = ""
        note.key = ""
        note.revision = 0
        note.start = token.start()
        note.length = end + len(_END_OF_NOTE) - note.start
        note.inside = inside
        if inside.example is None:
            inside.example = note
        return note


def _is_plain_note(spelled: str) -> bool:
    """Whether a note's elements can be made later: there are some, and nothing unusual.

    What could be refused is looked at once: references, endless digits, a note in a note.
    """
    return (
        "<" in spelled
        and not ("<!" in spelled or "<?" in spelled)
        and spelled.count("<note") == spelled.count("<notehead")
        and spelled.count("</note") == spelled.count("</notehead")
        and _is_plain(spelled)
    )


def _is_plain(spelled: str) -> bool:
    return "&" not in spelled and not (len(spelled) > MOST_DIGITS and _ENDLESS.search(spelled))


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
