"""The table of child orders says what the MusicXML 4.0 schema says."""

import importlib.util
from collections.abc import Iterator
from pathlib import Path

import pytest
from lxml import etree

from arrange.score.child_order import CHILD_ORDER, successor
from arrange.score.nodes import element

_FOUND = importlib.util.find_spec("musicxml")
assert _FOUND is not None
assert _FOUND.origin is not None
SCHEMA = next(Path(_FOUND.origin).parent.rglob("musicxml_4_0.xsd"))
XS = {"xs": "http://www.w3.org/2001/XMLSchema"}
SCHEMA_ROOT = etree.parse(str(SCHEMA)).getroot()


def _children(node: etree._Element) -> Iterator[str]:
    """The child elements that a type of the schema allows, in the order of their first place."""
    for part in node.iterchildren("{*}element", "{*}group", "{*}sequence", "{*}choice"):
        name = part.get("name") or part.get("ref")
        if etree.QName(part).localname == "element":
            yield str(name)
        elif name:
            yield from _children(_single(f"xs:group[@name='{name}']"))
        else:
            yield from _children(part)
    for extension in node.iterfind("xs:complexContent/xs:extension", XS):
        base = extension.get("base")
        yield from _children(_single(f"xs:complexType[@name='{base}']"))
        yield from _children(extension)


def _single(path: str) -> etree._Element:
    found = SCHEMA_ROOT.find(path, XS)
    assert found is not None
    return found


def _type(tag: str) -> etree._Element:
    if tag.startswith("score-") and tag.endswith("wise"):
        return _single(f"xs:element[@name='{tag}']/xs:complexType")
    return _single(f"xs:complexType[@name='{tag}']")


@pytest.mark.parametrize("tag", [tag for tag, children in CHILD_ORDER.items() if children])
def test_the_order_is_that_of_the_schema(tag: str) -> None:
    wanted = list(dict.fromkeys(_children(_type(tag))))
    if tag == "note":  # three kinds of notes share the row: grace, cue, all others
        assert sorted(wanted) == sorted(CHILD_ORDER[tag])
        assert wanted.index("tie") < wanted.index("instrument")
        kinds = ("cue", "duration", "tie", "grace", "chord", "pitch", "unpitched", "rest")
        wanted = [child for child in wanted if child not in kinds]
        ours = [child for child in CHILD_ORDER[tag] if child not in kinds]
        assert wanted == ours
    else:
        assert wanted == list(CHILD_ORDER[tag])


@pytest.mark.parametrize("tag", [tag for tag, children in CHILD_ORDER.items() if not children])
def test_where_no_order_is_kept_the_schema_allows_any(tag: str) -> None:
    node = _type(tag)
    repeated = node.xpath(
        ".//*[self::xs:choice or self::xs:sequence or self::xs:element][@maxOccurs='unbounded']",
        namespaces=XS,
    )
    assert repeated or tag == "part-list"
    assert successor(element(tag, "", element("x")), "y") is None


@pytest.mark.parametrize(
    "children",
    [
        "grace chord pitch tie voice",
        "grace cue chord pitch voice",
        "cue chord unpitched duration voice",
        "chord rest duration tie instrument",
    ],
)
def test_every_kind_of_note_comes_out_in_order(children: str) -> None:
    wanted = children.split()
    note = element("note", "", *(element(tag) for tag in wanted))
    for tag, follower in zip(wanted, [*wanted[1:], None], strict=True):
        found = successor(note, tag)
        assert (found.tag if found else None) == follower
