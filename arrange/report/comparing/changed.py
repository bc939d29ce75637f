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
    """What differs, in the order of *before* and then by field; both have the same keys."""
    unequal = [key for key, fields in before.items() if fields != after[key]]
    if not unequal:
        return []
    order = {key: i for i, key in enumerate(unequal)}
    found = _asked({k: before[k] for k in unequal}, {k: after[k] for k in unequal})
    return sorted(found, key=lambda change: (order[change.key], change.field))


def _asked(before: Content, after: Content) -> Iterator[Changed]:
    from deepdiff import DeepDiff  # noqa: PLC0415 - slow to load, and only unequal measures need it

    tree: Mapping[str, Any] = DeepDiff(before, after, view="tree", threshold_to_diff_deeper=0)
    for report, levels in tree.items():
        for level in levels:
            key, field = level.path(output_format="list")
            gone = "" if report == "dictionary_item_added" else level.t1
            new = "" if report == "dictionary_item_removed" else level.t2
            yield Changed(key, field, gone, new)
