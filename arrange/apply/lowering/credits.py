"""Lines of the title block, and fields that say how a score was made."""

from arrange.apply.lowering.sheet import RefusedError, Sheet
from arrange.edits import SetCredit
from arrange.errors import BadInput
from arrange.score.document import Node, element, place_in_order
from arrange.score.own import line_id
from arrange.units import Quarters

CREDIT = "credit"
_STYLE = {"font-size": "9", "justify": "left", "halign": "left", "valign": "top"}
_LINE_TENTHS = 30
"""From one line of the title block to the next (house judgement)."""
_DEEP_TENTHS = 120
"""How far below the top margin our lines begin, clear of title and names (house judgement)."""


def set_credit(sheet: Sheet, edit: SetCredit) -> None:
    """Add a line of words on page 1, or set a miscellaneous field."""
    try:
        if edit.field == CREDIT:
            _add_line(sheet, edit.after.text)
        else:
            _set_field(sheet, edit.field, edit.after.text)
    except BadInput as error:
        raise RefusedError(error.message) from error


def _add_line(sheet: Sheet, text: str) -> None:
    root = sheet.document.root
    prefix = line_id(CREDIT, 0).removesuffix("0")
    line = sum(node.attrs.get("id", "").startswith(prefix) for node in root.find_all("credit"))
    words = element("credit-words", text, attributes={**_place(root, line), **_STYLE})
    credit = element("credit", "", words, page="1", id=line_id(CREDIT, line))
    place_in_order(sheet.document, root, credit)


def _place(root: Node, line: int) -> dict[str, str]:
    """Where the line stands, in tenths from the lower left corner, where the page is known."""
    defaults = root.find("defaults")
    layout = defaults.find("page-layout") if defaults is not None else None
    if layout is None:
        return {}
    margins = layout.find("page-margins")
    try:
        height = Quarters(layout.child_text("page-height"))
        left = margins.child_text("left-margin", "0") if margins is not None else "0"
        top = Quarters(margins.child_text("top-margin", "0") if margins is not None else 0)
    except ValueError:
        return {}
    down = round(height - top) - _DEEP_TENTHS - line * _LINE_TENTHS
    return {"default-x": left, "default-y": str(down)}


def _set_field(sheet: Sheet, name: str, value: str) -> None:
    document, root = sheet.document, sheet.document.root
    for tag in ("identification", "miscellaneous"):
        if root.find(tag) is None:
            place_in_order(document, root, element(tag))
        root = _child(root, tag)
    for field in root.find_all("miscellaneous-field"):
        if field.attrs.get("name") == name:
            document.set_text(field, value)
            return
    place_in_order(document, root, element("miscellaneous-field", value, name=name))


def _child(node: Node, tag: str) -> Node:
    child = node.find(tag)
    if child is None:
        raise RefusedError(f"the score has no {tag}")
    return child
