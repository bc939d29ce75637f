"""How hard a result is, as the summary file shows it."""

from collections.abc import Iterator

from arrange.pipeline import Conversion
from arrange.report.lever_records import Record
from arrange.score.model import Score, StaffHand
from arrange.study.difficulty import Difficulty, MeasureDifficulty, MoveAsked, difficulty
from arrange.units import microseconds

_SHOWN = 8
"""The hardest measures that are named."""


def difficulty_records(conversion: Conversion, levers: Record) -> Iterator[Record]:
    """Yield one record a harp; *levers* is the summary's record of the moves."""
    score = conversion.score
    for staves in score.harps:
        parts = {staff.part for staff in staves}
        moves = [
            MoveAsked(move["index"], microseconds(str(move["slack_s"])))
            for move in levers["moves"]
            if move["part"] in parts
        ]
        yield _record(score, staves, difficulty(score, staves, moves))


def _record(score: Score, staves: tuple[StaffHand, ...], found: Difficulty) -> Record:
    part = staves[0].part
    asking = [m for m in found.measures if m.reasons and m.level >= found.level]
    hardest = sorted(asking, key=_hardness, reverse=True)[:_SHOWN]
    return {
        "part": part,
        "level": found.level.word,
        "demands": found.rank[1],
        "hardest": [
            {
                "index": measure.index,
                "measure": score.measure(part, measure.index).number,
                "level": measure.level.word,
                "reasons": [reason.text for reason in measure.reasons],
            }
            for measure in hardest
        ],
    }


def _hardness(measure: MeasureDifficulty) -> tuple[int, int, int]:
    return (measure.level, sum(reason.level for reason in measure.reasons), -measure.index)
