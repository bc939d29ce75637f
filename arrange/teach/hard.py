"""The hard places of a piece, hardest first, with what makes them hard and ways to practise.

Which measures are hard and why is counted in ``arrange.study.difficulty``; neighbours are one
place, and a place that comes again note for note is named once. The order is an order and no
more: nobody can say how much harder one place is than the next.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from arrange.phrasing import capital
from arrange.study.difficulty import BOTH, COMPASS, KEY, PACE, Level, MeasureDifficulty, Reason
from arrange.teach.gestures import Gesture
from arrange.teach.piece import Piece
from arrange.teach.practice import Practice, Way
from arrange.teach.words import span_text

LONGEST = 3
"""Most measures in one place: more is no place any more (house judgement)."""
FEWEST, MOST = 3, 8
"""So many places are named, by the length of the piece (house judgement)."""
SHARE = 4
"""One measure in so many is looked at (house judgement)."""
REASONS = 3
"""Most reasons that are named for one (house judgement)."""
WAYS = 2


@dataclass(frozen=True, slots=True)
class HardPlace:
    """A hard place.

    Attributes:
        indices: its measures; *where*: the same in words; *again*: where it comes again, or "".
        level: at which its hardest measure stands.
        why: what it asks for; *ways*: how to practise it, two of them.
    """

    indices: tuple[int, ...]
    where: str
    again: str
    level: Level
    why: str
    ways: tuple[Way, ...]


def hard_places(piece: Piece, gestures: Sequence[Gesture]) -> tuple[HardPlace, ...]:
    """Return the hard places of a piece, hardest first."""
    practice = Practice(piece, gestures)
    looks = _looks(piece)
    found: dict[tuple[object, ...], list[tuple[MeasureDifficulty, ...]]] = {}
    for place in sorted(_places(_hard(piece), looks), key=_rank):
        look = tuple(looks[m.index] for m in place)
        found.setdefault(look, []).append(place)
    told: list[HardPlace] = []
    for places in list(found.values())[: _most(piece)]:
        first = tuple(m.index for m in places[0])
        again = sorted({m.index for place in places[1:] for m in place} - set(first))
        told.append(
            HardPlace(
                first,
                span_text(piece.measures, first),
                span_text(piece.measures, again) if again else "",
                max(m.level for m in places[0]),
                _why(places[0]),
                tuple(practice.ways(first, _reasons(places[0])))[:WAYS],
            )
        )
    return tuple(told)


def _most(piece: Piece) -> int:
    """How many places are named: one in eight measures, three at least."""
    return min(MOST, max(FEWEST, len(piece.measures) // 8))


def _hard(piece: Piece) -> list[MeasureDifficulty]:
    """The measures at the level of the hardest ones, one in four, by what is their own.

    A key signature is the whole piece's, and makes no place hard.
    """
    found = []
    for measure in piece.difficulty.measures:
        reasons = tuple(r for r in measure.reasons if r.demand is not KEY)
        if reasons:
            found.append(MeasureDifficulty(measure.index, reasons[0].level, reasons))
    levels = sorted((m.level for m in found), reverse=True)
    least = levels[min((len(piece.measures) - 1) // SHARE, len(levels) - 1)] if levels else 0
    return [m for m in found if m.level >= least]


def _looks(piece: Piece) -> dict[int, tuple[object, ...]]:
    """What makes two measures the same to the hands."""
    rows: dict[int, list[tuple[object, ...]]] = {m.index: [] for m in piece.measures}
    for pluck in piece.printed:
        rows[pluck.index].append((pluck.offset, pluck.pitch.midi, pluck.hand, pluck.kind))
    for move in piece.told.moves:
        rows[move.index].append((move.offset, move.string, move.position))
    return {index: tuple(row) for index, row in rows.items()}


def _places(
    hard: Sequence[MeasureDifficulty], looks: dict[int, tuple[object, ...]]
) -> Iterator[tuple[MeasureDifficulty, ...]]:
    """Neighbours together, never the same measure twice in one place."""
    place: list[MeasureDifficulty] = []
    for measure in hard:
        is_next = bool(place) and place[-1].index == measure.index - 1
        is_new = looks[measure.index] not in [looks[m.index] for m in place]
        if place and not (is_next and is_new and len(place) < LONGEST):
            yield tuple(place)
            place = []
        place.append(measure)
    if place:
        yield tuple(place)


def _rank(place: Sequence[MeasureDifficulty]) -> tuple[int, int, int]:
    """Hardest first: by level, then by the hardest measure's demands, then as they come."""
    level = max(m.level for m in place)
    demands = max(sum(r.level for r in m.reasons) for m in place)
    return -level, -demands, place[0].index


def _reasons(place: Sequence[MeasureDifficulty]) -> list[Reason]:
    """What is asked, hardest first; how far the notes reach comes last.

    The pace of both hands together is told where it is more than that of one.
    """
    rows = sorted(
        ((i, r) for m in place for i, r in enumerate(m.reasons)),
        key=lambda row: (row[1].demand is COMPASS, -row[1].level, row[0], row[1].text),
    )
    found = dict.fromkeys(reason for _, reason in rows)
    pace = max((r.amount for r in found if r.demand is PACE), default=0)
    return [r for r in found if r.demand is not BOTH or r.amount > pace]


def _why(place: Sequence[MeasureDifficulty]) -> str:
    kinds: dict[str, str] = {}
    for text in (reason.text for reason in _reasons(place)):
        kinds.setdefault("".join(c for c in text if not c.isdigit()), text)
    return f"{capital('; '.join(list(kinds.values())[:REASONS]))}."
