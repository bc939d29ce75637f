"""Performed time: from a printed place on a pass to quarters and to seconds, exactly."""

from bisect import bisect_right
from fractions import Fraction
from functools import cache

from referee.faults import Fault, said
from referee.sheet import Sheet
from referee.summary import Summary

MINUTE = Fraction(60)


class Clock:
    """Where each performed measure begins, and how time runs inside it."""

    def __init__(self, sheet: Sheet, summary: Summary) -> None:
        self.performed = summary.performed
        marks = sorted((index, offset, tempo) for index, offset, tempo in summary.tempo)
        self.marks = [(index, offset) for index, offset, _ in marks]
        self.tempi = [tempo for _, _, tempo in marks]
        self.quarters = [sheet.quarters(index) for index in range(sheet.length)]
        self.within = cache(self._within)
        self.start_q, self.start_s = [Fraction(0)], [Fraction(0)]
        for index in self.performed:
            length = self.quarters[index]
            self.start_q.append(self.start_q[-1] + length)
            self.start_s.append(self.start_s[-1] + self.within(index, length))

    def tempo_at(self, index: int, offset: Fraction) -> Fraction:
        """Quarters a minute in force at a printed place."""
        return self.tempi[max(bisect_right(self.marks, (index, offset)) - 1, 0)]

    def _within(self, index: int, offset: Fraction) -> Fraction:
        """Seconds from the start of the measure."""
        total, here = Fraction(0), Fraction(0)
        first = bisect_right(self.marks, (index, Fraction(0)))
        for at in range(first, len(self.marks)):
            measure, place = self.marks[at]
            if measure != index or place >= offset:
                break
            total += (place - here) * MINUTE / self.tempo_at(index, here)
            here = place
        return total + (offset - here) * MINUTE / self.tempo_at(index, here)

    def seconds(self, step: int, offset: Fraction) -> Fraction:
        """Performed time of a place in the measure that is played at *step*."""
        return self.start_s[step] + self.within(self.performed[step], offset)

    def place(self, step: int, offset: Fraction) -> Fraction:
        """Performed quarters of a place."""
        return self.start_q[step] + offset

    def until(self, step: int, index: int, offset: Fraction) -> tuple[int, Fraction]:
        """Where what begins at *step* and is to last to a printed place ends: step and offset.

        Where the order of play jumps before that, it ends with the last measure before the jump.
        """
        while self.performed[step] != index:
            here = self.performed[step]
            if self.performed[step + 1 : step + 2] != (here + 1,):
                return step, self.quarters[here]
            step += 1
        return step, offset

    def passes(self) -> list[int]:
        """For each step, which pass of its measure it is, from 1."""
        seen: dict[int, int] = {}
        turns = []
        for index in self.performed:
            seen[index] = seen.get(index, 0) + 1
            turns.append(seen[index])
        return turns


def tempo_marks(
    source: Sheet,
) -> tuple[dict[tuple[int, Fraction], set[Fraction]], set[tuple[int, Fraction]]]:
    """What tempi each place of the source says, and every place where words may say one."""
    said_by: dict[tuple[int, Fraction], set[Fraction]] = {}
    worded = {(0, Fraction(0))}
    for measures in source.parts.values():
        for measure in measures:
            for offset, tempo in measure.tempi:
                said_by.setdefault((measure.index, offset), set()).add(tempo)
            words = ("words", "metronome", "rehearsal")
            worded |= {(s.index, s.offset) for s in measure.signs if s.kind in words}
    return said_by, worded


def tempo_faults(source: Sheet, summary: Summary, *, tempo_given: bool) -> list[Fault]:
    """Whether the tempo entries say what the source says.

    *tempo_given*: a tempo was asked for, so that the source's marks do not count.
    """
    if not summary.tempo or any(tempo <= 0 for _, _, tempo in summary.tempo):
        return [Fault("tempo", "summary", "there is no tempo, or one that does not move")]
    if tempo_given:
        return []
    said_by, worded = tempo_marks(source)
    entries = {(index, offset): tempo for index, offset, tempo in summary.tempo}
    faults = []
    for (index, offset), tempi in sorted(said_by.items()):
        before = [e for e in sorted(entries) if e <= (index, offset)]
        if not before or entries[before[-1]] not in tempi:
            sentence = f"the source says {', '.join(map(str, sorted(tempi)))} quarters a minute"
            faults.append(Fault("tempo", said("score", index, offset), sentence))
    for index, offset in sorted(set(entries) - set(said_by) - worded):
        place = said("score", index, offset)
        faults.append(Fault("tempo", place, "a tempo entry where the source has no mark"))
    return faults
