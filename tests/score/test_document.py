"""The document keeps every byte that no edit asked to change, whatever the file looks like."""

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from arrange.errors import BadInput
from arrange.score.document import Document, Node, element, place_in_order

INDENTED = """<?xml version="1.0" encoding="UTF-8" standalone='no'?>
<!DOCTYPE score-partwise PUBLIC
  "-//Recordare//DTD MusicXML 3.1 Partwise//EN"
  "http://www.musicxml.org/dtds/partwise.dtd" [
  <!-- a list that is not read, with <brackets> and "quotes -->
  <!ELEMENT note ANY>
]>
<!-- before --><?page 1?>
<score-partwise version = '3.1'  >
  <!-- <note> this is none -->
  <movement-title>Am Bach &amp; im &#8364; Tal</movement-title>
  <part id='P1'>
    <measure
       number="1"	width="3 > 2">
      <note default-x="3" ><pitch><step>C</step><octave>4</octave></pitch>
        <!-- length --> <duration> 4 </duration> <!-- in
           divisions -->
        <type/>
        <notations
        />
        <lyric><text><![CDATA[a < b & c]]> d</text></lyric>
      </note>

      <note><rest></rest><?pause?></note>
    </measure >
  </part>
</score-partwise>
<!-- after -->
"""


def _variant(text: str, codec: str, mark: bytes, line_end: str) -> bytes:
    text = text.replace("UTF-8", codec, 1).replace("\n", line_end)
    return mark + text.encode(_PYTHON_NAMES.get(codec, codec), "xmlcharrefreplace")


_PYTHON_NAMES = {"UTF-16": "utf-16-le"}
VARIANTS = [
    (codec, mark, line_end)
    for codec, mark in [
        ("UTF-8", b""),
        ("UTF-8", b"\xef\xbb\xbf"),
        ("UTF-16", b"\xff\xfe"),
        ("UTF-16", b""),
        ("UTF-16BE", b"\xfe\xff"),
        ("UTF-16BE", b""),
        ("ISO-8859-1", b""),
        ("windows-1252", b""),
        ("US-ASCII", b""),
        ("UTF-32LE", b"\xff\xfe\0\0"),
        ("Shift_JIS", b""),
    ]
    for line_end in ("\n", "\r\n", "\r")
]


def _document(text: str) -> Document:
    return Document.read(text.encode(), "x.musicxml")


def _pretend_an_edit(document: Document) -> None:
    """Make the document write itself anew although nothing differs."""
    document._journal.append((document.root, lambda: None))


def _one(document: Document, tag: str, index: int = 0) -> Node:
    return list(document.root.iter(tag))[index]


def _score(inside: str) -> str:
    return f"<score-partwise>{inside}</score-partwise>"


def _plain(node: Node) -> tuple[object, ...]:
    """A node without its places; white space between elements does not count."""
    text = node.text if node.text.strip() and not node.children else ""
    return node.tag, dict(node.attrs), text, [_plain(child) for child in node.children]


def _plain_by_lxml(node: etree._Element) -> tuple[object, ...]:
    below = [child for child in node if isinstance(child.tag, str)]
    text = "".join(node.xpath("text()")) if not below else ""
    children = [_plain_by_lxml(child) for child in below]
    return node.tag, dict(node.attrib), text if text.strip() else "", children


@pytest.mark.parametrize(("codec", "mark", "line_end"), VARIANTS)
def test_a_file_that_nobody_edits_comes_back_as_it_was(
    codec: str, mark: bytes, line_end: str
) -> None:
    raw = _variant(INDENTED.replace("Tal", "Tal è"), codec, mark, line_end)
    document = Document.read(raw, "x.xml")
    assert document.to_bytes() == raw
    assert not document.is_edited
    document._touched.update(document.root.iter())
    _pretend_an_edit(document)
    assert document.to_bytes() == raw


@pytest.mark.parametrize(("codec", "mark", "line_end"), VARIANTS)
def test_one_edit_changes_one_span_in_any_encoding(codec: str, mark: bytes, line_end: str) -> None:
    raw = _variant(INDENTED, codec, mark, line_end)
    document = Document.read(raw, "x.xml")
    document.set_text(_one(document, "duration"), "♭8")
    name = _PYTHON_NAMES.get(codec, codec)
    old, new = " 4 ".encode(name), "♭8".encode(name, "xmlcharrefreplace")
    assert document.to_bytes() == raw.replace(old, new)
    assert raw.count(old) == 1
    assert document.is_edited


def test_the_tree_is_the_one_that_another_reader_sees() -> None:
    document = _document(INDENTED)
    assert _plain(document.root) == _plain_by_lxml(etree.fromstring(INDENTED.encode()))
    assert _one(document, "text").text == "a < b & c d"
    assert _one(document, "movement-title").text == "Am Bach & im € Tal"
    assert _one(document, "measure").attrs == {"number": "1", "width": "3 > 2"}
    assert document.line(_one(document, "step")) == 15


def test_a_value_put_back_leaves_no_trace() -> None:
    document = _document(INDENTED)
    for tag, name in (("movement-title", "id"), ("text", "x"), ("note", "default-x")):
        node = _one(document, tag)
        old = node.attrs.get(name)
        document.set_attribute(node, name, "7")
        document.set_attribute(node, name, old)
        if not node.children:
            words = node.text
            document.set_text(node, "other")
            document.set_text(node, words)
    assert document.is_edited
    assert document.to_bytes() == INDENTED.encode()


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
    assert not document.is_edited


