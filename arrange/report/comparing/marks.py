"""What stands in a measure beside its notes: directions, chord symbols, barlines, breaks."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from arrange.pitch import LETTERS, Interval, Pitch
from arrange.report.comparing import signatures
from arrange.report.comparing.items import (
    Item,
    called,
    look_of,
    on_one_line,
    page_of,
    plain_number,
    said,
)
from arrange.report.comparing.records import Aspect
from arrange.report.comparing.sheets import Cell
from arrange.score.nodes import Node
from arrange.score.own import PREFIX
from arrange.score.reading.leap_words import leap_words
from arrange.score.reading.tempo_signs import is_tempo_words, metronome_text
from arrange.units import Quarters

_STRUCTURE = frozenset({"metronome", "segno", "coda"})
_NAMES = {
    "wedge": "hairpin",
    "pedal": "pedal sign",
    "octave-shift": "octave line",
    "metronome": "metronome mark",
    "segno": "segno sign",
    "coda": "coda sign",
    "rehearsal": "rehearsal mark",
    "dynamics": "dynamic",
    "harp-pedals": "harp pedals",
    "damp": "damping sign",
    "damp-all": "sign to damp all",
    "other-direction": "sign",
    "dashes": "dashed line",
    "scordatura": "tuning table",
}
_VERBS = {
    "crescendo": "crescendo begins",
    "diminuendo": "diminuendo begins",
    "stop": "ends",
    "start": "begins",
    "continue": "goes on",
}
_SOUND_STRUCTURE = {
    "tempo": "playback tempo",
    "dacapo": "da capo in playback",
    "dalsegno": "dal segno in playback",
    "tocoda": "to coda in playback",
    "fine": "fine in playback",
    "segno": "segno in playback",
    "coda": "coda in playback",
    "forward-repeat": "repeat start in playback",
}


def items_of(cell: Cell, interval: Interval, *, is_moved: bool) -> list[Item]:
    """All that stands in a measure beside its notes.

    Args:
        cell: the measure.
        interval: the transposition that keys and chord symbols follow.
        is_moved: leave out what cannot be compared where a part was transposed: the signs of
            figures, and the words that chord symbols show.
    """
    found = [event.moved(interval) for event in cell.events]
    for offset, node in cell.placed:
        reader = _READERS.get(node.tag)
        if node.tag == "harmony":
            found.append(_harmony(node, offset, interval, is_moved=is_moved))
        elif node.tag == "figured-bass":
            found.append(_figures(node, offset, is_moved=is_moved))
        elif node.tag == "barline":
            found += _barline(node, cell.measure.length)
        elif reader is not None:
            found += reader(node, offset)
        elif node.tag != "note":
            found.append(_other(node, offset))
    return [*found, *_measure_attributes(cell.node)]


def _direction(node: Node, offset: Quarters) -> Iterator[Item]:
    staff_text = node.child_text("staff", "1")
    staff = int(staff_text) if staff_text.isdecimal() else 1
    for kind in node.find_all("direction-type"):
        if kind.children:
            item = _sign(kind.children, offset)
            if _is_own(node, kind):
                item = replace(item, aspect=Aspect.MARKS, kind="lever mark")
            frame = Node(node.tag, node.attrs, ())
            look = tuple(sorted((*item.look, *look_of(frame))))
            yield replace(item, staff=staff, look=look, page=page_of(*kind.children))
    sound = node.find("sound")
    if sound is not None:
        yield from _sound(sound, offset)


def _is_own(direction: Node, kind: Node) -> bool:
    """Whether this toolkit wrote it."""
    marked = (direction, kind, *kind.children)
    return any(node.attrs.get("id", "").startswith(PREFIX) for node in marked)


def _sign(children: Sequence[Node], offset: Quarters) -> Item:
    first = children[0]
    look = look_of(*children)
    if first.tag in ("words", "symbol"):
        text = on_one_line(" ".join(child.text for child in children))
        if not text:
            return Item(Aspect.LAYOUT, "words without text", "", offset, 0, look)
        if leap_words(text) is not None:
            return Item(Aspect.STRUCTURE, "words about the order of play", text, offset, 0, look)
        if is_tempo_words(text):
            return Item(Aspect.STRUCTURE, "tempo words", text, offset, 0, look)
        return Item(Aspect.MARKS, "words", text, offset, 0, look)
    aspect = Aspect.STRUCTURE if first.tag in _STRUCTURE else Aspect.MARKS
    text = " ".join(filter(None, map(_sign_text, children)))
    return Item(aspect, _NAMES.get(first.tag, called(first.tag)), text, offset, 0, look)


def _sign_text(sign: Node) -> str:
    if sign.tag == "metronome":
        return metronome_text(sign) or said(sign)
    if sign.tag == "dynamics":
        return " ".join(
            on_one_line(c.text) if c.tag == "other-dynamics" else c.tag for c in sign.children
        )
    if sign.tag == "octave-shift":
        kind = sign.attrs.get("type", "")
        size = sign.attrs.get("size", "8")
        return f"{_SHIFTS.get(kind, _VERBS.get(kind, kind))} ({size})"
    if sign.tag == "harp-pedals":
        return " ".join(map(_pedal, sign.find_all("pedal-tuning")))
    if sign.tag == "other-direction" and not sign.text.strip():
        return sign.attrs.get("smufl", "")
    words = said(sign)
    return _VERBS.get(words, words)


_SHIFTS = {"up": "read an octave lower begins", "down": "read an octave higher begins"}


def _pedal(tuning: Node) -> str:
    alter = tuning.child_text("pedal-alter", "0")
    signs = {"0": "", "1": "#", "-1": "b"}
    return tuning.child_text("pedal-step") + signs.get(alter, f"({alter})")


def _sound(node: Node, offset: Quarters) -> Iterator[Item]:
    for name, value in sorted(node.attrs.items()):
        kind = _SOUND_STRUCTURE.get(name)
        if kind is not None:
            yield Item(Aspect.STRUCTURE, kind, plain_number(value), offset)
        elif name not in ("id", "time-only"):
            yield Item(Aspect.MARKS, f"playback of {called(name)}", plain_number(value), offset)
    for child in node.children:
        if child.tag not in ("offset", "footnote", "level"):
            yield Item(Aspect.MARKS, f"playback: {called(child.tag)}", said(child), offset)


def _attributes(node: Node, offset: Quarters) -> Iterator[Item]:
    return signatures.others(node, offset)


def _harmony(node: Node, offset: Quarters, interval: Interval, *, is_moved: bool) -> Item:
    pieces = []
    for child in node.children:
        if child.tag == "root":
            pieces.append(_name(child, "root", interval))
        elif child.tag == "bass":
            pieces.append("/" + _name(child, "bass", interval))
        elif child.tag == "kind":
            pieces.append(f" {on_one_line(child.text)}")
        elif child.tag == "degree":
            pieces.append(f" {_degree(child)}")
        elif child.tag not in ("offset", "staff", "frame", "footnote", "level") and not (
            is_moved and child.tag == "numeral"
        ):
            pieces.append(f" {called(child.tag)} {said(child)}")
    frame = node.find("frame")
    if frame is not None and not is_moved:
        pieces.append(f" diagram {said(frame)}")
    spared = frozenset({"text"}) if is_moved else frozenset[str]()
    look = look_of(*(c for c in node.children if c.tag != "frame"), spared=spared)
    text = " ".join("".join(pieces).split())
    staff = node.child_text("staff", "1")
    return Item(
        Aspect.MARKS,
        "chord symbol",
        text,
        offset,
        int(staff) if staff.isdecimal() else 1,
        tuple(sorted((*look, *look_of(Node(node.tag, node.attrs, ()))))),
        page_of(node),
    )


def _name(node: Node, tag: str, interval: Interval) -> str:
    step, alter = node.child_text(f"{tag}-step"), node.child_text(f"{tag}-alter", "0")
    if len(step) == 1 and step in LETTERS and alter.lstrip("+-").isdecimal():
        return interval.move(Pitch(step, int(alter), 4)).name
    return f"{step}{alter}"


def _degree(node: Node) -> str:
    value, alter = node.child_text("degree-value"), node.child_text("degree-alter", "0")
    sign = {"0": "", "1": "#", "-1": "b"}.get(alter, f"({alter})")
    return f"{node.child_text('degree-type')} {sign}{value}"


def _figures(node: Node, offset: Quarters, *, is_moved: bool) -> Item:
    pieces = []
    for figure in node.find_all("figure"):
        parts = [
            on_one_line(child.text) or called(child.tag)
            for child in figure.children
            if not (is_moved and child.tag in ("prefix", "suffix"))
        ]
        pieces.append(" ".join(parts))
    return Item(
        Aspect.MARKS,
        "figured bass",
        ", ".join(pieces),
        offset,
        0,
        look_of(node),
        page_of(node),
    )


def _barline(node: Node, length: Quarters) -> Iterator[Item]:
    location = node.attrs.get("location", "right")
    offset = Quarters(0) if location == "left" else length
    style = node.child_text("bar-style")
    repeat = node.find("repeat")
    if repeat is not None:
        yield _repeat(repeat, offset, style, location)
    elif style and style != "regular":
        name = {"light-light": "double bar", "light-heavy": "final bar"}.get(style, style)
        yield Item(Aspect.STRUCTURE, "barline", name, offset, 0, (("location", location),))
    for child in node.children:
        if child.tag == "ending":
            number = child.attrs.get("number", "")
            kind = {"start": "begins", "stop": "ends", "discontinue": "ends open"}
            text = f"{number} {kind.get(child.attrs.get('type', ''), '')}".strip()
            look = look_of(child)
            shown = on_one_line(child.text)
            if shown and shown.rstrip(".") != number:
                look = (*look, ("shown as", shown))
            yield Item(Aspect.STRUCTURE, "ending", text, offset, 0, look, page_of(child))
        elif child.tag in ("segno", "coda", "fermata", "wavy-line"):
            name = {"segno": "segno sign", "coda": "coda sign"}.get(child.tag, called(child.tag))
            yield Item(Aspect.STRUCTURE, name, "at the barline", offset, 0, look_of(child))


def _repeat(repeat: Node, offset: Quarters, style: str, location: str) -> Item:
    forward = repeat.attrs.get("direction") == "forward"
    times = repeat.attrs.get("times", "")
    after_jump = " (also after a jump)" if repeat.attrs.get("after-jump") == "yes" else ""
    text = ("begins" if forward else "ends") + (f", {times} times" if times else "") + after_jump
    look = (*look_of(repeat), ("location", location), ("style", style))
    return Item(Aspect.STRUCTURE, "repeat", text, offset, 0, look)


def _print(node: Node, offset: Quarters) -> Iterator[Item]:
    if node.attrs.get("new-page") == "yes":
        yield Item(Aspect.LAYOUT, "page break", "", offset)
    elif node.attrs.get("new-system") == "yes":
        yield Item(Aspect.LAYOUT, "system break", "", offset)
    for child in node.children:
        yield Item(Aspect.LAYOUT, called(child.tag), said(child), offset)


def _other(node: Node, offset: Quarters) -> Item:
    return Item(Aspect.LAYOUT, called(node.tag), said(node), offset, 0, look_of(node))


def _measure_attributes(node: Node) -> Iterator[Item]:
    attrs = node.attrs
    if node.tag == "part" and node.parent is not None:
        attrs = node.parent.attrs
    for name in ("implicit", "non-controlling"):
        if attrs.get(name) == "yes":
            yield Item(Aspect.LAYOUT, f"{called(name)} measure", "", Quarters(0))


_READERS: dict[str, Callable[[Node, Quarters], Iterator[Item]]] = {
    "direction": _direction,
    "sound": _sound,
    "attributes": _attributes,
    "print": _print,
}
