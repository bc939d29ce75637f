"""Whether each lever move has a lever, a free hand and a quiet string."""

from bisect import bisect_left
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from arrange.check.instructions import Instruction
from arrange.check.timeline import Act
from arrange.hands.player import LeverHand, Player
from arrange.harp.harp import Harp
from arrange.score.model import HandName
from arrange.units import SECOND, Microseconds, microseconds

MANY = 3
"""From so many notes on, placing the hand takes longer."""
LONG: Microseconds = 60 * SECOND
"""So much time is as good as any."""


@dataclass(frozen=True, slots=True)
class Busy:
    """A hand at the strings: from its first note to its last, *notes* to be placed for it."""

    begin: Microseconds
    end: Microseconds
    notes: int


@dataclass(frozen=True, slots=True)
class Sounding:
    """When a string was plucked, and until when it must be left alone."""

    time: Microseconds
    locked: Microseconds


def standing_problem(move: Instruction, harp: Harp, player: Player) -> str:
    """Why such a move cannot be made at any time; empty where it can."""
    number = harp.string_named(move.string)
    if number is None:
        return f"This harp has no string {move.string}."
    string = harp.strings[number]
    if string.raised is None:
        return f"The {move.string} string has no lever."
    if hand_numbers(move.hand, player) is None:
        return f"This player moves no lever with the {move.hand.value} hand."
    if move.hand is HandName.RIGHT and string.octave < player.right_from_octave:
        return (
            f"The right hand moves levers from octave {player.right_from_octave} up; "
            f"{move.string} lies below."
        )
    lowest = harp.string_named(player.moves_lowest) if player.moves_lowest else None
    if lowest is not None and number < lowest:
        return (
            f"The lever of {move.string} is set before the piece only; "
            f"this player moves none below {player.moves_lowest} while playing."
        )
    return ""


def hand_numbers(hand: HandName, player: Player) -> LeverHand | None:
    """A hand's numbers; None where it moves no levers."""
    return player.left if hand is HandName.LEFT else player.right


class HandWatch:
    """Judges moves in order of time: the hand free, the string quiet, one move at a time."""

    def __init__(
        self,
        harp: Harp,
        player: Player,
        busy: Mapping[HandName, list[Busy]],
        sounding: Mapping[int, list[Sounding]],
    ) -> None:
        self._harp = harp
        self._player = player
        self._busy = {hand: sorted(row, key=lambda b: b.begin) for hand, row in busy.items()}
        self._begins = {hand: [b.begin for b in row] for hand, row in self._busy.items()}
        self._ends = {hand: _latest([b.end for b in row]) for hand, row in self._busy.items()}
        self._plucked: dict[int, list[Microseconds]] = {}
        self._locked: dict[int, list[Microseconds]] = {}
        for string, plucks in sounding.items():
            row = sorted(plucks, key=lambda s: s.time)
            self._plucked[string] = [s.time for s in row]
            self._locked[string] = _latest([s.locked for s in row])
        self._latest: dict[HandName, Act] = {}

    def problems(self, act: Act) -> Iterator[str]:
        """What is wrong with a move that is really made; give the moves in order of time."""
        move = act.instruction
        numbers = hand_numbers(move.hand, self._player)
        if numbers is None:
            return
        begin = act.time - microseconds(numbers.move_s)
        before = self._latest.get(move.hand)
        self._latest[move.hand] = act
        if before is not None and before.time > begin:
            yield (
                f"The {move.hand.value} hand would move two levers at once: "
                f"{before.instruction.string} and {move.string}."
            )
        yield from self._hand_problems(act, begin, numbers)
        late = self._locked_before(act) - begin
        if late > 0:
            yield (
                f"The {move.string} string still sounds when its lever is moved; "
                f"it must be left alone {_in_seconds(late)} longer."
            )

    def spare_time(self, act: Act) -> Microseconds:
        """What is left of the hand's free time beyond the move itself; a minute at most."""
        move = act.instruction
        numbers = hand_numbers(move.hand, self._player)
        if numbers is None:
            return 0
        begins = self._begins[move.hand]
        reach = self._player.reach_of(self._harp.strings[act.string].octave)
        opens, closes = act.time - LONG, act.time + LONG
        following = bisect_left(begins, act.time)
        if following:
            opens = self._ends[move.hand][following - 1] + microseconds(numbers.away_s * reach)
        if following < len(begins):
            closes = begins[following] - self._back(move.hand, following, numbers.back_s * reach)
        return min(closes - opens - microseconds(numbers.move_s), LONG)

    def _back(self, hand: HandName, following: int, back_s: Fraction) -> Microseconds:
        """How long the hand takes from a lever to its next notes."""
        is_many = self._busy[hand][following].notes >= MANY
        return microseconds(back_s) + (microseconds(self._player.chord_back_s) if is_many else 0)

    def _hand_problems(self, act: Act, begin: Microseconds, numbers: LeverHand) -> Iterator[str]:
        move = act.instruction
        begins = self._begins[move.hand]
        reach = self._player.reach_of(self._harp.strings[act.string].octave)
        following = bisect_left(begins, act.time)
        if following:
            away = microseconds(numbers.away_s * reach)
            free = begin - self._ends[move.hand][following - 1]
            if free < away:
                yield (
                    f"The {move.hand.value} hand has {_in_seconds(free)} from its last note to "
                    f"the lever of {move.string}; it needs {_in_seconds(away)}."
                )
        if following < len(begins):
            back = self._back(move.hand, following, numbers.back_s * reach)
            free = begins[following] - act.time
            if free < back:
                yield (
                    f"The {move.hand.value} hand has {_in_seconds(free)} from the lever of "
                    f"{move.string} to its next note; it needs {_in_seconds(back)}."
                )

    def _locked_before(self, act: Act) -> Microseconds:
        """Until when the plucks before the move keep its string."""
        plucked = bisect_left(self._plucked.get(act.string, []), act.time)
        nothing = act.time - LONG
        return self._locked[act.string][plucked - 1] if plucked else nothing


def _latest(times: list[Microseconds]) -> list[Microseconds]:
    """For each place, the latest time up to there."""
    found: list[Microseconds] = []
    for time in times:
        found.append(max(time, found[-1]) if found else time)
    return found


def _in_seconds(time: Microseconds) -> str:
    return f"{max(time, 0) / SECOND:.2f} s"
