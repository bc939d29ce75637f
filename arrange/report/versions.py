"""Several versions of a piece side by side: what each asks, in one line."""

from collections.abc import Sequence
from dataclasses import dataclass

from arrange.pipeline import Conversion
from arrange.study.difficulty import MoveAsked, difficulty
from arrange.study.keysignature import key_name

_HEAD = ("harp", "book", "key", "notes", "moves", "open", "difficulty")


@dataclass(frozen=True, slots=True)
class Version:
    """One version of a piece.

    Attributes:
        key: at the start of the result.
        notes: that are struck, those left to the editor aside; *moves*: of levers;
            *open_points*: left to the editor.
        difficulty: the level whose player it asks for; no finer than an order.
    """

    harp: str
    book: str
    key: str
    notes: int
    moves: int
    open_points: int
    difficulty: str

    @classmethod
    def of(cls, conversion: Conversion) -> "Version":
        """What a conversion came to."""
        score, settings = conversion.score, conversion.settings
        aside = frozenset(score.left_open)
        first = score.measure(score.harps[0][0].part, 0)
        levels = [
            difficulty(
                score, plan.staves, [MoveAsked(move.index, move.slack) for move in plan.moves]
            ).level
            for plan in conversion.plans
        ]
        return cls(
            harp=settings.harp.name,
            book=settings.book.name,
            key=key_name(first.fifths[0], first.mode),
            notes=sum(
                1
                for part in score.harp_parts
                for measure in score.by_part[part].measures
                for note in measure.notes
                if not note.is_cue and not note.tied_from and note.id not in aside
            ),
            moves=sum(len(plan.moves) for plan in conversion.plans),
            open_points=len(conversion.log.open_points) or len(score.left_open),
            difficulty=max(levels).word if levels else "",
        )


def versions_text(versions: Sequence[Version]) -> str:
    """The versions as a table, one a line."""
    rows = [
        _HEAD,
        *(
            (v.harp, v.book, v.key, str(v.notes), str(v.moves), str(v.open_points), v.difficulty)
            for v in versions
        ),
    ]
    widths = [max(len(row[i]) for row in rows) for i in range(len(_HEAD))]
    return "\n".join(
        "  ".join(
            cell.rjust(width) if 3 <= i <= 5 else cell.ljust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    )
