"""The elements of a score file, as reading and lowering see them."""

from collections.abc import Hashable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any, Protocol

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
        length: How long the source spells it; 0 for a new node.
        key: A name of its own that reading or an edit gave it; empty at first.
        revision: Which change of the document last touched this node or one below it; 0 for
            none.
    """

    __slots__ = (
        "attrs", "children", "key", "length", "parent", "revision", "start", "tag", "text",
    )  # fmt: skip

    def __init__(self, tag: str, attrs: Mapping[str, str], children: Sequence["Node"]) -> None:
        self.tag = tag
        self.attrs = attrs
        self.children = children
        self.text = ""
        self.parent: Node | None = None
        self.start = -1
        self.length = 0
        self.key = ""
        self.revision = 0

    @property
    def end(self) -> int:
        """Behind its last `>` in the source; -1 for a new node."""
        return self.start + self.length

    def __repr__(self) -> str:
        place = f" at {self.start}" if self.start >= 0 else ""
        return f"<Node {self.tag}{place}>"

    def take_apart(self) -> None:
        """Part it from what stands in it, so that all of it goes when nobody holds it.

        A child knows its parent, and is known by it: such rings go only when they are looked for.
        """
        for child in self.children:
            child.parent = None
            if type(child) is FoldedNote or child.children:
                child.take_apart()

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


class Tree(Protocol):
    """What makes the nodes of a source."""

    def children_of(self, note: "FoldedNote") -> Sequence[Node]:
        """The elements within a note."""
        ...

    def attributes_of(self, note: "FoldedNote") -> Mapping[str, str]:
        """The attributes of a note."""
        ...

    def spelled_attributes(self, note: "FoldedNote") -> str:
        """How the source spells the attributes of a note."""
        ...


class Inside:
    """What stands in notes that a source spells alike.

    Attributes:
        tree: what it is a part of.
        spelled: how the source spells it, between the note's tags.
        ends: how many end tags stand in it.
        may_have_signs, may_have_lyrics: whether notations, or lyrics, are spelled in it.
        example: the first of these notes.
        known: what readers have worked out from it, each under a name of its own; it may depend
            on nothing else.
    """

    __slots__ = (
        "ends", "example", "known", "may_have_lyrics", "may_have_signs", "spelled", "tree",
    )  # fmt: skip

    def __init__(self, tree: Tree, spelled: str) -> None:
        self.tree = tree
        self.spelled = spelled
        self.ends = spelled.count("</")
        self.may_have_signs = "<notations" in spelled
        self.may_have_lyrics = "<lyric" in spelled
        self.example: FoldedNote | None = None
        self.known: dict[Hashable, Any] = {}


class FoldedNote(Node):
    """A note element whose attributes and children are made when somebody looks for them.

    Most of what a score holds stands in its notes, and many of these are spelled alike.
    """

    __slots__ = ("inside",)
    inside: Inside

    def __getattr__(self, name: str) -> Any:  # only for what is not there yet
        if name == "children":
            self.children = self.inside.tree.children_of(self)
            return self.children
        if name == "attrs":
            self.attrs = self.inside.tree.attributes_of(self)
            return self.attrs
        raise AttributeError(name)

    def fold(self) -> None:
        """Let the children go; no edit may stand in them."""
        if self.inside.example is not self:
            self.take_apart()

    def take_apart(self) -> None:
        """Part it from its children, if it has got them, and let them go."""
        if self.inside.example is self:
            self.inside.example = None
        try:
            children = object.__getattribute__(self, "children")
        except AttributeError:  # nobody has looked
            return
        del self.children
        for child in children:
            child.parent = None
            if child.children:
                child.take_apart()


def fold(node: Node) -> None:
    """Fold all notes in an element; no edit may stand in them."""
    for child in node.children:
        if isinstance(child, FoldedNote):
            child.fold()
        elif child.children:
            fold(child)


def inside_of(node: Node) -> Inside | None:
    """What stands in a note, where it stands as the source spells it; else None."""
    return node.inside if type(node) is FoldedNote and not node.revision else None


def one_alike(node: Node) -> Node:
    """A note that holds the same; where there are several, always the same one."""
    inside = inside_of(node)
    if inside is None or inside.example is None or inside.example.revision:
        return node
    return inside.example


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
