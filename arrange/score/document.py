"""A score file as a tree that remembers its bytes; the one place where a tree is changed.

Without an edit the bytes that come out are those that went in. With edits they differ in the
spans of the edited elements and nowhere else, in any encoding, with any line ends.
"""

from io import BytesIO
from typing import Any

from arrange.errors import BadInput
from arrange.score.child_order import successor
from arrange.score.emission import AtFirst, Emission, indentation
from arrange.score.encodings import decoded
from arrange.score.limits import Limits, in_force
from arrange.score.markup import WHITE
from arrange.score.nodes import Node, element, fold, require_writable
from arrange.score.parsing import parsed

__all__ = ["Document", "Node", "element", "place_in_order"]

_INSERTED, _REMOVED = "inserted", "removed"
"""What the journal calls a child that was put in or taken out; else it names what was set."""
_ROOTS = ("score-partwise", "score-timewise")


class Document:
    """A MusicXML file: a tree to read, and the only ways to change it.

    Every change is written into a journal, so `rollback` can take it back exactly.

    Attributes:
        root: `score-partwise` or `score-timewise`.
        file: The name of the file, for messages.
        limits: How much it may hold.
        encoding: The encoding of the bytes, as Python spells it.
        text: The source behind its byte order mark; in it nodes have their places.
        notes: What was odd about the file, in sentences for the log.
    """

    def __init__(self, raw: bytes, file: str, limits: Limits | None = None) -> None:
        if not raw.strip(b"\0" + WHITE.encode()):
            raise BadInput("the file is empty", file=file)
        self.file = file
        self.limits = limits or in_force()
        self._raw = raw
        self._source = decoded(raw, file)
        self.encoding = self._source.codec
        self.text = self._source.text
        self.notes = self._source.notes
        self.root = parsed(self._source.text, file, self.limits)
        _require_score(self.root, file)
        self._journal: list[tuple[Node, str, Any]] = []
        self._changes = 0
        self._at_first: dict[Node, AtFirst] = {}
        self._indentation = ""

    @classmethod
    def read(cls, raw: bytes, file: str, limits: Limits | None = None) -> "Document":
        """The document in these bytes.

        Args:
            raw: An uncompressed MusicXML file.
            file: Its name, for messages.
            limits: How much it may hold; without them, what is in force.

        Raises:
            BadInput: Not well-formed XML, not MusicXML, or an encoding that cannot be read.
        """
        return cls(raw, file, limits)

    def line(self, node: Node) -> int:
        """The line of the source on which an element begins; 0 for a new one."""
        if node.start < 0:
            return 0
        before = self._source.text[: node.start]
        return before.count("\n") + before.count("\r") - before.count("\r\n") + 1

    def to_bytes(self) -> bytes:
        """The file as it is now, in the encoding of the source."""
        if not self._journal:
            return self._raw
        emission = Emission(self._source.text, self._indentation, self._at_first)
        written = BytesIO()
        written.write(self._source.mark)
        written.writelines(map(self._source.encoded, emission.written()))
        return written.getvalue()

    def set_text(self, node: Node, text: str) -> None:
        """Give an element without children another text.

        Raises:
            BadInput: A sign that XML cannot hold, or the element has children.
        """
        if node.children:
            raise self._misplaced(node, "elements", "text")
        if text != node.text:
            require_writable(text)
            self._touch(node)
            self._journal.append((node, "text", node.text))
            node.text = text

    def set_attribute(self, node: Node, name: str, value: str | None) -> None:
        """Give an attribute another value, add it, or take it away (`None`).

        Raises:
            BadInput: A sign that XML cannot hold.
        """
        if node.attrs.get(name) == value:
            return
        attrs = dict(node.attrs)
        if value is None:
            del attrs[name]
        else:
            require_writable(value)
            attrs[name] = value
        self._touch(node)
        self._journal.append((node, "attrs", node.attrs))
        node.attrs = attrs

    def insert(self, parent: Node, node: Node, before: Node | None = None) -> None:
        """Put a detached element (new, or removed before) among the children of another.

        Several elements put before the same one keep the order in which they were put there.

        Args:
            parent: The element around it.
            node: A new element, or one that was removed.
            before: The child that will follow it; without one it becomes the last.

        Raises:
            BadInput: The parent holds text.
            ValueError: The element stands somewhere already, or the other one is no child of
                the parent.
        """
        if node.parent is not None or node is self.root or _stands_in(parent, node):
            raise ValueError(f"{node!r} is not free to be put into {parent!r}")
        if parent.text.strip():
            raise self._misplaced(parent, "text", "elements")
        children = parent.children
        if not isinstance(children, list):
            children = list(children)
        index = len(children) if before is None else children.index(before)
        self._touch(parent)
        parent.children = children
        if parent.text:
            self._journal.append((parent, "text", parent.text))
            parent.text = ""
        children.insert(index, node)
        node.parent = parent
        self._journal.append((parent, _INSERTED, index))

    def remove(self, node: Node) -> None:
        """Take an element out, with all that is in it.

        Raises:
            ValueError: The root, or an element that is detached already.
        """
        parent = node.parent
        if parent is None or not isinstance(parent.children, list):
            raise ValueError(f"{node!r} stands in no element")
        index = parent.children.index(node)
        self._touch(parent)
        del parent.children[index]
        node.parent = None
        self._journal.append((parent, _REMOVED, (index, node)))

    def mark(self) -> int:
        """A place in the journal to roll back to."""
        return len(self._journal)

    def rollback(self, mark: int) -> None:
        """Take back, last first, all changes since the mark.

        Raises:
            ValueError: A mark that was rolled back already.
        """
        if not 0 <= mark <= len(self._journal):
            raise ValueError(f"the mark {mark} is not in the journal")
        while len(self._journal) > mark:
            step = self._journal.pop()
            _take_back(*step)
            self._raise_revision(step[0])

    def restore(self) -> None:
        """Take back all changes and forget them: the tree is as it was read, its notes folded.

        Nobody may go on with what was read of the tree in between.
        """
        for node, first in self._at_first.items():
            node.attrs, node.text = first.attrs, first.text
            node.children = list(first.children) if first.children else ()
            for child in node.children:
                child.parent = node
        for node in self._at_first:
            around: Node | None = node
            while around is not None and around.revision:
                around.revision = 0
                around = around.parent
        self._journal.clear()
        self._at_first.clear()
        fold(self.root)

    def _misplaced(self, node: Node, held: str, wanted: str) -> BadInput:
        return BadInput(
            f"line {self.line(node)}: <{node.tag}> holds {held} where MusicXML has {wanted}; "
            "correct it",
            file=self.file,
        )

    def _touch(self, node: Node) -> None:
        if not self._source.is_exact:
            raise BadInput(
                f"text in {self.encoding.upper()} cannot be changed without changing the rest; "
                "save the score again as UTF-8",
                file=self.file,
            )
        if not self._at_first:
            self._indentation = indentation(self._source.text, self.root)
        if node.start >= 0 and node not in self._at_first:
            self._at_first[node] = AtFirst(node.attrs, node.text, tuple(node.children))
        self._raise_revision(node)

    def _raise_revision(self, node: Node) -> None:
        """Tell whoever has read the node, or one around it, that it must be read again."""
        self._changes += 1
        around: Node | None = node
        while around is not None:
            around.revision = self._changes
            around = around.parent


