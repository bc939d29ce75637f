"""What an editor has decided beforehand, as rules and the planner take it."""

from dataclasses import dataclass

from arrange.harp.harp import Harp, Position
from arrange.levers.problem import Choice, Cost
from arrange.score.model import EventId
from arrange.units import Quarters

ASIDE: Cost = 10_000_000
"""What is laid upon every way but the one that was chosen: more than a whole piece costs."""


@dataclass(frozen=True, slots=True, order=True)
class ChosenWay:
    """An option that an editor takes.

    Attributes:
        rule: the rule that weighs it; *note*: the note that it is about; *option*: its key.
    """

    rule: str
    note: EventId
    option: str


@dataclass(frozen=True, slots=True)
class HeldLever:
    """A lever that an editor wants to stand so from a place on, until the music asks otherwise.

    Attributes:
        part, index, offset: the place; *string*: by letter and octave.
    """

    part: str
    index: int
    offset: Quarters
    string: str
    position: Position


@dataclass(frozen=True, slots=True)
class HeldStretch:
    """A lever that stands so for a stretch of the performance and is not touched meanwhile.

    Attributes:
        begin, begin_offset: the measure's place in the order of play, and where in it.
        end, end_offset: until where; ``end`` may be one past the last measure.
    """

    part: str
    string: str
    position: Position
    begin: int
    begin_offset: Quarters
    end: int
    end_offset: Quarters


@dataclass(frozen=True, slots=True)
class Decided:
    """All that is decided before the rules run.

    Attributes:
        stays: notes that keep their pitch, tied notes included.
        ways: at most one a rule and note.
        levers: in the order given.
        window: the measures that may be changed; None for all.
        stretches: how the levers stand in the other measures.
    """

    stays: frozenset[EventId] = frozenset()
    ways: tuple[ChosenWay, ...] = ()
    levers: tuple[HeldLever, ...] = ()
    window: frozenset[int] | None = None
    stretches: tuple[HeldStretch, ...] = ()

    def may_change(self, index: int) -> bool:
        """Whether a measure may be changed."""
        return self.window is None or index in self.window

    def chosen(self, rule: str) -> dict[EventId, str]:
        """The options that are taken of one rule, by note."""
        return {way.note: way.option for way in self.ways if way.rule == rule}


NOTHING_DECIDED = Decided()


def choice_key(choice: Choice, harp: Harp) -> str:
    """What a way to treat a note is called in files: ``home-C5-up``, ``octave-C4-down``, ``omit``.

    The same whatever the notes around it; a string is named by letter and octave.
    """
    played = choice.played
    if played is None:
        return choice.label
    string, position = played
    return f"{choice.label}-{harp.strings[string].name}-{position.value}"


def without_aside(cost: Cost) -> Cost:
    """A price as it was before another way was chosen."""
    return cost % ASIDE
