"""What the lever planner is asked, and what it answers: pitches, times and windows only.

Everything is numbers: no score, no XML, no rules. Times are whole microseconds of performed
time, costs are hundredths of the price of one lever move.
"""

from dataclasses import dataclass

from arrange.harp.harp import Position
from arrange.quick import quickly_made
from arrange.units import Microseconds

Cost = int
"""Hundredths of a move's price."""


@dataclass(frozen=True, slots=True)
class LeverString:
    """One string, numbered by its place in the problem's tuple, low to high.

    Attributes:
        name: letter and octave, for messages.
        open_midi: key number with the lever down.
        raised_midi: key number with the lever up; None where there is no lever.
        movable: False where the lever is set before the piece only.
        reach: which reach class of the windows the lever belongs to.
        preset_cost_up: cost of standing up before the first note (zero where the key
            signature asks for it), and *preset_cost_down* of standing down.
    """

    name: str
    open_midi: int
    raised_midi: int | None
    movable: bool = True
    reach: int = 0
    preset_cost_up: Cost = 0
    preset_cost_down: Cost = 0


@quickly_made
@dataclass(frozen=True, slots=True)
class Choice:
    """One way to treat a printed note.

    Attributes:
        demands: what must stand when the note is plucked: (string, position) pairs; one for
            an ordinary note, several for a trill or a sweep, none where the note is left out
            or left open.
        cost: its price (0 for the note as it is).
        label: what it is, for the caller: ``home``, ``octave``, ``omit``, ``open``.
        elsewhere: for the caller: a string and position that always stand so, on which the note
            is played without asking anything of the levers.
    """

    demands: tuple[tuple[int, Position], ...]
    cost: Cost
    label: str = "home"
    elsewhere: tuple[int, Position] | None = None

    @property
    def played(self) -> tuple[int, Position] | None:
        """String and position of an ordinary note that is played; None for one that is not."""
        return self.demands[0] if self.demands else self.elsewhere


@dataclass(frozen=True, slots=True)
class PrintedNote:
    """A printed pluck with the ways to treat it; all its passes share the choice."""

    choices: tuple[Choice, ...]


@quickly_made
@dataclass(frozen=True, slots=True)
class Visit:
    """One performed pluck of a printed note.

    Attributes:
        note: index into ``LeverProblem.notes``.
        time: when it is plucked.
        locks: for each choice of the note, until when its strings may not be touched.
    """

    note: int
    time: Microseconds
    locks: tuple[Microseconds, ...]


@dataclass(frozen=True, slots=True)
class SlotTime:
    """One performed moment of a printed slot.

    Attributes:
        time: when a move in this slot ends.
        slack: for each hand, for each reach class: the time left in the window, or -1 where
            the hand is not free then.
    """

    time: Microseconds
    slack: tuple[tuple[Microseconds, ...], ...]


@dataclass(frozen=True, slots=True)
class Slot:
    """A printed place where a move can end.

    Attributes:
        times: its performed moments, in order.
        price: what a move here costs beyond the move itself (off the beat).
    """

    times: tuple[SlotTime, ...]
    price: Cost = 0


@dataclass(frozen=True, slots=True)
class Hand:
    """A hand that can move levers.

    Attributes:
        name: ``left`` or ``right``.
        move: how long the flick keeps it.
        price: what a move by it costs beyond the move itself.
        reaches: which reach classes it may serve.
    """

    name: str
    move: Microseconds
    price: Cost
    reaches: frozenset[int]


@dataclass(frozen=True, slots=True)
class Prices:
    """Additive integer prices, in hundredths of a move."""

    move: Cost = 100
    hurried: Cost = 300
    hurried_below: Microseconds = 500_000


@dataclass(frozen=True, slots=True)
class LeverProblem:
    """Everything that the planner knows.

    ``visits`` are sorted by time. Visits with equal times sound together: their demands must
    hold at once. A move ends at a slot time m with lock of the string's last earlier pluck
    <= m - move, and m <= the time of the string's next pluck.
    """

    strings: tuple[LeverString, ...]
    notes: tuple[PrintedNote, ...]
    visits: tuple[Visit, ...]
    slots: tuple[Slot, ...]
    hands: tuple[Hand, ...]
    prices: Prices = Prices()
    fixed_start: tuple[tuple[int, Position], ...] = ()


@dataclass(frozen=True, slots=True)
class Move:
    """One printed lever move.

    Attributes:
        string: which string; *position*: where its lever stands afterwards.
        slot: printed slot; *hand*: index into ``LeverProblem.hands``.
        acts: indices into the slot's times at which the lever really has to be moved.
        slack: the least time left in the windows of those moments.
    """

    string: int
    position: Position
    slot: int
    hand: int
    acts: tuple[int, ...]
    slack: Microseconds


@dataclass(frozen=True, slots=True)
class Plan:
    """The planner's answer.

    Attributes:
        start: position of every string that has a lever, in string order.
        choices: for each printed note, the index of the choice taken.
        moves: sorted by slot, then string.
        cost: total price; *bound*: proven lower bound; equal when optimal.
    """

    start: tuple[tuple[int, Position], ...]
    choices: tuple[int, ...]
    moves: tuple[Move, ...]
    cost: Cost
    bound: Cost

    @property
    def is_optimal(self) -> bool:
        """True where the bound meets the cost."""
        return self.cost == self.bound
