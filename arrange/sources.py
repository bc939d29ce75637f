"""Where a number about harps or hands comes from."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Source:
    """A place that a number or a custom is taken from.

    Attributes:
        text: the publication, or one of the honest words ``common practice``,
            ``from memory``, ``house judgement``, ``computed``.
        detail: what it says, where that needs saying.
    """

    text: str
    detail: str = ""


COMMON_PRACTICE = Source("common practice")
FROM_MEMORY = Source("from memory")
HOUSE_JUDGEMENT = Source("house judgement")
COMPUTED = Source("computed")
