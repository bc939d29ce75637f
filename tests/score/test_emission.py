"""What an edited document writes looks like its surroundings and says what its tree says."""

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from arrange.score.document import Document, Node, element


def _document(text: str) -> Document:
    return Document.read(text.encode(), "x.musicxml")


def _pretend_an_edit(document: Document) -> None:
    """Make the document write itself anew although nothing differs."""
    document._journal.append((document.root, "", lambda: None))


def _one(document: Document, tag: str, index: int = 0) -> Node:
    return list(document.root.iter(tag))[index]


def _score(inside: str) -> str:
    return f"<score-partwise>{inside}</score-partwise>"


def _plain(node: Node) -> tuple[object, ...]:
    """A node without its places; white space between elements does not count."""
    text = node.text if node.text.strip() and not node.children else ""
    return node.tag, dict(node.attrs), text, [_plain(child) for child in node.children]


def _put(parent: str, tag: str, before: str = "") -> Callable[[Document], None]:
    def edit(document: Document) -> None:
        around = _one(document, parent)
        document.insert(around, element(tag), around.find(before) if before else None)

    return edit


def _take(tag: str) -> Callable[[Document], None]:
    return lambda document: document.remove(_one(document, tag))


def _set(tag: str, name: str, value: str | None) -> Callable[[Document], None]:
    return lambda document: document.set_attribute(_one(document, tag), name, value)


def _words(tag: str, words: str) -> Callable[[Document], None]:
    return lambda document: document.set_text(_one(document, tag), words)


def _grow(document: Document) -> None:
    pitch = element("pitch", "", element("step", "C"), element("octave", "4"))
    document.insert(_one(document, "a"), element("note", "", pitch, element("dot"), id="n"))


def _turn(document: Document) -> None:
    note = _one(document, "b")
    document.remove(note)
    document.insert(_one(document, "a"), note)


EDITS = {
    "last on its own line": ("<a>\n  <b/>\n</a>", _put("a", "x"), "<a>\n  <b/>\n  <x/>\n</a>"),
    "first": ("<a>\n  <b/>\n</a>", _put("a", "x", "b"), "<a>\n  <x/>\n  <b/>\n</a>"),
    "tabs": ("<a>\n\t\t<b/>\n</a>", _put("a", "x", "b"), "<a>\n\t\t<x/>\n\t\t<b/>\n</a>"),
    "CR LF": ("<a>\r\n <b/>\r\n</a>", _put("a", "x"), "<a>\r\n <b/>\r\n <x/>\r\n</a>"),
    "CR": ("<a>\r <b/>\r</a>", _put("a", "x"), "<a>\r <b/>\r <x/>\r</a>"),
    "on one line": ("<a><b/></a>", _put("a", "x"), "<a><b/><x/></a>"),
    "spaced on one line": ("<a> <b/> </a>", _put("a", "x"), "<a> <b/> <x/> </a>"),
    "first child on the parent's line": (
        "<a><b/>\n <c/>\n</a>",
        _put("a", "x", "c"),
        "<a><b/>\n <x/>\n <c/>\n</a>",
    ),
    "into a self-closed element": (
        "\n <r>\n  <a k='1' />\n </r>\n",
        _put("a", "x"),
        "\n <r>\n  <a k='1'>\n   <x/>\n  </a>\n </r>\n",
    ),
    "into an empty element": ("<a></a>", _put("a", "x"), "<a><x/></a>"),
    "into white space": (
        "\n <a>\n  <b>\n  </b>\n </a>\n",
        _put("b", "x"),
        "\n <a>\n  <b>\n   <x/>\n  </b>\n </a>\n",
    ),
    "a comment stays before what it speaks of": (
        "<a>\n <b/>\n <!-- on c -->\n <c/>\n</a>",
        _put("a", "x", "c"),
        "<a>\n <b/>\n <x/>\n <!-- on c -->\n <c/>\n</a>",
    ),
    "a comment stays on its line": (
        "<a>\n <b/> <!-- on\n b --> <?p?>\n <c/>\n</a>",
        _put("a", "x", "c"),
        "<a>\n <b/> <!-- on\n b --> <?p?>\n <x/>\n <c/>\n</a>",
    ),
    "a comment on the one line there is": (
        "<a><b/><!-- on c --><c/></a>",
        _put("a", "x", "c"),
        "<a><b/><x/><!-- on c --><c/></a>",
    ),
    "nested": (
        "\n<a>\n  <b/>\n</a>\n",
        _grow,
        (
            '\n<a>\n  <b/>\n  <note id="n">\n    <pitch>\n      <step>C</step>\n'
            "      <octave>4</octave>\n    </pitch>\n    <dot/>\n  </note>\n</a>\n"
        ),
    ),
    "nested without line ends": (
        "<a><b/></a>",
        _grow,
        '<a><b/><note id="n"><pitch><step>C</step><octave>4</octave></pitch><dot/></note></a>',
    ),
    "removal leaves no blank line": ("<a>\n <b/>\n <c/>\n</a>", _take("b"), "<a>\n <c/>\n</a>"),
    "removal keeps comments": (
        "<a>\n <!-- 1 -->\n <b/><!-- 2 -->\n <c/>\n</a>",
        _take("b"),
        "<a>\n <!-- 1 --><!-- 2 -->\n <c/>\n</a>",
    ),
    "a moved element takes its bytes along": (
        "<a>\n <b  k='1' />\n <c/>\n</a>",
        _turn,
        "<a>\n <c/>\n <b  k='1' />\n</a>",
    ),
    "another value": ("<a k = '1'  l=\"2\" />", _set("a", "k", "9"), "<a k = '9'  l=\"2\" />"),
    "a quote in a value": ("<a k='1'/>", _set("a", "k", "'\"<\n"), "<a k='&apos;\"&lt;&#10;'/>"),
    "an attribute more": ("<a k='1' />", _set("a", "l", "2"), "<a k='1' l='2' />"),
    "the first attribute": ("<a></a>", _set("a", "l", "2"), '<a l="2"></a>'),
    "an attribute less": ("<a k='1'  l='2'/>", _set("a", "k", None), "<a  l='2'/>"),
    "another text": ("<a>x&amp;y</a >", _words("a", "1 < 2\n& 3"), "<a>1 &lt; 2\n&amp; 3</a >"),
    "line ends of the file": ("<a>x</a>\r\n", _words("a", "1\n2"), "<a>1\r\n2</a>\r\n"),
    "line ends of an old file": ("<a>x</a>\r", _words("a", "1\n2"), "<a>1\r2</a>\r"),
    "text into a self-closed element": ("<a  />", _words("a", "x"), "<a>x</a>"),
    "text beside a comment": ("<a>x<!-- c -->y</a>", _words("a", "z"), "<a>z<!-- c --></a>"),
}


