"""What the summary of a whole folder shows of one piece."""

from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from arrange.study.difficulty import Level

Record = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Facts:
    """Figures of one result.

    Attributes:
        key_from, key_to: at the start; *interval*: between them, ``-m2``; *semitones*: as well.
        by_rule, by_fidelity: how many changes were carried out.
        suggested: how many go further than was allowed and wait for an editor.
        moves, open_points: how many; *moves_at*, *open_at*: in which measures, from 0.
        measures: of the score, as printed.
        difficulty: the level of the harp that asks most; empty where none plays.
    """

    key_from: str = ""
    key_to: str = ""
    interval: str = ""
    semitones: int = 0
    by_rule: dict[str, int] = field(default_factory=dict)
    by_fidelity: dict[str, int] = field(default_factory=dict)
    suggested: int = 0
    moves: int = 0
    open_points: int = 0
    measures: int = 0
    moves_at: tuple[int, ...] = ()
    open_at: tuple[int, ...] = ()
    difficulty: str = ""


def facts_of(record: Record, measures: int) -> Facts:
    """The figures in a summary of a score with so many measures."""
    key = record["key"]
    applied = [change for change in record["changes"] if change["outcome"] == "APPLIED"]
    suggested = sum(1 for change in record["changes"] if change["outcome"] == "SUGGESTED")
    moves, points = record["levers"]["moves"], record["open"]
    levels = [Level.called(harp["level"]) for harp in record["difficulty"]]
    return Facts(
        key_from=key["from"],
        key_to=key["to"],
        interval=key["transposition"]["interval"],
        semitones=key["transposition"]["semitones"],
        by_rule=_counted(change["rule"] for change in applied),
        by_fidelity=_counted(change["fidelity"] for change in applied),
        suggested=suggested,
        moves=len(moves),
        open_points=len(points),
        measures=measures,
        moves_at=tuple(sorted(move["index"] for move in moves)),
        open_at=tuple(sorted(point["index"] for point in points)),
        difficulty=max(levels).word if levels else "",
    )


def _counted(names: Any) -> dict[str, int]:
    return dict(sorted(Counter(names).items()))
