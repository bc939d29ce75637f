"""The signs on a note, and the neighbours that its ornaments add."""

from collections.abc import Iterator

from arrange.score.model import Notation, Sign
from arrange.score.nodes import Node
from arrange.score.reading.pitches import ACCIDENTALS, OrnamentSign, has_upper

_GROUPS = frozenset({"ornaments", "technical", "articulations"})
_SIGNS = {
    "fingering": Sign.FINGERING,
    "harmonic": Sign.HARMONIC,
    "open-string": Sign.HARMONIC,
    "arpeggiate": Sign.ARPEGGIATE,
    "non-arpeggiate": Sign.NON_ARPEGGIATE,
    "glissando": Sign.GLISSANDO,
    "slide": Sign.SLIDE,
    "trill-mark": Sign.TRILL,
    "shake": Sign.TRILL,
    "turn": Sign.TURN,
    "delayed-turn": Sign.TURN,
    "vertical-turn": Sign.TURN,
    "inverted-turn": Sign.INVERTED_TURN,
    "delayed-inverted-turn": Sign.INVERTED_TURN,
    "inverted-vertical-turn": Sign.INVERTED_TURN,
    "mordent": Sign.MORDENT,
    "inverted-mordent": Sign.INVERTED_MORDENT,
    "tremolo": Sign.TREMOLO,
    "fermata": Sign.FERMATA,
    "staccato": Sign.STACCATO,
    "staccatissimo": Sign.STACCATO,
    "slur": Sign.SLUR,
    "tuplet": Sign.TUPLET,
}
_ORNAMENTS = frozenset({
    Sign.TRILL, Sign.TURN, Sign.INVERTED_TURN, Sign.MORDENT, Sign.INVERTED_MORDENT,
})  # fmt: skip
_DAMP_GLYPHS = frozenset({"pluckedDamp", "pluckedDampAll", "pluckedDampOnStem"})
"""SMuFL's names; the characters are U+E638 to U+E63B."""
DAMP_CHARACTERS = frozenset("\ue638\ue639\ue63b")
_SKIPPED = frozenset({"tied", "accidental-mark", "footnote", "level"})
_PLACES = ("above", "below")


def sign_nodes(note: Node) -> Iterator[tuple[Notation, Node]]:
    """The signs of a note element, each with its own element, in document order."""
    counts: dict[Sign, int] = {}
    for node, marks in _flat(note):
        sign = _sign(node)
        if sign is None:
            continue
        count = counts.get(sign, 0)
        counts[sign] = count + 1
        yield (
            Notation(
                sign,
                f"{sign.value}.{count}",
                _type(node),
                node.attrs.get("number", ""),
                _text(sign, node, marks),
            ),
            node,
        )


def ornament_signs(notations: tuple[Notation, ...]) -> Iterator[OrnamentSign]:
    """The ornaments among *notations*, with the accidentals at them."""
    for notation in notations:
        if notation.sign in _ORNAMENTS:
            name, *marks = (notation.text or notation.sign.value).split(" ")
            if name not in _SIGNS:
                name, marks = notation.sign.value, [name, *marks]
            yield _with_accidentals(name, marks)


def _with_accidentals(name: str, marks: list[str]) -> OrnamentSign:
    upper: int | None = None
    lower: int | None = None
    for mark in marks:
        place, _, accidental = mark.rpartition(":")
        alter = ACCIDENTALS.get(accidental)
        if alter is None:
            continue
        if place == "below" or not has_upper(name) or (not place and upper is not None):
            lower = alter
        else:
            upper = alter
    return OrnamentSign(name, upper, lower)


def _flat(note: Node) -> list[tuple[Node, list[str]]]:
    """Every sign element with the accidental marks that follow it."""
    found: list[tuple[Node, list[str]]] = []
    for notations in note.children:
        if notations.tag != "notations":
            continue
        for child in notations.children:
            for node in child.children if child.tag in _GROUPS else (child,):
                if node.tag == "accidental-mark" and found:
                    place = node.attrs.get("placement", "")
                    shown = node.text.strip()
                    found[-1][1].append(f"{place}:{shown}" if place in _PLACES else shown)
                else:
                    found.append((node, []))
    return found


def _sign(node: Node) -> Sign | None:
    if node.tag == "tied":
        return Sign.LET_RING if node.attrs.get("type") == "let-ring" else None
    if node.tag in _SKIPPED:
        return None
    if _is_damp(node):
        return Sign.DAMP
    return _SIGNS.get(node.tag, Sign.OTHER)


def _is_damp(node: Node) -> bool:
    if not node.tag.startswith("other-"):
        return False
    return node.attrs.get("smufl", "") in _DAMP_GLYPHS or node.text.strip() in DAMP_CHARACTERS


def _type(node: Node) -> str:
    return node.attrs.get("type") or node.attrs.get("direction", "")


def _text(sign: Sign, node: Node, marks: list[str]) -> str:
    if sign in _ORNAMENTS:
        name = [] if node.tag == sign.value else [node.tag]
        return " ".join(name + marks)
    if sign is Sign.HARMONIC:
        return " ".join([node.tag] if node.tag != "harmonic" else [c.tag for c in node.children])
    if sign in (Sign.OTHER, Sign.LET_RING):
        return node.tag if sign is Sign.OTHER else ""
    return node.text.strip() or ("" if node.tag == sign.value else node.tag)
