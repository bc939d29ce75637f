"""Key signatures of a part that moves."""

from arrange.apply.inherited import ALL_STAVES, staff_number
from arrange.apply.moving import Mover
from arrange.apply.printed import PrintedMeasure
from arrange.apply.signatures import (
    FIFTHS_ORDER,
    SIGN_OF,
    Alters,
    alter_text,
    key_alters,
    wrapped,
)
from arrange.pitch import LETTERS
from arrange.score.document import Document, Node, element, place_in_order


def move_key(mover: Mover, key: Node) -> str:
    """Move a key signature; the sentence that comes back says what could not follow, or ""."""
    fifths = key.find("fifths")
    if fifths is None:
        _move_steps(mover, key)
        return ""
    document, far = mover.document, mover.interval.fifths
    if not _is_whole(fifths):
        return f"the key signature {fifths.text.strip()!r} is no number and stays as it is"
    if far == 0:
        return ""
    asked = int(fifths.text) + far
    document.set_text(fifths, str(wrapped(asked)))
    cancel = key.find("cancel")
    if cancel is not None and _is_whole(cancel):
        document.set_text(cancel, str(wrapped(int(cancel.text) + far)))
    for octave in key.find_all("key-octave"):
        document.remove(octave)
    if wrapped(asked) == asked:
        return ""
    kind = "sharps" if asked > 0 else "flats"
    return (
        f"the key would have {abs(asked)} {kind}; its signature is written with "
        f"{_count(wrapped(asked))} and the notes keep their names"
    )


def _count(fifths: int) -> str:
    return f"{abs(fifths)} {'sharps' if fifths > 0 else 'flats'}"


def _is_whole(node: Node) -> bool:
    return node.text.strip().lstrip("+-").isdecimal()


def _move_steps(mover: Mover, key: Node) -> None:
    """Move a signature that is given letter by letter: its whole scale moves."""
    alters = key_alters(key)
    if alters is None or (not any(mover.offsets) and mover.steps % 7 == 0):
        return
    moved = mover.signature(alters)
    listed = [LETTERS.find(node.text.strip()) for node in key.find_all("key-step")]
    goals = [(place + mover.steps) % 7 for place in listed if place >= 0]
    goals += [place for place in FIFTHS_ORDER if place not in goals]
    wanted = [place for place in goals if moved[place]]
    has_signs = key.find("key-accidental") is not None
    for node in list(key.children):
        if node.tag in ("key-step", "key-alter", "key-accidental", "key-octave"):
            mover.document.remove(node)
    _write_steps(mover.document, key, moved, wanted, has_signs=has_signs)


def _write_steps(
    document: Document, key: Node, alters: Alters, wanted: list[int], *, has_signs: bool
) -> None:
    for place in wanted or [FIFTHS_ORDER[0]]:
        parts = [
            element("key-step", LETTERS[place]),
            element("key-alter", alter_text(alters[place])),
        ]
        if has_signs and alters[place] in SIGN_OF:
            parts.append(element("key-accidental", SIGN_OF[alters[place]]))
        for node in parts:
            document.insert(key, node)


def give_first_key(mover: Mover, first: PrintedMeasure) -> None:
    """Write the key that a part without a signature at its start now has."""
    fifths = wrapped(mover.interval.fifths)
    if fifths == 0:
        return
    present = {staff for place, staff, _ in first.key_changes if place == 0}
    if ALL_STAVES in present:
        return
    attributes = _first_attributes(mover.document, first.node)
    staves = attributes.child_text("staves", "1")
    count = int(staves) if staves.isdecimal() else 1
    if not present:
        key = element("key", "", element("fifths", str(fifths)))
        place_in_order(mover.document, attributes, key)
        return
    for staff in range(1, count + 1):
        if staff not in present:
            _insert_by_staff(mover.document, attributes, fifths, staff)


def _insert_by_staff(document: Document, attributes: Node, fifths: int, staff: int) -> None:
    key = element("key", "", element("fifths", str(fifths)), number=str(staff))
    for other in attributes.find_all("key"):
        if staff_number(other) > staff:
            document.insert(attributes, key, before=other)
            return
    place_in_order(document, attributes, key)


def _first_attributes(document: Document, measure: Node) -> Node:
    """The attributes that open a measure; new ones where it has none."""
    for child in measure.children:
        if child.tag == "attributes":
            return child
        if child.tag in ("note", "backup", "forward"):
            break
    attributes = element("attributes")
    before = next((node for node in measure.children if node.tag != "print"), None)
    document.insert(measure, attributes, before=before)
    return attributes
