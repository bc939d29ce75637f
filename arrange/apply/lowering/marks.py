"""Directions with words come in; directions, signs on notes and pedal sounds go."""

from collections.abc import Sequence

from arrange.apply.lowering.divisions import make_expressible
from arrange.apply.lowering.sheet import GoneError, RefusedError, Sheet, quarters
from arrange.apply.lowering.trees import copied, decimal, drop, notations_of
from arrange.apply.printed import PrintedMeasure, PrintedNote
from arrange.edits import AddBracket, AddRoll, AddWords, RemoveMark, RemoveNotation
from arrange.errors import BadInput
from arrange.score.document import Node, element, place_in_order
from arrange.score.own import is_hand, is_line
from arrange.units import Quarters

CUE_STYLE = {"font-style": "normal", "font-weight": "bold", "font-size": "9"}
"""How cues and marks at single notes look: small and bold, to be read at arm's length beside
the notes (house judgement)."""
HAND_STYLE = {"font-style": "italic", "font-weight": "normal", "font-size": "9"}
"""How "R.H." looks at a note that the hand takes: not to be taken for a part of a cue."""
LINE_STYLE = {"font-style": "normal", "font-weight": "normal", "font-size": "8"}
"""How lines at the top and the legend look: plain, below the title in rank."""

KEY_PREFIX = "d+"
_PEDAL_SOUNDS = ("damper-pedal", "soft-pedal", "sostenuto-pedal")
_BEGINS = frozenset({
    "note", "backup", "forward", "direction", "harmony", "figured-bass", "sound",
})  # fmt: skip


def add_words(sheet: Sheet, edit: AddWords) -> None:
    """Put words where their staff has a note at that place, else beside the nearest one."""
    style = HAND_STYLE if is_hand(edit.own) else CUE_STYLE
    style = LINE_STYLE if is_line(edit.own) else style
    try:
        words = element("words", edit.after.text, attributes=style)
    except BadInput as error:
        raise RefusedError(error.message) from error
    put_direction(sheet, edit, words)


def put_direction(
    sheet: Sheet, edit: AddWords | AddBracket, content: Node, *, behind: str = ""
) -> None:
    """Put a direction where its staff has a note at that place, else beside the nearest one.

    Args:
        sheet: the document.
        edit: says where, and which id the direction carries.
        content: what the direction shows.
        behind: the id of a direction of the same measure that it must follow in the file.
    """
    mark = edit.after
    if not 0 <= mark.offset <= sheet.measure(edit.part, mark.index).length:
        raise RefusedError(f"the measure has no place {mark.offset}")
    if not 1 <= mark.staff <= sheet.score.by_part[edit.part].staves:
        raise RefusedError(f"the part has no staff {mark.staff}")
    printed = sheet.printed(edit.part, mark.index)
    before, late = _anchor(printed, mark.staff, mark.offset, behind)
    if (late * printed.divisions).denominator != 1 and not _is_decimal(late * printed.divisions):
        make_expressible(sheet, edit.part, mark.index, [late])
        printed = sheet.printed(edit.part, mark.index)
        before, late = _anchor(
            printed, mark.staff, mark.offset, behind
        )  # the count is no longer rounded
    direction = _direction(edit, content)
    if late:
        shift = decimal(late * printed.divisions)
        place_in_order(sheet.document, direction, element("offset", shift))
    if mark.staff != 1 or sheet.score.by_part[edit.part].staves > 1:
        place_in_order(sheet.document, direction, element("staff", str(mark.staff)))
    sheet.document.insert(printed.node, direction, before=before)


def _direction(edit: AddWords | AddBracket, content: Node) -> Node:
    try:
        direction = element(
            "direction",
            "",
            element("direction-type", "", content),
            placement="above" if edit.above else "below",
            id=edit.own,
        )
    except BadInput as error:
        raise RefusedError(error.message) from error
    direction.key = KEY_PREFIX + edit.own
    return direction


