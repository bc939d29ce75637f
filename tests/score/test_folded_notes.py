"""Notes whose elements are made when somebody looks, and trees that are put back as they were."""

import gc
import weakref

import pytest
from lxml import etree

from arrange.errors import BadInput
from arrange.score.document import Document, Node, element
from arrange.score.limits import Limits
from arrange.score.nodes import FoldedNote, inside_of, one_alike
from arrange.score.reading import Reading

C4 = "<pitch><step>C</step><octave>4</octave></pitch><duration>1</duration>"
NOTES = {
    "usual": f'<note default-x="1.5">{C4}</note>',
    "with single quotes and a bracket": f"<note id='a>b'>{C4}</note>",
    "written apart": f"<note\n  id = 'a'\n>{C4}</note>",
    "a remark inside": f"<note><!-- </note> -->{C4}</note>",
    "a literal inside": "<note><lyric><text><![CDATA[</note>]]></text></lyric></note>",
    "references": f'<note id="a&amp;b">{C4}<voice>&lt;1&gt;</voice></note>',
    "a note in a note": f"<note><note>{C4}</note><note/></note>",
    "a head": f"<note>{C4}<notehead>x</notehead></note>",
    "an end tag with a space": f"<note>{C4}</note ><note>{C4}</note>",
    "empty": "<note></note><note/><note> </note>",
    "words only": "<note>la</note>",
    "deep": f"<note>{C4}<notations><ornaments><turn/></ornaments></notations></note>",
}


def _score(inside: str) -> str:
    return (
        "<score-partwise><part-list><score-part id='P1'/></part-list>"
        f"<part id='P1'><measure number='1'>{inside}</measure></part></score-partwise>"
    )


def _document(inside: str) -> Document:
    return Document.read(_score(inside).encode(), "x.musicxml")


def _spans(node: Node, text: str) -> list[str]:
    return [text[one.start : one.end] for one in node.iter()]


def _seen(node: Node) -> tuple[object, ...]:
    text = node.text if node.text.strip() and not node.children else ""
    assert all(child.parent is node for child in node.children)
    return node.tag, dict(node.attrs), text, [_seen(child) for child in node.children]


def _seen_by_lxml(node: etree._Element) -> tuple[object, ...]:
    below = [child for child in node if isinstance(child.tag, str)]
    text = "".join(node.xpath("text()")) if not below else ""
    children = [_seen_by_lxml(child) for child in below]
    return node.tag, dict(node.attrib), text if text.strip() else "", children


@pytest.mark.parametrize("title", NOTES)
def test_a_note_is_what_another_reader_sees_once_it_is_looked_into(title: str) -> None:
    text = _score(NOTES[title] * 2)
    document = Document.read(text.encode(), "x.musicxml")
    assert _seen(document.root) == _seen_by_lxml(etree.fromstring(text.encode()))
    for node in document.root.iter():
        spelled = text[node.start : node.end]
        assert spelled.startswith(f"<{node.tag}")
        assert spelled.endswith(("/>", f"</{node.tag}>", f"</{node.tag} >"))


def test_notes_spelled_alike_share_what_is_known_of_them_until_one_is_edited() -> None:
    document = _document(NOTES["usual"] * 3)
    first, second, third = (n for n in document.root.iter("note"))
    assert isinstance(first, FoldedNote)
    assert inside_of(first) is inside_of(second) is inside_of(third) is not None
    assert one_alike(third) is first
    document.set_text(next(first.iter("step")), "D")
    assert inside_of(first) is None
    assert one_alike(third) is third
    pitches = [str(n.pitch) for n in Reading(document, parts=None).score().notes_by_id.values()]
    assert pitches == ["D4", "C4", "C4"]
    document.rollback(0)
    pitches = [str(n.pitch) for n in Reading(document, parts=None).score().notes_by_id.values()]
    assert pitches == ["C4", "C4", "C4"]


def test_what_must_be_refused_in_a_note_is_refused_when_the_file_is_read() -> None:
    wrong = {
        "nothing;": "<note><voice>&nothing;</voice></note>",
        "digits": f"<note><duration>{'1' * 500}</duration></note>",
        "number": f'<note id="{"1" * 500}">{C4}</note>',
        "deep": f"<note>{'<a>' * 300}<b/>{'</a>' * 300}</note>",
    }
    doctype = '<!DOCTYPE score-partwise SYSTEM "x.dtd">'
    for title, note in wrong.items():
        with pytest.raises(BadInput) as caught:
            Document.read((doctype + _score(note)).encode(), "x.musicxml")
        assert title in str(caught.value) or title == "number"
    close = Limits(depth=5)
    Document.read(_score(NOTES["usual"]).encode(), "x.musicxml", close)
    with pytest.raises(BadInput, match="deep"):
        Document.read(_score(NOTES["deep"]).encode(), "x.musicxml", Limits(depth=4))


def test_a_restored_tree_is_as_it_was_read_and_can_be_edited_again() -> None:
    text = _score(NOTES["usual"] * 3 + NOTES["deep"])
    document = Document.read(text.encode(), "x.musicxml")
    before, spans = _seen(document.root), _spans(document.root, text)
    measure = next(document.root.iter("measure"))
    first, second, third, _ = list(document.root.iter("note"))
    pitch = next(second.iter("pitch"))
    document.insert(pitch, element("alter", "1"), before=pitch.find("octave"))
    document.remove(pitch.children[0])
    document.set_attribute(first, "default-x", "2")
    document.set_text(next(third.iter("octave")), "5")
    document.remove(third)
    document.insert(measure, third, before=first)
    document.insert(measure, element("note", "", element("rest")))
    assert document.to_bytes() != text.encode()
    document.restore()
    assert document.to_bytes() == text.encode()
    assert not document.mark()
    assert (_seen(document.root), _spans(document.root, text)) == (before, spans)
    assert all(node.revision == 0 for node in document.root.iter())
    document.set_text(next(second.iter("step")), "E")
    assert document.to_bytes().decode() == text.replace(
        f"{NOTES['usual']}{NOTES['usual']}",
        f"{NOTES['usual']}{NOTES['usual'].replace('>C<', '>E<')}",
        1,
    )


def test_a_tree_that_was_taken_apart_goes_without_being_looked_for() -> None:
    document = _document(NOTES["usual"] * 2 + NOTES["deep"])
    Reading(document, parts=None).score()
    assert sum(1 for _ in document.root.iter()) > 20

    class Held(Node):
        __slots__ = ("__weakref__",)

    node = Held("direction", {}, [])
    document.insert(next(document.root.iter("measure")), node)
    gone = weakref.ref(node)
    del node
    gc.disable()
    try:
        document.root.take_apart()
        del document
        assert gone() is None
    finally:
        gc.enable()
