"""What is remembered of scores, and how often unreachable objects are looked for."""

import gc
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import lru_cache
from typing import Any, TypeVar

BETWEEN_LOOKS = 5_000_000
"""New objects between two looks within a piece of work. A score is a tree that stays until the
end: looking it through again and again finds nothing, and costs a tenth of the time (measured)."""
LEFT_OVER = 2_000_000
"""New objects after which pieces of work that are over are looked through. The largest rings of
objects that a conversion makes, its trees, it takes apart itself; so there is little to find."""

_Asked = TypeVar("_Asked", bound=Callable[..., Any])
_forgetting: list[Callable[[], object]] = []


def remembered(asked: _Asked) -> _Asked:
    """Remember the latest answers of a function about scores, until they are to be forgotten.

    The arguments must be hashable; scores are told apart by identity.
    """
    remembering = lru_cache(maxsize=4)(asked)
    _forgetting.append(remembering.cache_clear)
    return remembering  # type: ignore[return-value] # it is called the same way


def row_of_latest(most: int) -> deque[Any]:
    """A row that keeps its latest members, until they are to be forgotten."""
    row: deque[Any] = deque(maxlen=most)
    _forgetting.append(row.clear)
    return row


def forget() -> None:
    """Let all go that is remembered of scores: whole scores hang on it."""
    for clear in _forgetting:
        clear()


class _Looks:
    """Keeps count of the work at hand, and of what was never looked through."""

    __slots__ = ("depth", "left")

    def __init__(self) -> None:
        self.depth = 0
        self.left = 0

    def begin(self) -> None:
        self.depth += 1

    def end(self) -> None:
        """Take what is new for old, unlooked, so that the next look does not begin with it.

        Where much has come together, it is looked through instead.
        """
        self.depth -= 1
        if self.depth:
            return
        self.left += gc.get_count()[0]
        if self.left >= LEFT_OVER:
            self.left = 0
            gc.collect()
        elif not gc.get_freeze_count():  # what somebody else has frozen stays frozen
            gc.freeze()
            gc.unfreeze()


_looks = _Looks()


def collect_rarely() -> None:
    """Look for unreachable objects rarely from now on: for a program that soon ends."""
    usual = gc.get_threshold()
    if usual[0]:
        gc.set_threshold(max(usual[0], BETWEEN_LOOKS), *usual[1:])


@contextmanager
def rare_collections() -> Iterator[None]:
    """Look for unreachable objects rarely; afterwards as often as before."""
    usual = gc.get_threshold()
    collect_rarely()
    _looks.begin()
    try:
        yield
    finally:
        _looks.end()
        if gc.get_threshold() != usual:
            gc.set_threshold(*usual)