def _anchor(
    measure: PrintedMeasure, staff: int, offset: Quarters, behind: str
) -> tuple[Node | None, Quarters]:
    """The element before which a direction stands, and by how much it then speaks later."""
    place = offset * measure.divisions
    allowed = _following(measure.node, behind) if behind else None
    own = [
        note
        for note in measure.notes
        if note.staff == staff and not note.is_chord and (allowed is None or note.node in allowed)
    ]
    here = [note for note in own if note.onset == place]
    chosen = next((note for note in here if not note.is_rest), here[0] if here else None)
    if chosen is not None:
        return chosen.node, Quarters(0)
    earlier = [note for note in own if note.onset < place]
    if earlier:
        last = max(earlier, key=_onset)
        return last.node, offset - quarters(last.onset, measure.divisions)
    first = next((c for c in measure.node.children if c.tag in _BEGINS), None)
    return first, offset


def _following(measure: Node, behind: str) -> Sequence[Node]:
    """What follows the direction with that id."""
    row = measure.children
    start = next((i for i, child in enumerate(row) if child.attrs.get("id") == behind), -1)
    return row[start + 1 :]


def _onset(note: PrintedNote) -> Quarters:
    return Quarters(note.onset)


def _is_decimal(value: Quarters) -> bool:
    rest = value.denominator
    for prime in (2, 5):
        while rest % prime == 0:
            rest //= prime
    return rest == 1


def remove_mark(sheet: Sheet, edit: RemoveMark) -> None:
    """Take away a direction, or one direction-type of it; what else it sounds stays."""
    node = sheet.mark(edit.mark)
    around = node.parent
    if around is None:
        raise GoneError(f"the mark {edit.mark} is gone")
    if next(node.iter("octave-shift"), None) is not None:
        sheet.touch(edit.mark.part, edit.mark.index, keeps_time=True)
    if node.tag == "direction-type" and len(around.find_all("direction-type")) > 1:
        sheet.document.remove(node)
        return
    _remove_direction(sheet, around if node.tag == "direction-type" else node)


def _remove_direction(sheet: Sheet, direction: Node) -> None:
    """A sound that says more than a pedal's stays, by itself."""
    around, sound = direction.parent, direction.find("sound")
    if around is None:
        raise RefusedError("the direction is gone")
    if sound is not None:
        attributes = {k: v for k, v in sound.attrs.items() if k not in _PEDAL_SOUNDS}
        if attributes or sound.children:
            kept = copied(sound)
            alone = element(
                "sound", "", *(copied(child) for child in kept.children), attributes=attributes
            )
            sheet.document.insert(around, alone, before=direction)
    sheet.document.remove(direction)


def remove_notation(sheet: Sheet, edit: RemoveNotation) -> None:
    """Take a sign off a note, and the containers that are then empty."""
    sign = sheet.signs(edit.note).get(edit.key)
    if sign is None or sign.parent is None:
        raise GoneError(f"the note {edit.note} carries no {edit.key}")
    if sign.parent.tag == "ornaments":
        _drop_accidentals(sheet, sign)
    drop(sheet.document, sign)


def _drop_accidentals(sheet: Sheet, ornament: Node) -> None:
    """The accidentals at an ornament go with it."""
    around = ornament.parent
    if around is None:
        return
    for sign in around.children[around.children.index(ornament) + 1 :]:
        if sign.tag != "accidental-mark":
            return
        sheet.document.remove(sign)


def add_roll(sheet: Sheet, edit: AddRoll) -> None:
    """Put a roll sign on each note of a chord."""
    for event in edit.notes:
        note = sheet.note(event)
        if any(notations.find("arpeggiate") for notations in note.find_all("notations")):
            raise RefusedError(f"the note {event} is rolled already")
        sheet.document.insert(notations_of(sheet.document, note), element("arpeggiate"))
