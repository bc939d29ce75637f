"""The neighbour notes that ornaments add: which accidentals at them mean what."""

from dataclasses import dataclass

from arrange.apply.printed import PrintedNote
from arrange.apply.signatures import MEANING_OF, SIGN_OF, Alter, Alters, added
from arrange.pitch import SEMITONES
from arrange.score.document import Document, Node, element

_UPPER = frozenset({"trill-mark", "shake", "inverted-mordent"})
_LOWER = frozenset({"mordent"})
_BOTH = frozenset({
    "turn", "delayed-turn", "inverted-turn", "delayed-inverted-turn", "vertical-turn",
    "inverted-vertical-turn",
})  # fmt: skip
"""In MusicXML the mordent has the stroke and goes down; inverted, it goes up."""
MOST_SIGNS = 3
"""Beyond a triple sharp or flat no sign exists (MusicXML accidental values)."""


@dataclass(slots=True)
class Neighbour:
    """A note that an ornament adds.

    Attributes:
        ornament: the sign; *mark*: the accidental at it for this neighbour.
        side: 1 for the note above, -1 for the one below.
    """

    ornament: Node
    side: int
    mark: Node | None = None


def neighbours(note: PrintedNote) -> list[Neighbour]:
    """The neighbours of a note's ornaments, and other accidentals among its signs."""
    found: list[Neighbour] = []
    own: list[Neighbour] = []
    for sign in _signs(note.node):
        if sign.tag == "accidental-mark":
            free = _meant(own, sign)
            if free is not None:
                free.mark = sign
        elif sign.tag in _UPPER or sign.tag in _LOWER or sign.tag in _BOTH:
            sides = (1, -1) if sign.tag in _BOTH else (1,) if sign.tag in _UPPER else (-1,)
            own = [Neighbour(sign, side) for side in sides]
            found += own
    return found


def _signs(note: Node) -> list[Node]:
    return [
        inner
        for notations in note.children
        if notations.tag == "notations"
        for sign in notations.children
        for inner in (sign.children if sign.tag == "ornaments" else (sign,))
    ]


def _meant(own: list[Neighbour], mark: Node) -> Neighbour | None:
    """The neighbour that an accidental belongs to: where it stands, else the first free one."""
    if len(own) > 1 and mark.attrs.get("placement") == "below":
        return own[-1]
    return next((neighbour for neighbour in own if neighbour.mark is None), None)


Distances = list[tuple[Neighbour, Alter]]
"""How far, in semitones, each neighbour sounds from its note."""


def distances(note: PrintedNote, key: Alters) -> Distances:
    """How far the neighbours of a note's ornaments sound from it."""
    return [(found, _sounding(note, found, key)) for found in neighbours(note)]


def _sounding(note: PrintedNote, found: Neighbour, key: Alters) -> Alter:
    alter: Alter | None = None
    if found.mark is not None:
        alter = MEANING_OF.get(found.mark.text.strip())
    if alter is None:
        alter = key[(note.line + found.side) % 7]
    return added(alter, _natural(note.line, found.side)) - note.alter


def _natural(line: int, side: int) -> int:
    """Semitones from the plain note on a line to the plain note beside it."""
    there, octave = (line + side) % 7, (line + side) // 7 - line // 7
    return SEMITONES[there] + 12 * octave - SEMITONES[line % 7]


def keep_neighbours(document: Document, note: PrintedNote, key: Alters, before: Distances) -> None:
    """Let the ornaments of a note that is spelled anew sound as far from it as *before*."""
    for found, distance in before:
        if found.ornament.parent is None or _sounding(note, found, key) == distance:
            continue
        alter = added(distance + note.alter, -_natural(note.line, found.side))
        name = SIGN_OF.get(alter)
        if name is None or not -MOST_SIGNS <= alter <= MOST_SIGNS:
            continue
        if found.mark is not None and found.mark.parent is not None:
            document.set_text(found.mark, name)
        else:
            _add_mark(document, found, name)


def _add_mark(document: Document, found: Neighbour, name: str) -> None:
    holder = found.ornament.parent
    if holder is None:
        return
    row = list(holder.children)
    behind = row.index(found.ornament) + 1
    while behind < len(row) and row[behind].tag == "accidental-mark":
        behind += 1
    place = {"placement": "below"} if found.side < 0 else {"placement": "above"}
    mark = element("accidental-mark", name, attributes=place)
    document.insert(holder, mark, before=row[behind] if behind < len(row) else None)
    found.mark = mark
