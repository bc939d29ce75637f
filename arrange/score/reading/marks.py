"""Directions and sounds: marks beside the notes, tempo, and words about the order of play."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from arrange.score.model import EventId, Mark, MarkKind
from arrange.score.nodes import Node
from arrange.score.own import PREFIX
from arrange.score.reading.harp_pedals import pedal_pairs, pedal_row
from arrange.score.reading.inherited import Divisions, quarters
from arrange.score.reading.leap_words import LeapWords, leap_words
from arrange.score.reading.notations import DAMP_CHARACTERS
from arrange.score.reading.running import Running
from arrange.score.reading.signs import add_leap, add_sound
from arrange.score.reading.statements import PendingWords
from arrange.score.reading.tempo_signs import (
    is_passing,
    is_tempo_words,
    is_unnumbered,
    metronome_tempo,
    metronome_text,
    sound_tempo,
    words_tempo,
)
from arrange.units import Quarters

_KINDS = {
    "rehearsal": MarkKind.REHEARSAL,
    "segno": MarkKind.SEGNO,
    "coda": MarkKind.CODA,
    "wedge": MarkKind.DYNAMICS,
    "dynamics": MarkKind.DYNAMICS,
    "pedal": MarkKind.PIANO_PEDAL,
    "metronome": MarkKind.TEMPO,
    "octave-shift": MarkKind.OCTAVE_SHIFT,
    "harp-pedals": MarkKind.HARP_PEDALS,
    "damp": MarkKind.DAMP,
    "damp-all": MarkKind.DAMP_ALL,
    "words": MarkKind.WORDS,
    "symbol": MarkKind.WORDS,
}
_DYNAMIC_WORDS = frozenset({
    "cresc", "crescendo", "decresc", "decrescendo", "dim", "dimin", "diminuendo", "ppp", "pp",
    "p", "mp", "mf", "f", "ff", "fff", "sf", "sfz", "fp", "piano", "forte", "mezzopiano",
    "mezzoforte", "pianissimo", "fortissimo",
})  # fmt: skip
_DEGREES = ("poco", "a", "molto", "sempre")
_GLYPH_SIGNS = {"accidentalFlat": "♭", "accidentalSharp": "♯", "accidentalNatural": "♮"}
_DAMP_GLYPHS = {"pluckedDamp": MarkKind.DAMP, "pluckedDampAll": MarkKind.DAMP_ALL}
_DAMP_ALL_CHARACTER = "\ue639"
_OCTAVE_SIZES = ("8", "15", "22")


@dataclass(frozen=True, slots=True)
class _Item:
    """One direction-type, read."""

    kind: MarkKind
    text: str
    own: str = ""
    pedals: tuple[tuple[str, int], ...] = ()
    leap: LeapWords | None = None
    is_open: bool = False
    is_boxed: bool = False


def read_direction(node: Node, running: Running) -> None:
    """Take a direction into the running state."""
    offset = _offset(node, running)
    staff_text = node.child_text("staff")
    staff = running.place.whole(staff_text, "a direction's staff") if staff_text else 1
    types = node.find_all("direction-type")
    items = [_item(kind, node, staff, running) for kind in types]
    items = _with_metronome(items)
    _add_marks(node, items, (offset, staff), running)
    _add_meaning(node, types, items, running)


def _offset(node: Node, running: Running) -> Quarters:
    shift = node.child_text("offset")
    if not shift:
        return running.offset
    count = running.place.divisions(shift, "a direction's offset")
    return quarters(max(running.position + count, 0), running.divisions or 1)


def _add_marks(
    node: Node, items: list[_Item], where: tuple[Quarters, int], running: Running
) -> None:
    """One mark where the direction is of one kind, else one for each direction-type."""
    offset, staff = where
    place = running.place
    if len({(item.kind, item.is_open) for item in items}) <= 1:
        groups = [(node.key, items)] if items else []
    else:
        groups = [(f"{node.key}.{i}", [item]) for i, item in enumerate(items)]
    for key, group in groups:
        first = group[0]
        text = " ".join(item.text for item in group if item.text)
        event = EventId(place.part, place.index, key)
        own = next((item.own for item in group if item.own), "")
        pedals = tuple(pair for item in group for pair in item.pedals)
        if first.is_open:
            pending = PendingWords(
                len(running.marks),
                text,
                node.attrs.get("placement", ""),
                first.kind is MarkKind.REHEARSAL,
                first.is_boxed,
            )
            running.pending.append(pending)
        running.marks.append(Mark(event, first.kind, offset, staff, text, own, pedals))


def _item(kind: Node, direction: Node, staff: int, running: Running) -> _Item:
    children = kind.children
    own = _own_id(direction, kind)
    if not children:
        return _Item(MarkKind.OTHER, "")
    if own:
        return _Item(MarkKind.OWN, _own_text(children), own)
    if children[0].tag in ("words", "symbol"):
        return _words_item(children)
    if children[0].tag == "rehearsal":
        return _Item(MarkKind.REHEARSAL, _words(children), is_open=True)
    return _picture(children, staff, running)


def _picture(children: Sequence[Node], staff: int, running: Running) -> _Item:
    first = children[0]
    if first.tag == "harp-pedals":
        pairs = pedal_pairs(first, running)
        return _Item(MarkKind.HARP_PEDALS, pedal_row(pairs), pedals=pairs)
    if first.tag == "other-direction":
        return _other(first)
    if first.tag == "octave-shift":
        _octave_line(first, staff, running)
    mark = _KINDS.get(first.tag, MarkKind.OTHER)
    return _Item(mark, " ".join(filter(None, map(_text, children))))


def _own_id(direction: Node, kind: Node) -> str:
    for node in (direction, kind, *kind.children):
        own = node.attrs.get("id", "")
        if own.startswith(PREFIX):
            return own
    return ""


def _own_text(children: Sequence[Node]) -> str:
    """The words of a mark of ours, or what its picture says."""
    return _words(children) or " ".join(filter(None, map(_text, children)))


def _words_item(children: Sequence[Node]) -> _Item:
    text = _words(children)
    boxed = children[0].attrs.get("enclosure", "none") != "none"
    leap = leap_words(text)
    if leap is not None:
        kinds = {"segno": MarkKind.SEGNO, "coda": MarkKind.CODA, "coda-sign": MarkKind.CODA}
        return _Item(kinds.get(leap.sign, MarkKind.WORDS), text, leap=leap)
    if is_tempo_words(text):
        return _Item(MarkKind.TEMPO, text)
    words = text.casefold().replace(".", " ").split()
    if not _DYNAMIC_WORDS.isdisjoint(words) and _DYNAMIC_WORDS.union(_DEGREES).issuperset(words):
        return _Item(MarkKind.DYNAMICS, text)
    return _Item(MarkKind.WORDS, text, is_open=True, is_boxed=boxed)


def _words(children: Sequence[Node]) -> str:
    """The words of a direction-type in one; musical signs join without a space."""
    text = ""
    for child in children:
        piece = _GLYPH_SIGNS.get(child.text.strip(), child.text)
        joins = len(piece.strip()) == 1 and not piece.strip().isalnum()
        if text and not joins and not text[-1].isspace() and not piece[:1].isspace():
            text += " "
        text += piece
    return text.strip()


def _text(node: Node) -> str:
    """Words that say the same as a picture."""
    if node.tag == "metronome":
        return metronome_text(node)
    if node.tag == "dynamics":
        return " ".join(
            c.text.strip() if c.tag == "other-dynamics" else c.tag for c in node.children
        )
    if node.tag == "octave-shift":
        return f"{node.attrs.get('type', '')} {node.attrs.get('size', '8')}".strip()
    if node.text.strip():
        return node.text.strip()
    kind = node.attrs.get("type", "")
    return kind if node.tag in ("wedge", "pedal") else f"{node.tag} {kind}".strip()


def _other(node: Node) -> _Item:
    glyph, text = node.attrs.get("smufl", ""), node.text.strip()
    if glyph in _DAMP_GLYPHS:
        return _Item(_DAMP_GLYPHS[glyph], text or glyph)
    if text and text in DAMP_CHARACTERS:
        return _Item(MarkKind.DAMP_ALL if text == _DAMP_ALL_CHARACTER else MarkKind.DAMP, text)
    return _Item(MarkKind.OTHER, text or glyph or node.tag)


def _octave_line(node: Node, staff: int, running: Running) -> None:
    """Pitches under the line are sounding (MusicXML 4.0); only an unclosed one is news."""
    key = (staff, node.attrs.get("number", "1"))
    kind = node.attrs.get("type", "")
    if kind in ("up", "down"):
        if node.attrs.get("size", "8") not in _OCTAVE_SIZES:
            running.note(
                f"An octave line of size {node.attrs.get('size')}; the pitches are read as they "
                "sound."
            )
        running.octave_lines[key] = True
    elif kind == "stop":
        running.octave_lines.pop(key, None)


def _with_metronome(items: list[_Item]) -> list[_Item]:
    """Words beside a metronome mark belong to it."""
    if not any(item.kind is MarkKind.TEMPO for item in items):
        return items
    return [
        replace(item, kind=MarkKind.TEMPO, is_open=False)
        if item.kind is MarkKind.WORDS and item.is_open
        else item
        for item in items
    ]


def _add_meaning(node: Node, types: list[Node], items: list[_Item], running: Running) -> None:
    """Tempo and order of play, from signs, words and the sound inside."""
    text = " ".join(item.text for item in items if item.kind is not MarkKind.OWN)
    sound = node.find("sound")
    late = _heard_late(node, running)
    timing = quarters(max(running.position + late, 0), running.divisions or 1)
    passing = is_passing(text)
    before = len(running.tempos)
    for kind, item in zip(types, items, strict=True):
        if item.kind is MarkKind.TEMPO:
            _add_tempo(kind, item, timing, running)
    _add_leaps(items, sound, running)
    if sound is not None:
        read_sound(sound, running, late)
    if passing:
        running.bend_from(before)


def _heard_late(node: Node, running: Running) -> Divisions:
    """Divisions by which a direction is meant to be heard later, not only printed."""
    offset = node.find("offset")
    if offset is None or offset.attrs.get("sound") != "yes":
        return 0
    return running.place.divisions(offset.text, "a direction's offset")


def _add_tempo(kind: Node, item: _Item, offset: Quarters, running: Running) -> None:
    marked = False
    for child in kind.children:
        if child.tag == "metronome":
            sign = metronome_tempo(child, offset, running)
            marked = True
            if sign is not None:
                running.tempos.append(sign)
    if marked:
        return
    sign = words_tempo(item.text, running.meter, offset)
    if sign is not None:
        running.tempos.append(sign)
    elif is_unnumbered(item.text):
        running.unnumbered.append((offset, item.text))


def _add_leaps(items: list[_Item], sound: Node | None, running: Running) -> None:
    words = [item.leap for item in items if item.leap is not None]
    pictures = {item.kind for item in items if item.leap is None}
    if words or MarkKind.SEGNO in pictures or MarkKind.CODA in pictures:
        add_leap(words, pictures, sound, running)


def read_sound(node: Node, running: Running, late: Divisions = 0) -> None:
    """Take a sound element, alone or in a direction, into the running state.

    *late* are the divisions by which its direction is heard later, where it says none itself.
    """
    tempo = node.attrs.get("tempo")
    if tempo is not None:
        shift = node.child_text("offset")
        if shift:
            late = running.place.divisions(shift, "a sound's offset")
        position = max(running.position + late, 0)
        sign = sound_tempo(tempo, quarters(position, running.divisions or 1), running)
        if sign is not None:
            running.tempos.append(sign)
    add_sound(node, running)
