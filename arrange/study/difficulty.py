"""How hard a piece is: measure by measure, what it asks of a player, and at which level.

Each demand is something that one can count: strokes a second, strings a hand spans, lever moves.
A measure stands at the level of its hardest demand, the piece at that of its hardest measures,
one in sixteen. What is left to the editor is not played, and asks nothing. Every count can only
fall when a note is taken out, when the piece is played slower, or when a lever move is spared; so
easier music never stands higher. The levels are an order and no more: nobody can say how much
harder one is than the next.
"""

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum

from arrange.pitch import Pitch
from arrange.score.model import HandName, Measure, Score, StaffHand
from arrange.score.plucks import Pluck, PluckKind, plucks, struck
from arrange.sources import FROM_MEMORY, HOUSE_JUDGEMENT, Source
from arrange.study.keysignature import SHARP_ORDER
from arrange.units import SECOND, Microseconds, Quarters

HARDEST_SHARE = 16
"""One measure in so many may be harder than the level says (house judgement)."""


class Level(IntEnum):
    """An order of levels; what is above *advanced* is beyond every rule book."""

    BEGINNER = 0
    LATE_BEGINNER = 1
    INTERMEDIATE = 2
    ADVANCED = 3
    BEYOND = 4

    @property
    def word(self) -> str:
        """As rule books are called: ``late-beginner``."""
        return self.name.lower().replace("_", "-")

    @classmethod
    def called(cls, word: str) -> "Level":
        """The level of a `word`."""
        return cls[word.upper().replace("-", "_")]


@dataclass(frozen=True, slots=True, eq=False)
class Demand:
    """Something that is asked of a player.

    Attributes:
        limits: the most for each level from beginner on; *source*: where they come from.
        text: how an amount is said, with ``{}`` for it.
    """

    limits: tuple[int, int, int, int]
    source: Source
    text: str

    def level(self, amount: int) -> Level:
        """The lowest level at which so much is asked."""
        return Level(sum(amount > limit for limit in self.limits))


NOTES = Demand((2, 3, 4, 4), HOUSE_JUDGEMENT, "{} notes at once in one hand")
SPAN = Demand((6, 8, 10, 11), HOUSE_JUDGEMENT, "a grip of {} strings")
PACE = Demand((2, 4, 6, 10), FROM_MEMORY, "{} strokes a second in one hand")
TRAVEL = Demand((8, 10, 15, 22), HOUSE_JUDGEMENT, "{} strings covered by one hand in a second")
BOTH = Demand((3, 5, 8, 12), HOUSE_JUDGEMENT, "{} strokes a second of both hands together")
MOVES = Demand((0, 1, 1, 2), HOUSE_JUDGEMENT, "lever moves in the measure: {}")
HURRY = Demand((0, 1, 2, 3), HOUSE_JUDGEMENT, "a lever move with {} to spare")
KEY = Demand((1, 2, 3, 7), FROM_MEMORY, "a key signature of {} signs")
ALTERED = Demand((1, 4, 9, 99), HOUSE_JUDGEMENT, "notes that leave the key: {}")
"""A letter is read, its string is played, and the lever stands already: what is hard is the move,
which is asked for by itself."""
RHYTHM = Demand((1, 2, 3, 4), HOUSE_JUDGEMENT, "a rhythm of {}")
COMPASS = Demand((0, 1, 2, 3), FROM_MEMORY, "notes as {}")

_SPARE = ("no lever", "1.5 s or more", "0.5 to 1.5 s", "less than 0.5 s")
_SPARED: tuple[Microseconds, ...] = (500_000, 1_500_000)
_RHYTHMS = ("beats", "half beats", "thirds or quarters of a beat", "both thirds and quarters",
            "other parts of a beat")  # fmt: skip