@pytest.mark.parametrize("title", EDITS)
def test_an_edit_looks_like_what_stands_around_it(title: str) -> None:
    before, edit, after = EDITS[title]
    document = _document(_score(before))
    mark = document.mark()
    edit(document)
    assert document.to_bytes().decode() == _score(after)
    document.rollback(mark)
    assert document.to_bytes().decode() == _score(before)
    assert not document.mark()


_gaps = st.sampled_from(["", " ", "\n  ", "\n\t", "\r\n ", "\n\n", "<!-- <a> -->\n", "\n<?p q?> "])
_quotes = st.sampled_from(['a="1"', "b = '2'", "c='&lt;\"'", 'd="\t"'])
_leaf_texts = st.sampled_from(["", "x", " y ", "&amp;", "<![CDATA[<&]]>z", "\n", "w<!-- c -->v"])
_tags = st.sampled_from(["note", "chord", "pitch", "dot"])


@st.composite
def _sources(draw: st.DrawFn, depth: int = 3) -> str:
    tag = draw(_tags)
    spelled = draw(st.lists(_quotes, unique=True, max_size=2))
    start = f"<{tag}" + "".join(f"  {words}" for words in spelled)
    if depth == 0 or draw(st.booleans()):
        text = draw(_leaf_texts)
        return f"{start}/>" if not text else f"{start}>{text}</{tag}\n>"
    inside = draw(st.lists(st.tuples(_gaps, _sources(depth - 1)), max_size=4))
    return f"{start}>" + "".join(gap + one for gap, one in inside) + draw(_gaps) + f"</{tag}>"


_edits = st.lists(
    st.tuples(
        st.sampled_from(["text", "attribute", "insert", "remove", "move"]),
        st.integers(0, 40),
        st.integers(0, 40),
        st.sampled_from(["", "new", "a<b\n", " "]),
    ),
    max_size=12,
)


def _apply(document: Document, edit: tuple[str, int, int, str]) -> None:
    kind, first, second, words = edit
    nodes = list(document.root.iter())
    node, other = nodes[first % len(nodes)], nodes[second % len(nodes)]
    if kind == "text" and not node.children:
        document.set_text(node, words)
    elif kind == "attribute":
        document.set_attribute(node, "abc"[second % 3], words or None)
    elif kind == "insert" and not node.text.strip():
        fresh = element("new", words) if second % 2 else element("new", "", element("x", words))
        before = node.children[second % len(node.children)] if node.children else None
        document.insert(node, fresh, before)
    elif kind in {"remove", "move"} and node.parent is not None:
        document.remove(node)
        within = any(one is other for one in node.iter())
        if kind == "move" and not within and not other.text.strip():
            document.insert(other, node, other.children[0] if other.children else None)


@settings(deadline=None)
@given(_sources(), _edits, _edits)
def test_whatever_was_edited_parses_to_the_same_tree_and_rolls_back_to_the_same_bytes(
    inside: str, first: list[tuple[str, int, int, str]], second: list[tuple[str, int, int, str]]
) -> None:
    raw = _score("\n " + inside + "\n").encode()
    document = Document.read(raw, "x.xml")
    for edit in first:
        _apply(document, edit)
    halfway, mark = document.to_bytes(), document.mark()
    assert _plain(Document.read(halfway, "x.xml").root) == _plain(document.root)
    for edit in second:
        _apply(document, edit)
    edited = document.to_bytes()
    assert _plain(Document.read(edited, "x.xml").root) == _plain(document.root)
    document.rollback(mark)
    assert document.to_bytes() == halfway
    document.rollback(0)
    _pretend_an_edit(document)
    assert document.to_bytes() == raw
