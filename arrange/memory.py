"""How often unreachable objects are looked for while a score is at work."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager

BETWEEN_LOOKS = 1_000_000
"""New objects between two looks. A score is a tree that stays until the end: looking through it
again and again finds nothing and costs a quarter of the time (measured)."""


@contextmanager
def rare_collections() -> Iterator[None]:
    """Look for unreachable objects rarely; afterwards as often as before."""
    usual = gc.get_threshold()
    gc.set_threshold(max(usual[0], BETWEEN_LOOKS) if usual[0] else 0, *usual[1:])
    try:
        yield
    finally:
        gc.set_threshold(*usual)