_RANGES = tuple(
    range(Pitch.parse(lowest).line, Pitch.parse(highest).line + 1)
    for lowest, highest in (("C3", "C6"), ("C3", "F6"), ("C2", "G6"))
)
_FAR = ("near as C3 to C6", "high as F6", "far as C2 or G6", "far as the ends of the harp")
"""Compasses by level, from memory: beginner, late beginner, intermediate."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """A string plucked.

    Attributes:
        time: performed; *index*: the printed measure.
        line: the string, as a diatonic place.
        offset: in beats from the start of the measure.
        is_altered: it leaves the key signature.
    """

    time: Microseconds
    index: int
    hand: HandName
    line: int
    offset: Quarters
    is_altered: bool = False


@dataclass(frozen=True, slots=True)
class MoveAsked:
    """A lever move: its printed measure, and the time that its hand has left."""

    index: int
    slack: Microseconds


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a measure stands at a level.

    Attributes:
        demand: what is asked, and how much of it.
        level: that it asks for; *text*: a sentence's part.
    """

    demand: Demand
    amount: int
    level: Level
    text: str


@dataclass(frozen=True, slots=True)
class MeasureDifficulty:
    """A measure: its level, and what asks for more than a beginner, the hardest first."""

    index: int
    level: Level
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class Difficulty:
    """A piece.

    Attributes:
        level: of the piece.
        rank: only for comparing versions: the level, then all demands of all measures.
    """

    level: Level
    rank: tuple[int, int]
    measures: tuple[MeasureDifficulty, ...]


def difficulty(
    score: Score, staves: tuple[StaffHand, ...], moves: Sequence[MoveAsked] = ()
) -> Difficulty:
    """Return how hard a score is on one harp, with the lever moves that it takes."""
    measures = score.by_part[staves[0].part].measures
    return judged(_strokes(score, staves), moves, [_signs(measure) for measure in measures])


