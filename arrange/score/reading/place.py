"""Where something is read, for messages, and the numbers that are read there."""

from dataclasses import dataclass
from fractions import Fraction

from arrange.errors import BadInput
from arrange.quick import quickly_made
from arrange.score.limits import USUAL, Limits
from arrange.score.model import Finding
from arrange.score.reading.inherited import Divisions
from arrange.score.reading.numbers import FINEST, MOST_SIGNS, plain_number, plain_whole


@quickly_made
@dataclass(frozen=True, slots=True)
class Place:
    """A measure, for messages, and the most that it may hold."""

    file: str
    part: str
    index: int
    measure: str
    limits: Limits = USUAL

    def bad(self, message: str) -> BadInput:
        """The error that names this place."""
        return BadInput(message, file=self.file, part=self.part, measure=self.measure)

    def finding(self, text: str) -> Finding:
        """The finding that names this place."""
        return Finding(text, self.part, self.index, self.measure)

    def whole(self, text: str, what: str) -> int:
        """Read a whole number, or say what is wrong with *what*."""
        try:
            return plain_whole(text)
        except ValueError:
            pass
        value = self.number(text, what)
        if value.denominator != 1:
            raise self.bad(f"{what} is {text.strip()!r}, not a whole number; correct it")
        return int(value)

    def number(self, text: str, what: str) -> Fraction:
        """Read a number, or say what is wrong with *what*."""
        try:
            return plain_number(text)
        except ValueError:
            shown = text.strip()[:MOST_SIGNS]
            raise self.bad(f"{what} is {shown!r}, not a number that can be; correct it") from None

    def divisions(self, text: str, what: str) -> Divisions:
        """Read a count of divisions: a whole number, seldom a decimal."""
        try:
            return plain_whole(text)
        except ValueError:
            value = self.number(text, what)
            if value.denominator > FINEST:
                raise self.bad(f"{what} has too many decimals; round it") from None
            return int(value) if value.denominator == 1 else value
