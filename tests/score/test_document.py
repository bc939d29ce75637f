"""The document keeps every byte that no edit asked to change, whatever the file looks like."""

from collections.abc import Callable

import pytest
from lxml import etree

from arrange.errors import BadInput
from arrange.score.document import Document, Node, element, place_in_order
from arrange.score.emission import AtFirst
from arrange.score.limits import Limits

INDENTED = """<?xml version="1.0" encoding="UTF-8" standalone='no'?>
<!DOCTYPE score-partwise PUBLIC
  "-//Recordare//DTD MusicXML 3.1 Partwise//EN"
  "http://www.musicxml.org/dtds/partwise.dtd" >
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
    document._journal.append((document.root, "", lambda: None))


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
    assert not document.mark()
    document._at_first.update((node, AtFirst.of(node)) for node in document.root.iter())
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
    assert document.mark()


def test_the_tree_is_the_one_that_another_reader_sees() -> None:
    document = _document(INDENTED)
    assert _plain(document.root) == _plain_by_lxml(etree.fromstring(INDENTED.encode()))
    assert _one(document, "text").text == "a < b & c d"
    assert _one(document, "movement-title").text == "Am Bach & im € Tal"
    assert _one(document, "measure").attrs == {"number": "1", "width": "3 > 2"}
    assert document.line(_one(document, "step")) == 12


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
    assert document.mark()
    assert document.to_bytes() == INDENTED.encode()


def test_elements_put_at_the_same_place_keep_the_order_they_came_in() -> None:
    document = _document(_score("<a><b/><c/></a>"))
    around = _one(document, "a")
    for tag in ("x", "y", "z"):
        document.insert(around, element(tag), around.find("c"))
    document.remove(_one(document, "c"))
    document.insert(around, element("d"))
    assert document.to_bytes().decode() == _score("<a><b/><x/><y/><z/><d/></a>")


def test_an_element_that_a_rollback_took_out_or_put_back_can_be_used_again() -> None:
    document = _document(_score("<a/><b/>"))
    fresh, old = element("x"), _one(document, "a")
    mark = document.mark()
    for _ in range(2):
        document.insert(document.root, fresh, before=old)
        document.remove(old)
        assert document.to_bytes().decode() == _score("<x/><b/>")
        document.rollback(mark)
        assert (fresh.parent, old.parent) == (None, document.root)


def test_a_node_tells_which_change_last_touched_it_or_what_is_in_it() -> None:
    document = _document(_score("<a><b/></a><c/>"))
    outer, inner, other = _one(document, "a"), _one(document, "b"), _one(document, "c")
    seen = {document.root.revision, outer.revision, inner.revision}
    assert seen == {0}
    changes: list[Callable[[], None]] = [
        lambda: document.set_text(inner, "x"),
        lambda: document.set_attribute(inner, "k", "1"),
        lambda: document.rollback(0),
    ]
    for change in changes:
        change()
        assert outer.revision == document.root.revision == inner.revision > max(seen)
        seen.add(outer.revision)
    document.remove(inner)
    assert outer.revision > max(seen)
    assert other.revision == 0


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


def test_an_element_cannot_be_put_into_itself() -> None:
    document = _document(_score("<a><b><c/></b></a>"))
    outer, inner = _one(document, "b"), _one(document, "c")
    document.remove(outer)
    for place in (outer, inner):
        with pytest.raises(ValueError, match="is not free"):
            document.insert(place, outer)


def test_misuse_is_refused_and_changes_nothing() -> None:
    document = _document(_score("<a>words</a><b><c/></b>"))
    words, around = document.root.children
    inner = around.children[0]
    refused: list[Callable[[], object]] = [
        lambda: document.insert(around, words),
        lambda: document.insert(inner, around),
        lambda: document.insert(around, document.root),
        lambda: document.insert(around, element("x"), before=words),
        lambda: document.remove(document.root),
        lambda: document.rollback(1),
        lambda: element("x", "", inner),
        lambda: element("x", "words", element("y")),
    ]
    for misuse in refused:
        with pytest.raises(ValueError):  # noqa: PT011 - each with its own sentence
            misuse()
    with pytest.raises(BadInput, match="line 1: <b> holds elements where MusicXML has text"):
        document.set_text(around, "x")
    with pytest.raises(BadInput, match="line 1: <a> holds text where MusicXML has elements"):
        document.insert(words, element("x"))
    with pytest.raises(BadInput, match=r"U\+0007"):
        document.set_text(words, "bell \7")
    with pytest.raises(BadInput, match=r"U\+D800"):
        element("x", name="\ud800")
    assert not document.mark()
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
    "an entity of another file": (
        b'<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><score-partwise>&a;</score-partwise>',
        "declares the entity a",
    ),
    "a parameter entity": (
        b'<!DOCTYPE x [<!ENTITY % a SYSTEM "http://localhost/x"> %a;]><score-partwise/>',
        "declares the entity a",
    ),
    "a document type of its own": (
        b"<!DOCTYPE x PUBLIC 'a' 'b' [\n<!ATTLIST note size CDATA 'big'>]><score-partwise/>",
        "line 2 ends a document type of the file's own",
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


def test_a_score_of_too_many_elements_is_refused_before_it_is_read() -> None:
    raw = b"<score-partwise>" + b"<a></a>" * 50 + b"</score-partwise>"
    assert Document.read(raw, "x.xml", Limits(elements=51)).to_bytes() == raw
    with pytest.raises(BadInput, match="more than 50 elements"):
        Document.read(raw, "x.xml", Limits(elements=50))


def test_a_node_answers_what_is_in_it() -> None:
    document = _document(_score("<a>\n 1 </a><b/><a>2</a>"))
    assert [node.text for node in document.root.find_all("a")] == ["\n 1 ", "2"]
    assert document.root.child_text("a") == "1"
    assert document.root.child_text("c", "none") == "none"
    assert document.root.find("c") is None
    assert [node.tag for node in document.root.iter()] == ["score-partwise", "a", "b", "a"]
    assert document.line(document.root.children[1]) == 2
    assert document.line(element("a")) == 0
    assert [repr(node) for node in (element("x"), document.root)] == [
        "<Node x>",
        "<Node score-partwise at 0>",
    ]


def test_an_encoding_that_the_file_names_wrongly_is_noted() -> None:
    document = _document('<?xml version="1.0" encoding="UTF-16"?><score-partwise/>')
    assert document.notes == ("the file says that it is in UTF-16, but it is in UTF-8",)
    assert document.encoding == "utf-8"
    marked = '\ufeff<?xml version="1.0" encoding="klingon"?><score-partwise/>'
    assert _document(marked).notes == ("the file says that it is in klingon, but it is in UTF-8",)
    assert _document('<?xml version="1.0" encoding="utf8"?><score-timewise/>').notes == ()


def test_bytes_that_could_not_be_kept_may_be_read_but_not_edited() -> None:
    head = b'<?xml version="1.0" encoding="ISO-2022-JP"?>'
    raw = head + b"<score-partwise>\x1b(J\x1b(B<a/></score-partwise>"
    document = Document.read(raw, "x.xml")
    assert document.to_bytes() == raw
    with pytest.raises(BadInput, match="save the score again as UTF-8"):
        document.set_attribute(document.root, "version", "4.0")