def judged(
    strokes: Sequence[Stroke], moves: Sequence[MoveAsked], signs: Sequence[int]
) -> Difficulty:
    """Return how hard it is to play *strokes* and *moves* in measures with so many *signs*."""
    amounts: list[dict[Demand, int]] = [{KEY: count} for count in signs]
    for demand, index, amount in _demands(sorted(strokes, key=lambda s: s.time), moves):
        known = amounts[index]
        known[demand] = max(known.get(demand, 0), amount)
    measures = tuple(_measure(index, asked) for index, asked in enumerate(amounts))
    hardest = sorted((m.level for m in measures), reverse=True)
    level = hardest[(len(hardest) - 1) // HARDEST_SHARE] if hardest else Level.BEGINNER
    total = sum(reason.level for measure in measures for reason in measure.reasons)
    return Difficulty(level, (int(level), total), measures)


def _measure(index: int, asked: Mapping[Demand, int]) -> MeasureDifficulty:
    reasons = [
        Reason(demand, amount, demand.level(amount), demand.text.format(_said(demand, amount)))
        for demand, amount in asked.items()
        if demand.level(amount) > Level.BEGINNER
    ]
    reasons.sort(key=lambda reason: -reason.level)
    level = reasons[0].level if reasons else Level.BEGINNER
    return MeasureDifficulty(index, level, tuple(reasons))


def _said(demand: Demand, amount: int) -> str:
    words = {HURRY: _SPARE, RHYTHM: _RHYTHMS, COMPASS: _FAR}.get(demand)
    return str(amount) if words is None else words[amount]


def _demands(
    strokes: Sequence[Stroke], moves: Sequence[MoveAsked]
) -> Iterator[tuple[Demand, int, int]]:
    """Yield demand, measure, amount."""
    rows = {hand: [s for s in strokes if s.hand is hand] for hand in HandName}
    for row in rows.values():
        yield from _in_a_second(row)
    yield from _together(strokes, rows)
    counts: dict[tuple[int, Microseconds], int] = {}
    altered: dict[int, set[tuple[Quarters, int]]] = {}
    for stroke in strokes:
        yield COMPASS, stroke.index, _reach(stroke.line)
        if stroke.is_altered:
            altered.setdefault(stroke.index, set()).add((stroke.offset, stroke.line))
    for index, notes in altered.items():
        yield ALTERED, index, len(notes)
    yield from _rhythms(strokes)
    for move in moves:
        counts[move.index, 0] = counts.get((move.index, 0), 0) + 1
        yield HURRY, move.index, 3 - bisect_right(_SPARED, move.slack)
    for (index, _), count in counts.items():
        yield MOVES, index, count


def _in_a_second(row: Sequence[Stroke]) -> Iterator[tuple[Demand, int, int]]:
    """What one hand does at each moment, and in the second that begins there."""
    for i, first in enumerate(row):
        if i and row[i - 1].time == first.time:
            continue
        lines, moments = {first.line}, {first.time}
        grip = {first.line}
        for other in row[i + 1 :]:
            if other.time >= first.time + SECOND:
                break
            lines.add(other.line)
            moments.add(other.time)
            if other.time == first.time:
                grip.add(other.line)
        yield NOTES, first.index, len(grip)
        yield SPAN, first.index, max(grip) - min(grip) + 1
        yield PACE, first.index, len(moments)
        yield TRAVEL, first.index, max(lines) - min(lines) + 1


def _together(
    strokes: Sequence[Stroke], rows: Mapping[HandName, Sequence[Stroke]]
) -> Iterator[tuple[Demand, int, int]]:
    """Strokes of both hands in a second in which both play."""
    times = {hand: sorted({s.time for s in row}) for hand, row in rows.items()}
    where = {s.time: s.index for s in strokes}
    every = sorted(where)
    for i, time in enumerate(every):
        end = time + SECOND - 1
        counts = [bisect_right(row, end) - bisect_right(row, time - 1) for row in times.values()]
        if all(counts):
            yield BOTH, where[time], bisect_right(every, end) - i


def _reach(line: int) -> int:
    return next((i for i, lines in enumerate(_RANGES) if line in lines), len(_RANGES))


def _rhythms(strokes: Sequence[Stroke]) -> Iterator[tuple[Demand, int, int]]:
    parts: dict[int, set[int]] = {}
    for stroke in strokes:
        parts.setdefault(stroke.index, set()).add(stroke.offset.denominator)
    for index, found in parts.items():
        fine = {part for part in found if part > 2}
        if fine - {3, 4, 6}:
            yield RHYTHM, index, 4
        elif 4 in fine and fine & {3, 6}:
            yield RHYTHM, index, 3
        else:
            yield RHYTHM, index, 2 if fine else 1 if 2 in found else 0


def _strokes(score: Score, staves: tuple[StaffHand, ...]) -> list[Stroke]:
    """What is plucked, as it is played; grace notes, the tones of ornaments and what is left to
    the editor aside.
    """
    printed = plucks(score, staves)
    counted, aside = (PluckKind.PLAIN, PluckKind.REPEAT), frozenset(score.left_open)
    told = [
        _told(score, pluck) if pluck.kind in counted and aside.isdisjoint(pluck.tied) else None
        for pluck in printed
    ]
    found = []
    for strike in struck(score, staves):
        pluck, known = printed[strike.pluck], told[strike.pluck]
        if known is not None:
            beats, is_altered = known
            line = pluck.pitch.line
            found.append(Stroke(strike.time, pluck.index, pluck.hand, line, beats, is_altered))
    return found


def _told(score: Score, pluck: Pluck) -> tuple[Quarters, bool]:
    measure = score.measure(pluck.part, pluck.index)
    return pluck.offset / measure.meter.beat, leaves_key(measure, pluck)


def leaves_key(measure: Measure, pluck: Pluck) -> bool:
    """Whether a pluck of a measure leaves the key signature of its staff."""
    staff = min(pluck.staff, len(measure.fifths)) - 1
    fifths = measure.fifths[staff] if measure.fifths else 0
    order = SHARP_ORDER.index(pluck.pitch.step)
    return pluck.pitch.alter != (fifths - order + 6) // 7


def _signs(measure: Measure) -> int:
    return max((abs(fifths) for fifths in measure.fifths), default=0)
