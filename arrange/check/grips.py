"""Whether a hand can hold what it plucks at once."""

from collections.abc import Iterator

from arrange.check.instructions import Spot, Violation
from arrange.hands.player import Player
from arrange.score.model import EventId, HandName, Score, Sign
from arrange.score.plucks import Pluck, PluckKind
from arrange.units import Quarters


def grip_violations(
    score: Score, plucks: tuple[Pluck, ...], left_open: frozenset[EventId], player: Player
) -> Iterator[Violation]:
    """Yield every grip that has too many notes or is too wide; open notes are not held."""
    here: dict[HandName, list[Pluck]] = {HandName.LEFT: [], HandName.RIGHT: []}
    index, offset = -1, Quarters(0)
    for pluck in plucks:
        if pluck.kind is not PluckKind.PLAIN:
            continue
        is_here = pluck.offset is offset or pluck.offset == offset  # mostly the very same number
        if not is_here or pluck.index != index:
            yield from _judged(score, here, left_open, player)
            here = {HandName.LEFT: [], HandName.RIGHT: []}
            index, offset = pluck.index, pluck.offset
        here[pluck.hand].append(pluck)
    yield from _judged(score, here, left_open, player)


def _judged(
    score: Score,
    here: dict[HandName, list[Pluck]],
    left_open: frozenset[EventId],
    player: Player,
) -> Iterator[Violation]:
    for hand, struck in here.items():
        if len(struck) < 2:
            continue
        row = [p for p in struck if not left_open or left_open.isdisjoint(p.tied)]
        problem = _problem(score, hand, row, player) if len(row) > 1 else ""
        if problem:
            first = row[0]
            place = Spot(first.part, first.index, first.offset, first.staff)
            yield Violation.at(score, place, tuple(str(p.pitch) for p in row), problem)


def _problem(score: Score, hand: HandName, row: list[Pluck], player: Player) -> str:
    grip = player.grip
    if len(row) > grip.notes:
        return (
            f"The {hand.value} hand has {len(row)} notes at once; "
            f"this player holds {grip.notes} at most."
        )
    lines = [pluck.pitch.line for pluck in row]
    span = max(lines) - min(lines) + 1
    if span <= grip.strings:
        return ""
    is_rolled = any(score.notes_by_id[pluck.note].has(Sign.ARPEGGIATE) for pluck in row)
    widest = max(grip.rolled_strings, grip.strings) if is_rolled else grip.strings
    if span <= widest:
        return ""
    return (
        f"The {hand.value} hand would span {span} strings; this player reaches {widest}"
        f"{' when the chord is rolled' if is_rolled else ''}."
    )
