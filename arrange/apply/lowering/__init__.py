"""Each musical edit carried out on the document."""

from typing import assert_never

from arrange.apply.lowering.credits import set_credit
from arrange.apply.lowering.fingers import add_bracket, add_fingering
from arrange.apply.lowering.lengths import set_duration
from arrange.apply.lowering.marks import add_roll, add_words, remove_mark, remove_notation
from arrange.apply.lowering.notes import remove_note, set_pitch
from arrange.apply.lowering.runs import write_run
from arrange.apply.lowering.sheet import GoneError, Recorder, RefusedError, Sheet
from arrange.apply.lowering.stretches import is_of
from arrange.edits import (
    AddBracket,
    AddFingering,
    AddRoll,
    AddWords,
    Edit,
    RemoveMark,
    RemoveNotation,
    RemoveNote,
    SetCredit,
    SetDuration,
    SetPitch,
    WriteRun,
)

__all__ = ["GoneError", "Recorder", "RefusedError", "Sheet", "carry_out", "is_of"]


def carry_out(sheet: Sheet, edit: Edit) -> None:  # noqa: C901 - one branch an edit
    """Carry an edit out on the sheet's document.

    Raises:
        RefusedError: the document cannot take it; it may be half changed, so roll it back.
    """
    match edit:
        case SetPitch():
            set_pitch(sheet, edit)
        case RemoveNote():
            remove_note(sheet, edit)
        case WriteRun():
            write_run(sheet, edit)
        case SetDuration():
            set_duration(sheet, edit)
        case AddWords():
            add_words(sheet, edit)
        case RemoveMark():
            remove_mark(sheet, edit)
        case RemoveNotation():
            remove_notation(sheet, edit)
        case AddRoll():
            add_roll(sheet, edit)
        case AddFingering():
            add_fingering(sheet, edit)
        case AddBracket():
            add_bracket(sheet, edit)
        case SetCredit():
            set_credit(sheet, edit)
        case _:  # pragma: no cover - the type checker holds the list complete
            assert_never(edit)
