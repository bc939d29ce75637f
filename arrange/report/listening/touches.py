"""How each note is plucked, as far as it sounds different: damped, near the board, at the node."""

import re
from bisect import bisect_right
from enum import StrEnum

from arrange.score.model import MarkKind, Note, Score, Sign
from arrange.units import Quarters

OCTAVE = 12
"""A harmonic sounds an octave above its string, which is stopped in the middle."""
_TABLE = re.compile(
    r"\bp\W*d\W*l\W*t\b|\bpr[eè]s de la table|\bnear the sound ?-?board|\bpresso la tavola",
    re.IGNORECASE,
)
_ORDINARY = re.compile(
    r"^\W*(?:ord(?:inari?o|inary|inaire)?|nat(?:urale?|urel(?:le)?)?|pos\w*\W*nat\w*)\b",
    re.IGNORECASE,
)


class Touch(StrEnum):
    """How a string is plucked."""

    PLAIN = ""
    HARMONIC = "harmonic"
    TABLE = "table"
    DAMPED = "damped"
    SWEPT = "swept"


class Touches:
    """How the notes of a score are plucked.

    *Près de la table* holds on its own staff until the words for the usual place (common
    practice).
    """

    def __init__(self, score: Score) -> None:
        self._turns: dict[tuple[str, int], list[tuple[tuple[int, Quarters], bool]]] = {}
        for name in score.harp_parts:
            for measure in score.by_part[name].measures:
                for mark in measure.marks:
                    if mark.kind is not MarkKind.WORDS:
                        continue
                    is_table = bool(_TABLE.search(mark.text))
                    if is_table or _ORDINARY.search(mark.text):
                        turns = self._turns.setdefault((name, mark.staff), [])
                        turns.append(((measure.index, mark.offset), is_table))
        for turns in self._turns.values():
            turns.sort()

    def of(self, note: Note, index: int, offset: Quarters, *, is_damped: bool) -> Touch:
        """How *note* is plucked where it is played at *offset* of the measure *index*."""
        if note.notations and note.has(Sign.HARMONIC):
            return Touch.HARMONIC
        if is_damped:
            return Touch.DAMPED
        turns = self._turns.get((note.id.part, note.staff))
        if not turns:
            return Touch.PLAIN
        before = bisect_right(turns, ((index, offset), True)) - 1
        return Touch.TABLE if before >= 0 and turns[before][1] else Touch.PLAIN
