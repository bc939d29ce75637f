"""What an editor may decide, and where."""

from dataclasses import dataclass, field
from enum import StrEnum

from arrange.harp.harp import Position
from arrange.pitch import Pitch
from arrange.units import Quarters

FORMAT = "leverwright-decisions"
VERSION = 1

_AT_THE_START = Quarters(0)


class Kind(StrEnum):
    """What is decided."""

    DECLINE = "decline"
    CHOOSE = "choose"
    ACCEPT = "accept"
    NOTE = "note"
    KEY = "key"
    LEVER = "lever"

    @property
    def is_pin(self) -> bool:
        """A note, a key or a lever that stays; the others are about a change."""
        return self in {Kind.NOTE, Kind.KEY, Kind.LEVER}


@dataclass(frozen=True, slots=True)
class Place:
    """A place in the source.

    Attributes:
        index: the measure's place in its part, from 0; -1 where only its number is told.
        measure: as printed, or "".
        staff: 0 where it is not told; *voice*: "" then.
        note: the note's key in its measure, ``n5``, or "".
    """

    part: str
    index: int = -1
    measure: str = ""
    offset: Quarters = _AT_THE_START
    staff: int = 0
    voice: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Decision:
    """One thing decided.

    Attributes:
        by: who decided, or ""; *note*: what was said about it.
        change, rule, anchor, nth, sentence: the change that it is about, its anchor, which of
            the changes with equal anchors in its measure, from 1, and its reason.
        option: the key of the option chosen.
        pitch: of a pinned note, sounding in the source; *key*: ``keep`` or an interval.
        string, position: of a pinned lever.
        line: of the file, for messages.
    """

    kind: Kind
    place: Place | None = None
    by: str = ""
    note: str = ""
    change: str = ""
    rule: str = ""
    anchor: str = ""
    nth: int = 1
    sentence: str = ""
    option: str = ""
    pitch: Pitch | None = None
    key: str = ""
    string: str = ""
    position: Position = Position.UP
    line: int = field(default=0, compare=False)

    @property
    def what(self) -> str:
        """What is decided, for people."""
        match self.kind:
            case Kind.NOTE:
                return f"{self.pitch} stays"
            case Kind.KEY:
                return "the key is kept" if self.key == "keep" else f"the key moves by {self.key}"
            case Kind.LEVER:
                return f"the lever of {self.string} is {self.position.value} from here"
            case Kind.CHOOSE:
                return f"{self.option}, in place of: {self.sentence}"
            case _:
                return self.sentence


@dataclass(frozen=True, slots=True)
class Decisions:
    """What a file of decisions holds.

    Attributes:
        file: its name; *source_file*, *sha256*: the score that it was made for, or "".
        measures: by part, a fingerprint of each measure of that score.
        declines_all: every change is declined.
    """

    file: str = ""
    source_file: str = ""
    sha256: str = ""
    measures: tuple[tuple[str, tuple[str, ...]], ...] = ()
    entries: tuple[Decision, ...] = ()
    declines_all: bool = False

    @property
    def has_declines(self) -> bool:
        """Whether anything is declined."""
        return self.declines_all or any(e.kind is Kind.DECLINE for e in self.entries)


class Settling(StrEnum):
    """What became of a decision."""

    APPLIED = "APPLIED"
    RECORDED = "RECORDED"
    STALE = "STALE"
    REFUSED = "REFUSED"
