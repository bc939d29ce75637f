"""How often unreachable objects are looked for while a score is at work."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager

BETWEEN_LOOKS = 1_000_000
"""New objects between two looks. A score is a tree that stays until the end: looking through it
again and again finds nothing and costs a quarter of the time (measured)."""


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
    try:
        yield
    finally:
        if gc.get_threshold() != usual:
            gc.set_threshold(*usual)
