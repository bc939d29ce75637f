"""The levers of one harp in performed time: where each stands, when each is really moved."""

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass

from arrange.check.instructions import Instruction
from arrange.harp.harp import Harp, Position
from arrange.score.performed import Clock
from arrange.units import Microseconds


@dataclass(frozen=True, slots=True)
class Act:
    """A lever really moved: *instruction*, on the pass number *nth* of its measure, ending at
    *time*; *string* is its place in the harp.
    """

    instruction: Instruction
    nth: int
    string: int
    time: Microseconds


class Timeline:
    """Where each lever stands at any time.

    Moves are set-instructions: one that finds its lever in place moves nothing.

    Attributes:
        acts: what was really moved, in order of time.
    """

    def __init__(
        self,
        harp: Harp,
        initial: Mapping[str, Position],
        moves: tuple[Instruction, ...],
        clock: Clock,
    ) -> None:
        self._start = [initial.get(s.name, Position.DOWN) for s in harp.strings]
        self._rows: dict[int, tuple[list[Microseconds], list[Position]]] = {}
        self.acts: list[Act] = []
        performed: list[tuple[Microseconds, int, Act]] = []
        for order, move in enumerate(moves):
            string = harp.string_named(move.string)
            if string is None or harp.strings[string].raised is None:
                continue
            for nth, place in enumerate(clock.occurrences(move.index), 1):
                if not move.passes or nth in move.passes:
                    time = clock.time(place, move.offset)
                    performed.append((time, order, Act(move, nth, string, time)))
        performed.sort(key=lambda row: row[:2])
        for time, _, act in performed:
            self._take(time, act)

    def _take(self, time: Microseconds, act: Act) -> None:
        times, positions = self._rows.setdefault(act.string, ([], []))
        standing = positions[-1] if positions else self._start[act.string]
        if standing is not act.instruction.position:
            times.append(time)
            positions.append(act.instruction.position)
            self.acts.append(act)

    @property
    def moving(self) -> frozenset[int]:
        """The strings whose levers are moved at all."""
        return frozenset(act.string for act in self.acts)

    def position(self, string: int, time: Microseconds) -> Position:
        """Where the lever stands for a note at *time*; a move that ends then has been made."""
        row = self._rows.get(string)
        if row is None:
            return self._start[string]
        before = bisect_right(row[0], time) - 1
        return row[1][before] if before >= 0 else self._start[string]
