"""How elements are called in the audit's sentences."""

from arrange.score.nodes import Node

_NAMES = {
    "note": "a note",
    "direction": "a direction",
    "harmony": "a chord symbol",
    "attributes": "a signature, clef or count of divisions",
    "barline": "a barline",
    "print": "a break",
    "backup": "a step back in time",
    "forward": "a step forward in time",
    "sound": "a sound",
    "figured-bass": "a figured bass",
}


def called(node: Node) -> str:
    """What a musician would call it."""
    words = " ".join(w.text.strip() for w in node.iter("words"))
    name = _NAMES.get(node.tag, f"<{node.tag}>")
    return f"{name} “{words}”" if words else name
