"""Fingers come to notes, and brackets over notes that are played from one placing."""

from arrange.apply.lowering.marks import put_direction
from arrange.apply.lowering.sheet import RefusedError, Sheet
from arrange.apply.lowering.trees import notations_of
from arrange.edits import AddBracket, AddFingering
from arrange.score.document import element

NUMBERS = range(1, 7)
"""Numbers that pair the ends of lines in every version of MusicXML (to 6 before 4.0)."""


def add_fingering(sheet: Sheet, edit: AddFingering) -> None:
    """Put a finger on a note, beside its other technical signs."""
    note = sheet.note(edit.note)
    notations = notations_of(sheet.document, note)
    technical = notations.find("technical")
    finger = element("fingering", edit.after.text, placement="above" if edit.above else "below")
    if technical is None:
        sheet.document.insert(notations, element("technical", "", finger))
    else:
        sheet.document.insert(technical, finger)


def add_bracket(sheet: Sheet, edit: AddBracket) -> None:
    """Put one end of a bracket where its staff has a note at that place."""
    if edit.end not in {"start", "stop"} or edit.number not in NUMBERS:
        raise RefusedError(f"{edit.after.text!r} number {edit.number} is no end of a bracket")
    bracket = element(
        "bracket",
        type=edit.end,
        number=str(edit.number),
        line_end="down" if edit.above else "up",
        line_type="solid",
    )
    start = f"{edit.own.removesuffix('.stop')}.start" if edit.end == "stop" else ""
    put_direction(sheet, edit, bracket, behind=start)
