"""Every public score that is at hand comes back byte for byte, and one edit changes one place."""

import importlib.util
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import pytest
from lxml import etree

from arrange.score.container import Source, read_source, write_result
from arrange.score.document import Document, Node
from arrange.score.emission import AtFirst

# The library is found, not loaded: only its scores are wanted.
_FOUND = importlib.util.find_spec("music21")
assert _FOUND is not None
assert _FOUND.origin is not None
LIBRARY = Path(_FOUND.origin).parent
SUFFIXES = (".xml", ".musicxml", ".mxl")
SLICES = 8
# So many elements of each file are written anew; the shorter files are so from end to end.
WRITTEN_ANEW = 3000
NEW_WORDS = "<new words>"


def _scores(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.suffix in SUFFIXES)


SCORES = _scores(LIBRARY)
SMALL = _scores(LIBRARY / "musicxml" / "lilypondTestSuite")
VARIANTS = {
    "UTF-16 LE": ("utf-16-le", b"\xff\xfe", "\n"),
    "UTF-16 BE": ("utf-16-be", b"\xfe\xff", "\r\n"),
    "UTF-8 with a mark": ("utf-8", b"\xef\xbb\xbf", "\n"),
    "ISO-8859-1": ("iso-8859-1", b"", "\r\n"),
    "CR LF": ("utf-8", b"", "\r\n"),
    "CR": ("utf-8", b"", "\r"),
}


def _write_anew(document: Document, nodes: Iterator[Node]) -> bytes:
    """What the document writes when it may not copy these elements whole."""
    document._at_first.update((node, AtFirst.of(node)) for node in nodes)
    document._journal.append((document.root, "", lambda: None))
    return document.to_bytes()


def _is_one_place(before: bytes, after: bytes, old: bytes, new: bytes) -> bool:
    """Whether `after` is `before` with one `old` replaced by `new`."""
    beginning, found, rest = after.partition(new)
    return (
        bool(found)
        and before.startswith(beginning)
        and before.endswith(rest)
        and before[len(beginning) : len(before) - len(rest)] == old
    )


def _plain_leaf(document: Document) -> Node:
    """An element in mid-file whose text the source spells as it is."""
    leaves = [
        node
        for node in document.root.iter()
        if not node.children and node.text.isascii() and node.text.isalnum()
    ]
    return leaves[len(leaves) // 2]


def _variant(source: Source, codec: str, mark: bytes, line_end: str) -> bytes:
    text = source.score_bytes.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    declared = codec.removesuffix("-le").removesuffix("-be").upper()
    text = text.replace('encoding="UTF-8"', f'encoding="{declared}"', 1)
    return mark + text.replace("\n", line_end).encode(codec, "xmlcharrefreplace")


def test_the_public_scores_are_there() -> None:
    assert len(SCORES) > 790
    assert len(SMALL) > 120


@pytest.mark.parametrize("first", range(SLICES))
def test_a_public_score_that_nobody_edits_comes_back_as_it_was(first: int) -> None:
    for path in SCORES[first::SLICES]:
        source = read_source(path)
        document = Document.read(source.score_bytes, path.name)
        assert write_result(source, document.to_bytes()) == path.read_bytes(), path
        written = _write_anew(document, islice(document.root.iter(), WRITTEN_ANEW))
        assert written == source.score_bytes, path


@pytest.mark.parametrize("title", VARIANTS)
def test_encodings_and_line_ends_come_back_as_they_were(title: str) -> None:
    for path in SMALL[::6]:
        raw = _variant(read_source(path), *VARIANTS[title])
        document = Document.read(raw, path.name)
        assert document.to_bytes() == raw, path
        assert _write_anew(document, document.root.iter()) == raw, path


@pytest.mark.parametrize("title", VARIANTS)
def test_one_edit_changes_one_place_in_any_encoding(title: str) -> None:
    codec, mark, line_end = VARIANTS[title]
    for path in SMALL[3::6]:
        raw = _variant(read_source(path), codec, mark, line_end)
        document = Document.read(raw, path.name)
        leaf = _plain_leaf(document)
        old = leaf.text.encode(codec)
        document.set_text(leaf, NEW_WORDS)
        new = NEW_WORDS.replace("<", "&lt;").replace(">", "&gt;").encode(codec)
        assert _is_one_place(raw, document.to_bytes(), old, new), path


def test_one_edit_changes_one_place_and_its_rollback_none() -> None:
    for path in SMALL:
        source = read_source(path)
        document = Document.read(source.score_bytes, path.name)
        leaf, before = _plain_leaf(document), document.mark()
        document.set_attribute(leaf, "id", "new")
        codec = document.encoding
        for quote in "\"'":
            new = f" id={quote}new{quote}".encode(codec)
            if _is_one_place(source.score_bytes, document.to_bytes(), b"", new):
                break
        else:
            pytest.fail(f"{path}: more than the new attribute differs")
        assert Document.read(document.to_bytes(), path.name).root.find("part") is not None
        document.rollback(before)
        assert document.to_bytes() == source.score_bytes, path


def test_the_tree_has_what_another_reader_sees() -> None:
    parser = etree.XMLParser(remove_comments=True, remove_pis=True, load_dtd=False)
    for path in SMALL[::2] + SCORES[::100]:
        raw = read_source(path).score_bytes
        ours = Document.read(raw, path.name).root.iter()
        theirs = etree.fromstring(raw, parser).iter()
        for node, other in zip(ours, theirs, strict=True):
            assert node.tag == other.tag, path
            assert dict(node.attrs) == dict(other.attrib), path
            assert node.children or node.text == (other.text or ""), path
