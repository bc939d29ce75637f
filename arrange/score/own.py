"""The ids that our own directions carry, so that a result can be read back from its page.

An id is an XML name: words joined by full stops, signs written with letters. The words that a
player reads stand in the direction itself; the id adds only what words leave to the eye, such
as the exact place of the move that a cue announces.
"""

import re
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
_TAKERS = {"take-left": HandName.LEFT, "take-right": HandName.RIGHT}
_CUE = re.compile(
    r"leverwright\.cue\.([0-9]{1,9})\.([^.]+)\.(up|down)\.(left|right)\.([0-9]{1,9})\."
    r"([0-9]{1,9}(?:_[1-9][0-9]{0,8})?)\.(all|[0-9]{1,6}(?:-[0-9]{1,6})*)"
)
_PITCH = "[A-G](?:s{1,6}+|f{1,6}+)?+[0-9]{1,2}+"
_NOTES = re.compile(
    r"leverwright\.(open|take-left|take-right|held|foreign|tones)\.([0-9]{1,9})\."
    rf"((?:{_PITCH}(?:-{_PITCH})*+)?+)"
)


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
        """Read an id; None where it is no cue's, or was changed so that it says nothing."""
        match = _CUE.fullmatch(own)
        if match is None:
            return None
        serial, string, position, hand, measures_on, offset, passes = match.groups()
        return cls(
            int(serial),
            string,
            Position(position),
            HandName(hand),
            int(measures_on),
            Quarters(offset.replace("_", "/")),
            () if passes == "all" else tuple(map(int, passes.split("-"))),
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
        """Read an id; None where it is of another kind, or says nothing any more."""
        match = _NOTES.fullmatch(own)
        if match is None:
            return None
        kind, serial, words = match.groups()
        pitches = tuple(map(word_pitch, words.split("-"))) if words else ()
        return cls(kind, int(serial), pitches)

    @property
    def taker(self) -> HandName | None:
        """The hand that takes the notes; None where the mark says something else."""
        return _TAKERS.get(self.kind)


def last_serial(score: Score, kind: str = "") -> int:
    """The highest number among our own marks about notes; 0 where there is none.

    Args:
        score: the score.
        kind: which of them count, as in `OwnNotes`; all without it.
    """
    found = [
        said.serial
        for part in score.parts
        for measure in part.measures
        for mark in measure.marks
        if mark.kind is MarkKind.OWN and (said := OwnNotes.parse(mark.own)) is not None
        if kind in ("", said.kind)
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


def is_hand(own: str) -> bool:
    """Whether the id is of a mark that says which hand takes a note."""
    return own.removeprefix(PREFIX).split(".")[0] in _TAKERS


def bracket_id(hand: HandName, start: EventId, offset: Quarters, end: str) -> str:
    """The id of one *end* (``start``, ``stop``) of a bracket that begins at that note's place."""
    place = (hand.value, start.part, str(start.index), _place(offset), end)
    return f"{PREFIX}bracket." + ".".join(place)


def is_bracket(own: str) -> bool:
    """Whether the id is of a bracket over what is played from one placing."""
    return own.startswith(f"{PREFIX}bracket.")
