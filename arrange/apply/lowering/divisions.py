"""How finely a measure counts: local divisions where a length cannot be written otherwise."""

from collections.abc import Iterable
from math import lcm

from arrange.apply.lowering.sheet import RefusedError, Sheet
from arrange.apply.lowering.trees import decimal, put_text
from arrange.score.document import Node, element
from arrange.units import Quarters

_COUNTED = ("note", "backup", "forward", "figured-bass")
_OFFSET = ("direction", "harmony", "sound")
_BEGINS = frozenset({*_COUNTED, *_OFFSET, "attributes"})


def make_expressible(sheet: Sheet, part: str, index: int, lengths: Iterable[Quarters]) -> int:
    """See to it that a measure can count the lengths; return its divisions.

    Where it cannot, it counts finer, and the next measure goes on as before.
    """
    divisions = sheet.printed(part, index).divisions
    needed = lcm(*(length.denominator for length in lengths), 1)
    if divisions % needed == 0:
        return divisions
    exact = _exact_lengths(sheet, part, index)
    needed = lcm(needed, *(length.denominator for length in exact.values()))
    factor = lcm(divisions, needed) // divisions
    _count_finer(sheet, part, index, factor)
    sheet.notices.append((part, index, "counts in smaller parts of a quarter, for its new notes"))
    return divisions * factor


def _exact_lengths(sheet: Sheet, part: str, index: int) -> dict[str, Quarters]:
    """How long each note and rest is meant to be, also where the file's count rounds."""
    measure = sheet.measure(part, index)
    rests = {rest.id.key: rest.duration for rest in measure.rests}
    return rests | {note.id.key: note.duration for note in measure.notes}


def length_text(length: Quarters, divisions: int) -> str:
    """A length as the measure counts it.

    Raises:
        RefusedError: the measure cannot count it.
    """
    counted = length * divisions
    if counted.denominator != 1:
        raise RefusedError(f"a length of {length} quarters cannot be counted here")
    return str(counted.numerator)


def _count_finer(sheet: Sheet, part: str, index: int, factor: int) -> None:
    measure = sheet.measure_node(part, index)
    sheet.touch(part, index)
    standing = sheet.printed(part, index).divisions
    running = standing
    exact = _exact_lengths(sheet, part, index)
    for child in measure.children:
        if child.tag == "attributes":
            running = _divisions_of(child) or running
        for count in _counts(child):
            meant = exact.get(child.key) if child.tag == "note" else None
            _scale(sheet, count, factor, meant=meant * running if meant is not None else None)
    if not _divisions_of(_leading_attributes(measure)):
        _set_divisions(sheet, measure, standing * factor)
    if index + 1 < sheet.count(part):
        sheet.touch(part, index + 1)
        following = sheet.measure_node(part, index + 1)
        if not _divisions_of(_leading_attributes(following)):
            _set_divisions(sheet, following, running)


def _counts(child: Node) -> list[Node]:
    """What an element of a measure counts in divisions, and the divisions themselves."""
    if child.tag in _COUNTED:
        return child.find_all("duration")
    if child.tag == "attributes":
        return child.find_all("divisions")
    if child.tag not in _OFFSET:
        return []
    own = child.find_all("offset")
    return own + [
        offset for sound in child.find_all("sound") for offset in sound.find_all("offset")
    ]


def _divisions_of(attributes: Node | None) -> int:
    """The divisions that it sets; 0 where it sets none."""
    text = attributes.child_text("divisions") if attributes is not None else ""
    return int(text) if text.isdecimal() else 0


def _scale(sheet: Sheet, node: Node, factor: int, *, meant: Quarters | None = None) -> None:
    """Count finer; a rounded length becomes what was *meant*, in the old count."""
    try:
        count = Quarters(node.text.strip())
        if meant is not None and abs(meant - count) < 1:
            count = meant
        sheet.document.set_text(node, decimal(count * factor))
    except ValueError as error:
        raise RefusedError(f"the measure counts {node.text!r}, which is no number") from error


def _leading_attributes(measure: Node) -> Node | None:
    """The attributes that stand before anything that sounds."""
    for child in measure.children:
        if child.tag == "attributes":
            return child
        if child.tag in _COUNTED:
            return None
    return None


def _set_divisions(sheet: Sheet, measure: Node, divisions: int) -> None:
    leading = _leading_attributes(measure)
    if leading is not None:
        put_text(sheet.document, leading, "divisions", str(divisions))
        return
    attributes = element("attributes", "", element("divisions", str(divisions)))
    attributes.key = "a+divisions"
    before = next((child for child in measure.children if child.tag in _BEGINS), None)
    sheet.document.insert(measure, attributes, before=before)
