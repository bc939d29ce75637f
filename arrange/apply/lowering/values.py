"""Note values: which lengths one sign can write, and how the others are divided."""

from arrange.score.document import Document, Node, element, place_in_order
from arrange.units import Quarters

_NAMES = (
    "1024th", "512th", "256th", "128th", "64th", "32nd", "16th", "eighth",
    "quarter", "half", "whole", "breve", "long", "maxima",
)  # fmt: skip
_LENGTHS = {name: Quarters(2) ** (i - 8) for i, name in enumerate(_NAMES)}
_DOTTED = {0: Quarters(1), 1: Quarters(3, 2), 2: Quarters(7, 4)}
_WRITTEN: dict[Quarters, tuple[str, int]] = {
    length * factor: (name, dots)
    for dots, factor in _DOTTED.items()
    for name, length in _LENGTHS.items()
}
LEVELS = {name: max(0, 8 - i) for i, name in enumerate(_NAMES)}
"""How many beams or flags a value has."""


def written(length: Quarters, most_dots: int = 1) -> tuple[str, int] | None:
    """Type and dots of a note value; None where no single sign has that length."""
    value = _WRITTEN.get(length)
    return value if value is not None and value[1] <= most_dots else None


def pieces(length: Quarters, onset: Quarters) -> list[Quarters]:
    """Lengths that one sign each can write, and that together are *length*.

    The pieces keep to the beat: none is longer than the place where it begins allows. Empty
    where halves of halves never reach the length (a triplet's, say).
    """
    if written(length) is not None:
        return [length]
    if not _is_binary(length):
        return []
    found = []
    place, rest = onset if _is_binary(onset) else Quarters(0), length
    while rest > 0:
        fitting = [v for v in _LENGTHS.values() if v <= rest and place % v == 0]
        if not fitting:
            return []
        found.append(max(fitting))
        place, rest = place + found[-1], rest - found[-1]
    return found


def _is_binary(length: Quarters) -> bool:
    return length.denominator & (length.denominator - 1) == 0


def ratio_of(note: Node) -> Quarters:
    """How many of its own kind stand in the time of one: 3/2 in a triplet, else 1."""
    modification = note.find("time-modification")
    if modification is None:
        return Quarters(1)
    actual = modification.child_text("actual-notes", "1")
    return Quarters(int(actual), int(modification.child_text("normal-notes", "1")))


def write_value(document: Document, note: Node, value: tuple[str, int]) -> None:
    """Write type and dots."""
    name, dots = value
    kind = note.find("type")
    if kind is None:
        place_in_order(document, note, element("type", name))
    elif kind.text.strip() != name:
        document.set_text(kind, name)
    there = note.find_all("dot")
    for dot in there[dots:]:
        document.remove(dot)
    for _ in range(dots - len(there)):
        place_in_order(document, note, element("dot"))
