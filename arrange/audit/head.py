"""What stands around the music: titles, names, layout, the part list, and our own fields."""

from collections import Counter
from collections.abc import Iterator

from arrange.audit.ledger import Ledger
from arrange.audit.shapes import is_same
from arrange.audit.views import View
from arrange.audit.wording import called
from arrange.edits import SetCredit
from arrange.score.nodes import Node

_MUSIC = frozenset({"part", "measure"})
_CREDIT = "credit"


def head_differences(source: View, result: View, ledger: Ledger) -> Iterator[str]:
    """Yield a sentence for every difference around the music that has no entry."""
    if source.root.tag != result.root.tag or source.root.attrs != result.root.attrs:
        yield "the outermost element is another one"
    if _around(source) != _around(result):
        yield "what stands before or behind the score differs"
    fields = {c.field: c.after.text for c in ledger.credits if c.field != _CREDIT}
    yield from _field_differences(source.root, result.root, fields)
    lines = [c for c in ledger.credits if c.field == _CREDIT]
    before = [node for node in source.root.children if node.tag not in _MUSIC]
    after = _without_our_lines(source.root, result.root, lines)
    if fields:
        before = [node for node in before if node.tag != "identification"]
        after = [node for node in after if node.tag != "identification"]
    yield from _row_differences(before, after)
    if len(lines) != len(result.root.find_all(_CREDIT)) - len(source.root.find_all(_CREDIT)):
        yield "the title block has more or fewer lines than the entries say"


def _around(view: View) -> tuple[str, str]:
    return view.text[: view.root.start], view.text[view.root.end :]


def _row_differences(before: list[Node], after: list[Node]) -> Iterator[str]:
    for one, two in zip(before, after, strict=False):
        if not is_same(one, two):
            yield f"<{one.tag}> differs, and no entry says so"
            return
    if len(before) > len(after):
        yield f"<{before[len(after)].tag}> is gone, and no entry says so"
    elif len(after) > len(before):
        yield f"{called(after[len(before)])} is new, and no entry says so"


def _without_our_lines(source: Node, result: Node, lines: list[SetCredit]) -> list[Node]:
    """The result's head without the title lines that the log names."""
    expected = Counter(line.after.text for line in lines)
    spare = len(source.find_all(_CREDIT))
    kept = []
    for node in result.children:
        if node.tag == _CREDIT:
            words = node.child_text("credit-words")
            if spare > 0:
                spare -= 1
            elif expected[words] > 0:
                expected[words] -= 1
                continue
        if node.tag not in _MUSIC:
            kept.append(node)
    return kept


def _field_differences(source: Node, result: Node, fields: dict[str, str]) -> Iterator[str]:
    """Our fields in the identification; nothing else there may differ."""
    if not fields:
        return
    one, two = source.find("identification"), result.find("identification")
    if two is None:
        yield "the fields that the entries name are not there"
        return
    before = [] if one is None else [n for n in one.children if n.tag != "miscellaneous"]
    after = [n for n in two.children if n.tag != "miscellaneous"]
    yield from _row_differences(before, after)
    expected = {**_fields(one), **fields}
    there = _fields(two)
    for name in dict.fromkeys((*expected, *there)):
        if expected.get(name) != there.get(name):
            yield f"the field {name!r} is not what the source and the entries say"


def _fields(identification: Node | None) -> dict[str, str]:
    if identification is None:
        return {}
    return {
        field.attrs.get("name", ""): field.text
        for miscellaneous in identification.find_all("miscellaneous")
        for field in miscellaneous.children
    }