def place_in_order(document: Document, parent: Node, node: Node) -> None:
    """Put a detached element among the children of another where MusicXML wants it.

    Behind all children of the same tag, before the first one that must follow.

    Raises:
        ValueError: No order is known for the parent, or it cannot hold such an element.
    """
    document.insert(parent, node, before=successor(parent, node.tag))


def _require_score(root: Node, file: str) -> None:
    if root.tag in _ROOTS:
        return
    if root.tag == "opus":
        message = "the file only lists other scores (an opus); convert those"
    else:
        message = (
            f"not a MusicXML score: its outermost element is <{root.tag}>, not <{_ROOTS[0]}> "
            f"or <{_ROOTS[1]}>; export it as MusicXML"
        )
    raise BadInput(message, file=file)


def _stands_in(node: Node, around: Node) -> bool:
    place: Node | None = node
    while place is not None:
        if place is around:
            return True
        place = place.parent
    return False


def _take_back(node: Node, what: str, before: Any) -> None:
    """Undo a step of the journal; *before*: the value, or which child it was."""
    children = node.children
    if what == _INSERTED and isinstance(children, list):
        children.pop(before).parent = None
    elif what == _REMOVED and isinstance(children, list):
        index, child = before
        children.insert(index, child)
        child.parent = node
    else:
        setattr(node, what, before)
