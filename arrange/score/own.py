"""The ids that our own directions carry, so that a result can be read back from its page.

An id is an XML name: words joined by full stops, signs written with letters. The words that a
player reads stand in the direction itself; the id adds only what words leave to the eye, such
as the exact place of the move that a cue announces.
"""

from dataclasses import dataclass

from arrange.harp.harp import Position
from arrange.pitch import Pitch
from arrange.score.model import EventId, HandName, MarkKind, Score
from arrange.units import Quarters

PREFIX = "leverwright."
FIELD_PREFIX = "leverwright-"
"""Miscellaneous fields: ``leverwright-harp``, ``-book``, ``-interval``."""

SETTING = PREFIX + "setting"
"""The opening instruction."""
LEGEND = PREFIX + "legend"


def pitch_word(pitch: Pitch) -> str:
    """``C#4`` as a name may hold it: ``Cs4``; flats ``Bf3``."""
    return str(pitch).replace("#", "s").replace("b", "f")


def word_pitch(word: str) -> Pitch:
    """Read what ``pitch_word`` wrote."""
    return Pitch.parse(word[0] + word[1:].replace("s", "#").replace("f", "b"))


def _place(offset: Quarters) -> str:
    return str(offset).replace("/", "_")


@dataclass(frozen=True, slots=True)
class OwnCue:
    """A lever cue: the move of *string* to *position* by *hand*.

    Attributes:
        serial: makes the id unique.
        measures_on: how many measures after the cue's own the move lies.
        offset: where in that measure it ends.
        passes: the passes that it acts on, from 1; empty for all.
    """

    serial: int
    string: str
    position: Position
    hand: HandName
    measures_on: int
    offset: Quarters
    passes: tuple[int, ...] = ()

    @property
    def id(self) -> str:
        """The direction's id."""
        words = [
            str(self.serial),
            self.string,
            self.position.value,
            self.hand.value,
            str(self.measures_on),
            _place(self.offset),
            "-".join(map(str, self.passes)) or "all",
        ]
        return f"{PREFIX}cue." + ".".join(words)

    @classmethod
    def parse(cls, own: str) -> "OwnCue | None":
        """Read an id; None where it is no cue's."""
        words = own.removeprefix(PREFIX).split(".")
        if not own.startswith(PREFIX) or words[0] != "cue" or len(words) != 8:
            return None
        passes = () if words[7] == "all" else tuple(int(p) for p in words[7].split("-"))
        return cls(
            int(words[1]),
            words[2],
            Position(words[3]),
            HandName(words[4]),
            int(words[5]),
            Quarters(words[6].replace("_", "/")),
            passes,
        )


@dataclass(frozen=True, slots=True)
class OwnNotes:
    """A mark that speaks of notes at its own place and staff.

    Attributes:
        kind: ``open`` (left to the editor), ``take-left``, ``take-right`` (that hand takes
            them), ``held`` (strings that the other hand damps under a glissando), ``foreign``
            (strings of a glissando that sound beside its tones), ``tones`` (what the strings of a
            glissando sound, one pitch a letter).
        serial: makes the id unique.
        pitches: the notes concerned; for ``held`` and ``foreign``, the strings by
            letter and octave; for ``tones``, letters with signs, the octave says nothing.
    """

    kind: str
    serial: int
    pitches: tuple[Pitch, ...]

    @property
    def id(self) -> str:
        """The direction's id."""
        return f"{PREFIX}{self.kind}.{self.serial}." + "-".join(map(pitch_word, self.pitches))

    @classmethod
    def parse(cls, own: str) -> "OwnNotes | None":
        """Read an id; None where it is of another kind."""
        words = own.removeprefix(PREFIX).split(".")
        kinds = ("open", "take-left", "take-right", "held", "foreign", "tones")
        if not own.startswith(PREFIX) or words[0] not in kinds or len(words) != 3:
            return None
        pitches = tuple(word_pitch(w) for w in words[2].split("-")) if words[2] else ()
        return cls(words[0], int(words[1]), pitches)


def last_serial(score: Score) -> int:
    """The highest number among our own marks about notes; 0 where there is none."""
    found = [
        said.serial
        for part in score.parts
        for measure in part.measures
        for mark in measure.marks
        if mark.kind is MarkKind.OWN and (said := OwnNotes.parse(mark.own)) is not None
    ]
    return max(found, default=0)


def line_id(kind: str, serial: int) -> str:
    """The id of a line of words: ``state`` (the levers again), ``tempo`` (at which it works for
    the level), ``credit``.
    """
    return f"{PREFIX}{kind}.{serial}"


def is_line(own: str) -> bool:
    """Whether the id is of a line of words at the top or bottom rather than of a cue."""
    return own.removeprefix(PREFIX).split(".")[0] in {
        "setting",
        "legend",
        "statement",
        "state",
        "tempo",
    }


def bracket_id(hand: HandName, start: EventId, offset: Quarters, end: str) -> str:
    """The id of one *end* (``start``, ``stop``) of a bracket that begins at that note's place."""
    place = (hand.value, start.part, str(start.index), _place(offset), end)
    return f"{PREFIX}bracket." + ".".join(place)


def is_bracket(own: str) -> bool:
    """Whether the id is of a bracket over what is played from one placing."""
    return own.startswith(f"{PREFIX}bracket.")