def test_elements_put_at_the_same_place_keep_the_order_they_came_in() -> None:
    document = _document(_score("<a><b/><c/></a>"))
    around = _one(document, "a")
    for tag in ("x", "y", "z"):
        document.insert(around, element(tag), around.find("c"))
    document.remove(_one(document, "c"))
    document.insert(around, element("d"))
    assert document.to_bytes().decode() == _score("<a><b/><x/><y/><z/><d/></a>")


def test_a_new_element_stands_where_the_schema_wants_it() -> None:
    document = _document(_score("<note><chord/><duration>1</duration><beam/><lyric/></note>"))
    note = _one(document, "note")
    for tag in ("staff", "beam", "pitch", "listen", "tie", "grace", "tie"):
        place_in_order(document, note, element(tag))
    assert " ".join(child.tag for child in note.children) == (
        "grace chord pitch duration tie tie staff beam beam lyric listen"
    )
    with pytest.raises(ValueError, match="must be said"):
        place_in_order(document, document.root.children[0].children[0], element("note"))
    with pytest.raises(ValueError, match="cannot hold <clef>"):
        place_in_order(document, note, element("clef"))


def test_misuse_is_refused_and_changes_nothing() -> None:
    document = _document(_score("<a>words</a><b><c/></b>"))
    words, around = document.root.children
    inner = around.children[0]
    refused: list[Callable[[], object]] = [
        lambda: document.insert(words, element("x")),
        lambda: document.insert(around, words),
        lambda: document.insert(inner, around),
        lambda: document.insert(around, document.root),
        lambda: document.insert(around, element("x"), before=words),
        lambda: document.set_text(around, "x"),
        lambda: document.remove(document.root),
        lambda: document.rollback(1),
        lambda: element("x", "", inner),
        lambda: element("x", "words", element("y")),
    ]
    for misuse in refused:
        with pytest.raises(ValueError):  # noqa: PT011 - each with its own sentence
            misuse()
    with pytest.raises(BadInput, match=r"U\+0007"):
        document.set_text(words, "bell \7")
    with pytest.raises(BadInput, match=r"U\+D800"):
        element("x", name="\ud800")
    assert not document.is_edited
    assert document.to_bytes().decode() == _score("<a>words</a><b><c/></b>")


REFUSED = {
    "nothing": (b" \n", "is empty"),
    "no XML": (b"%PDF-1.7 ...", r"not well-formed XML \(line 1, column"),
    "open tag": (b"<score-partwise>\n<a></score-partwise>", r"line 2, column 6: mismatched tag"),
    "two equal attributes": (b"<score-partwise><a b='1' b='2'/></score-partwise>", "duplicate"),
    "another format": (b"<mei/>", "outermost element is <mei>"),
    "a list of scores": (b"<opus/>", "convert those"),
    "entities": (
        (
            b'<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>\n<score-partwise>&b;'
            b"</score-partwise>"
        ),
        "declares the entity a",
    ),
    "unknown entity in a text": (
        b"<!DOCTYPE x SYSTEM 'x.dtd'><score-partwise><a>&eacute;</a></score-partwise>",
        "&eacute; is defined nowhere",
    ),
    "unknown entity in a value": (
        b"<!DOCTYPE x SYSTEM 'x.dtd'><score-partwise><a b='&eacute;'/></score-partwise>",
        "&eacute; is defined nowhere",
    ),
    "bytes that are not UTF-8": (b"<score-partwise>\n\n\xe9</score-partwise>", "line 3 has bytes"),
    "unknown encoding": (b'<?xml version="1.0" encoding="klingon"?><a/>', "klingon is not known"),
    "no text encoding": (b'<?xml version="1.0" encoding="hex"?><a/>', "hex is not known"),
    "nested too deep": (
        b"<score-partwise>" + b"<a>" * 5000 + b"</a>" * 5000 + b"</score-partwise>",
        "more than 200 deep",
    ),
}


@pytest.mark.parametrize("title", REFUSED)
def test_a_file_that_cannot_be_read_is_refused_in_a_sentence(title: str) -> None:
    raw, sentence = REFUSED[title]
    with pytest.raises(BadInput, match=sentence) as caught:
        Document.read(raw, "x.xml")
    assert str(caught.value).startswith("x.xml: ")
    assert "\n" not in str(caught.value)


def test_an_encoding_that_the_file_names_wrongly_is_noted() -> None:
    document = _document('<?xml version="1.0" encoding="UTF-16"?><score-partwise/>')
    assert document.notes == ("the file says that it is in UTF-16, but it is in UTF-8",)
    assert document.encoding == "utf-8"
    assert _document('<?xml version="1.0" encoding="utf8"?><score-timewise/>').notes == ()


def test_bytes_that_could_not_be_kept_may_be_read_but_not_edited() -> None:
    head = b'<?xml version="1.0" encoding="ISO-2022-JP"?>'
    raw = head + b"<score-partwise>\x1b(J\x1b(B<a/></score-partwise>"
    document = Document.read(raw, "x.xml")
    assert document.to_bytes() == raw
    with pytest.raises(BadInput, match="save the score again as UTF-8"):
        document.set_attribute(document.root, "version", "4.0")


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
