"""The elements of a score file, as reading and lowering see them."""

from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType

from arrange.errors import BadInput
from arrange.score.markup import unwritable_sign

NO_ATTRIBUTES: Mapping[str, str] = MappingProxyType({})


class Node:
    """One element: its tag, attributes, children and text, and where the source has it.

    Everybody may read a node; only `arrange.score.document.Document` changes one, so that every
    change can be undone. Nodes are compared by identity.

    Attributes:
        tag: The element's name.
        attrs: Attributes by name, in the order of the source. Equal ones may share one mapping.
        children: The child elements, in order.
        text: The character data, references resolved, line ends as LF. Empty for an element
            that has children: MusicXML mixes text and elements nowhere.
        parent: The element around this one; `None` for the root and for a detached node.
        start: Where the source spells it (in characters), from `<`; -1 for a new node.
        end: Behind its last `>`; -1 for a new node.
        key: A name of its own that reading or an edit gave it; empty at first.
        revision: Which change of the document last touched this node or one below it; 0 for
            none.
    """

    __slots__ = (
        "attrs", "children", "end", "key", "parent", "revision", "start", "tag", "text",
    )  # fmt: skip

    def __init__(self, tag: str, attrs: Mapping[str, str], children: Sequence["Node"]) -> None:
        self.tag = tag
        self.attrs = attrs
        self.children = children
        self.text = ""
        self.parent: Node | None = None
        self.start = -1
        self.end = -1
        self.key = ""
        self.revision = 0

    def __repr__(self) -> str:
        place = f" at {self.start}" if self.start >= 0 else ""
        return f"<Node {self.tag}{place}>"

    def find(self, tag: str) -> "Node | None":
        """The first child with this tag."""
        for child in self.children:
            if child.tag == tag:
                return child
        return None

    def find_all(self, tag: str) -> list["Node"]:
        """All children with this tag, in order."""
        return [child for child in self.children if child.tag == tag]

    def child_text(self, tag: str, default: str = "") -> str:
        """The text of the first child with this tag, stripped; `default` when there is none."""
        for child in self.children:
            if child.tag == tag:
                return child.text.strip()
        return default

    def iter(self, tag: str | None = None) -> Iterator["Node"]:
        """This node and all below it in document order, or only those with the tag.

        The tree may not change while the iterator is in use.
        """
        waiting = [self]
        while waiting:
            node = waiting.pop()
            if tag is None or node.tag == tag:
                yield node
            if node.children:
                waiting.extend(reversed(node.children))


def element(
    tag: str,
    text: str = "",
    *children: Node,
    attributes: Mapping[str, str] | None = None,
    **named: str,
) -> Node:
    """A new element that belongs to no document yet.

    Args:
        tag: The element's name.
        text: Its character data; only without children.
        *children: Detached nodes, in order.
        attributes: Attributes by name, as MusicXML spells them.
        **named: Further attributes; an underscore stands for a hyphen (`default_x`).

    Raises:
        BadInput: A sign that XML cannot hold.
        ValueError: Text beside children, or a child that has a parent.
    """
    if text and children:
        raise ValueError(f"<{tag}> cannot hold both text and elements")
    attrs = dict(attributes or {})
    attrs.update((name.replace("_", "-"), value) for name, value in named.items())
    for words in (text, *attrs.values()):
        require_writable(words)
    node = Node(tag, attrs, list(children))
    node.text = text
    for child in children:
        if child.parent is not None:
            raise ValueError(f"{child!r} already stands in {child.parent!r}")
        child.parent = node
    return node


def require_writable(words: str) -> None:
    """Refuse text that no XML file can hold.

    Raises:
        BadInput: The text has a control character or a half of a surrogate pair.
    """
    sign = unwritable_sign(words)
    if sign:
        raise BadInput(
            f"the text {words!r} has the sign U+{ord(sign):04X}, which no XML file can hold; "
            "leave it out"
        )
