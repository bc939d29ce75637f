"""When a hand is free to move a lever."""

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from arrange.hands.player import LeverHand, Player
from arrange.quick import quickly_made
from arrange.score.model import HandName, Score, Sign
from arrange.score.plucks import Pluck, Strike
from arrange.sources import Source
from arrange.units import Microseconds, microseconds

ROLL_STEP: Microseconds = 80_000
"""From one note of a roll to the next."""
ROLL_SOURCE = Source("from memory", "30 to 60 ms a note fast, 80 to 150 ms expressive")
BEFORE_THE_PIECE: Microseconds = -60_000_000
AFTER_THE_PIECE: Microseconds = 60_000_000
AT_ANY_TIME: Microseconds = 1 << 62
"""Later than anything that is played."""
MARGIN: Microseconds = 1_000
"""Kept clear at both ends of a window, so that no rounding of another reader matters."""
REACH_OCTAVES = (2, 3, 4, 5, 6)
"""The reach classes, by the octave that stands for each."""


def reach_class(octave: int) -> int:
    """The reach class of a string of *octave*."""
    return REACH_OCTAVES.index(min(max(octave, REACH_OCTAVES[0]), REACH_OCTAVES[-1]))


@quickly_made
@dataclass(frozen=True, slots=True)
class Grasp:
    """One moment at which a hand plucks.

    Attributes:
        time: of its first note; *until*: of its last (a roll's last note, a sweep's end).
        notes: how many notes must be placed for it.
    """

    time: Microseconds
    until: Microseconds
    notes: int


def grasps(
    score: Score, plucks: tuple[Pluck, ...], strikes: tuple[Strike, ...]
) -> dict[HandName, list[Grasp]]:
    """Return what each hand plucks, in performed time; what is left to the editor is not."""
    notes_by_id = score.notes_by_id
    aside = frozenset(score.left_open)
    rolled = {
        number
        for number, pluck in enumerate(plucks)
        if notes_by_id[pluck.note].has(Sign.ARPEGGIATE)
    }
    struck: dict[HandName, dict[Microseconds, list[int]]] = {hand: {} for hand in HandName}
    for strike in strikes:
        pluck = plucks[strike.pluck]
        if not aside or aside.isdisjoint(pluck.tied):
            struck[pluck.hand].setdefault(strike.time, []).append(strike.pluck)
    found: dict[HandName, list[Grasp]] = {}
    for hand, moments in struck.items():
        grasped = found[hand] = []
        for time, members in moments.items():
            is_roll = rolled and not rolled.isdisjoint(members)
            roll = (len(members) - 1) * ROLL_STEP if is_roll else 0
            grasped.append(Grasp(time, time + roll, len(members)))
    return found


class Windows:
    """The free times of the hands that move levers."""

    def __init__(self, player: Player, held: dict[HandName, list[Grasp]]) -> None:
        self._player = player
        self._hands: list[tuple[HandName, LeverHand]] = []
        if player.left is not None:
            self._hands.append((HandName.LEFT, player.left))
        if player.right is not None:
            self._hands.append((HandName.RIGHT, player.right))
        self._grasps = {hand: sorted(g, key=lambda g: g.time) for hand, g in held.items()}

    @property
    def hands(self) -> tuple[HandName, ...]:
        """The hands that move levers, left first."""
        return tuple(hand for hand, _ in self._hands)

    def spans(self) -> Iterator[tuple[Microseconds, Microseconds]]:
        """Yield from when to when a move may end, hand by hand, at the levers that are nearest.

        At other times no hand is free for any move.
        """
        nearest = min(self._player.reach_of(octave) for octave in REACH_OCTAVES)
        chord = microseconds(self._player.chord_back_s)
        for hand, numbers in self._hands:
            before = microseconds(numbers.away_s * nearest) + microseconds(numbers.move_s) + MARGIN
            back = microseconds(numbers.back_s * nearest) + MARGIN
            opens = BEFORE_THE_PIECE + before
            held = self._grasps[hand]
            for grasp, end in zip(held, _running_ends(held), strict=True):
                closes = grasp.time - back - (chord if grasp.notes >= 3 else 0)
                if opens <= closes:
                    yield opens, closes
                opens = end + before
            yield opens, AT_ANY_TIME

    def slacks(
        self, moments: Iterable[Microseconds]
    ) -> dict[Microseconds, tuple[tuple[Microseconds, ...], ...]]:
        """For each moment at which a move may end: by hand, by reach class, the time left.

        The time left is what remains of the hand's free time beyond the move itself; -1 where
        the hand is not free for a move that ends then.
        """
        moments = sorted(set(moments))
        columns = [self._column(hand, numbers, moments) for hand, numbers in self._hands]
        return dict(zip(moments, zip(*columns, strict=True), strict=True)) if columns else {}

    def _column(
        self, hand: HandName, numbers: LeverHand, moments: list[Microseconds]
    ) -> list[tuple[Microseconds, ...]]:
        move = microseconds(numbers.move_s)
        reaches = [self._player.reach_of(octave) for octave in REACH_OCTAVES]
        away = [microseconds(numbers.away_s * reach) for reach in reaches]
        back = [microseconds(numbers.back_s * reach) for reach in reaches]
        chord = microseconds(self._player.chord_back_s)
        held = self._grasps[hand]
        times = [g.time for g in held]
        ends = _running_ends(held)
        column = []
        for moment in moments:
            i = bisect_left(times, moment)
            left = ends[i - 1] if i else BEFORE_THE_PIECE
            nearest = held[i].time if i < len(held) else moment + AFTER_THE_PIECE
            placing = chord if i < len(held) and held[i].notes >= 3 else 0
            column.append(
                tuple(
                    _slack(moment, move, left + a, nearest - b - placing)
                    for a, b in zip(away, back, strict=True)
                )
            )
        return column


def _running_ends(held: list[Grasp]) -> list[Microseconds]:
    ends: list[Microseconds] = []
    for grasp in held:
        ends.append(max(grasp.until, ends[-1]) if ends else grasp.until)
    return ends


def _slack(
    moment: Microseconds, move: Microseconds, opens: Microseconds, closes: Microseconds
) -> Microseconds:
    """Time left in the window [opens, closes] of a move that ends at *moment*; -1: no."""
    if moment - move < opens + MARGIN or moment > closes - MARGIN:
        return -1
    return min(closes - opens - move, AFTER_THE_PIECE)
