"""Lists and counts in a sentence, as one writes them."""

from collections.abc import Iterable


def listed(words: Iterable[str], last: str = "and") -> str:
    """``a``, ``a and b``, ``a, b and c``; empty where there are none."""
    *before, end = [*words] or [""]
    return f"{', '.join(before)} {last} {end}" if before else end


def counted(number: int, one: str, many: str = "") -> str:
    """``1 note``, ``3 notes``; *many* where the plural has no s."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def capital(text: str) -> str:
    """With a capital at the start."""
    return text[:1].upper() + text[1:]
