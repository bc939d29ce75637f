"""Which fields differ between things that have been paired; the one place that asks deepdiff."""

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

Content = Mapping[str, Mapping[str, str]]
"""Fields by name, for each thing by its key."""


class Changed(NamedTuple):
    """A field that differs; "" where the side does not have it."""

    key: str
    field: str
    before: str
    after: str


def changed_fields(before: Content, after: Content) -> list[Changed]:
    """What differs, in the order of *before* and then by field; both have the same keys.

    Things that changed alike are asked about once.
    """
    alike: dict[tuple[_Sides, _Sides], list[str]] = {}
    order = {key: i for i, key in enumerate(before)}
    for key, fields in before.items():
        if fields != after[key]:
            sides = _unlike(fields, after[key]), _unlike(after[key], fields)
            alike.setdefault(sides, []).append(key)
    if not alike:
        return []
    firsts = {keys[0]: keys for keys in alike.values()}
    ones = {keys[0]: dict(one) for (one, _), keys in alike.items()}
    twos = {keys[0]: dict(two) for (_, two), keys in alike.items()}
    found = [
        change._replace(key=key) for change in _asked(ones, twos) for key in firsts[change.key]
    ]
    return sorted(found, key=lambda change: (order[change.key], change.field))


def changed_texts(before: Mapping[str, str], after: Mapping[str, str]) -> Iterator[Changed]:
    """What differs between two sets of plain fields, in their order."""
    for name in dict.fromkeys((*before, *after)):
        if before.get(name) != after.get(name):
            yield Changed("", name, before.get(name, ""), after.get(name, ""))


_Sides = tuple[tuple[str, str], ...]


def _unlike(fields: Mapping[str, str], others: Mapping[str, str]) -> _Sides:
    return tuple((name, text) for name, text in fields.items() if others.get(name) != text)


def _asked(before: Content, after: Content) -> Iterator[Changed]:
    from deepdiff import DeepDiff  # noqa: PLC0415 - slow to load, and only unequal measures need it

    tree: Mapping[str, Any] = DeepDiff(before, after, view="tree", threshold_to_diff_deeper=0)
    for report, levels in tree.items():
        for level in levels:
            key, field = level.path(output_format="list")
            gone = "" if report == "dictionary_item_added" else level.t1
            new = "" if report == "dictionary_item_removed" else level.t2
            yield Changed(key, field, gone, new)
