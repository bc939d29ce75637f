"""Exact units: musical time in quarters, clock time in whole microseconds."""

from fractions import Fraction

Quarters = Fraction
"""A length or place in quarter notes, exact."""

Microseconds = int
"""Clock time, in whole microseconds; what is compared is never a float."""

SECOND: Microseconds = 1_000_000


def microseconds(seconds: Fraction | str | int) -> Microseconds:
    """Return *seconds* as whole microseconds, rounded to the nearest (ties to even)."""
    return round(Fraction(seconds) * SECOND)


def seconds(time: Microseconds) -> Fraction:
    """Return *time* in seconds, exact."""
    return Fraction(time, SECOND)


def quarters_text(value: Quarters) -> str:
    """Return *value* the way that files show it: ``3/2``, ``4``."""
    return str(value)
