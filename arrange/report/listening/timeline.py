"""A performance as JSON for a page: what sounds when, what is lit, which lever moves."""

from string import ascii_letters, digits
from typing import Any

from arrange.check import Instructions
from arrange.check.timeline import Act
from arrange.harp.harp import Harp
from arrange.report.listening.pace import paces
from arrange.report.listening.performance import Performance
from arrange.report.listening.ringing import RING_MS
from arrange.score.model import EventId, Score
from arrange.units import SECOND, Microseconds

FORMAT = "leverwright-listening"
VERSION = 1
COLUMNS = (
    "at", "lit", "until", "midi", "string", "loudness", "hand", "staff", "place", "touch", "harp",
    "notes",
)  # fmt: skip
_PLAIN = frozenset(ascii_letters + digits + "_")

Record = dict[str, Any]
"""A JSON object."""


def timeline(
    score: Score, harp: Harp | None = None, instructions: Instructions | None = None
) -> Record:
    """Return what a page needs to play *score*, as JSON.

    Times are seconds at the written tempo, rounded to a tenth of a millisecond; a *place* is one
    in the playing order. Only the parts of harps sound.

    Args:
        score: read from bytes, so that its notes are numbered as they stand there.
        harp: the lever harp; None for a score that is for another instrument.
        instructions: what the player is told; None: what the page of the score says.
    """
    return _Record(Performance(score, harp, instructions)).whole()


def note_id(note: EventId) -> str:
    """Return what a page calls a note: ``n-P1-4-12``.

    Part, place of the measure, place of the note element in it, both from 0. A character of the
    part's id that is no ASCII letter, digit or underscore is written as a full stop and its
    code point in hexadecimal, with a full stop after it.
    """
    part = "".join(c if c in _PLAIN else f".{ord(c):X}." for c in note.part)
    return f"n-{part}-{note.index}-{note.key.removeprefix('n')}"


class _Record:
    """The parts of the JSON object."""

    def __init__(self, performance: Performance) -> None:
        self._performance = performance

    def whole(self) -> Record:
        performance = self._performance
        return {
            "format": FORMAT,
            "version": VERSION,
            "end": _in_seconds(performance.clock.end),
            "rings": [[midi, ms / 1000] for midi, ms in RING_MS.items()],
            "measures": self._measures(),
            "tempo": self._tempo(),
            "strings": self._strings(),
            "initial": [
                {string: where.value for string, where in told.initial.items()}
                for told in performance.instructions.harps
            ],
            "columns": list(COLUMNS),
            "plucks": self._plucks(),
            "moves": self._moves(),
        }

    def _measures(self) -> list[Record]:
        performance = self._performance
        passes = performance.clock.passes
        earliest = [start for _, _, start in passes]
        for sound in performance.sounds:
            earliest[sound.place] = min(earliest[sound.place], sound.time)
        longest = max(performance.score.parts, key=lambda part: len(part.measures))
        return [
            {
                "index": index,
                "number": longest.measures[index].number,
                "pass": occurrence,
                "at": _in_seconds(start),
                "from": _in_seconds(first),
            }
            for (index, occurrence, start), first in zip(passes, earliest, strict=True)
        ]

    def _tempo(self) -> list[Record]:
        return [
            {
                "place": pace.place,
                "at": _in_seconds(pace.time),
                "quarters_per_minute": round(float(pace.quarters_per_minute), 3),
            }
            for pace in paces(self._performance.score, self._performance.clock)
        ]

    def _strings(self) -> list[Record]:
        return [
            {
                "string": string.name,
                "open": string.open.midi,
                "raised": None if string.raised is None else string.raised.midi,
            }
            for string in self._performance.harp.strings
        ]

    def _plucks(self) -> list[list[Any]]:
        performance = self._performance
        names: dict[EventId, str] = {}
        rows = []
        for sound, end in zip(performance.sounds, performance.endings, strict=True):
            for note in sound.notes:
                if note not in names:
                    names[note] = note_id(note)
            rows.append(
                [
                    _in_seconds(sound.time),
                    _in_seconds(sound.lit),
                    None if end is None else _in_seconds(end),
                    sound.midi,
                    sound.string,
                    sound.loudness,
                    sound.hand.value,
                    sound.staff,
                    sound.place,
                    sound.touch.value,
                    sound.harp,
                    [names[note] for note in sound.notes],
                ]
            )
        return rows

    def _moves(self) -> list[Record]:
        clock = self._performance.clock
        acts = sorted(self._performance.acts, key=_in_order)
        return [
            {
                "at": _in_seconds(act.time),
                "string": act.instruction.string,
                "position": act.instruction.position.value,
                "hand": act.instruction.hand.value,
                "place": clock.occurrences(act.instruction.index)[act.nth - 1],
                "harp": number,
            }
            for number, act in acts
        ]


def _in_order(row: tuple[int, Act]) -> tuple[Microseconds, str]:
    """By time; of two hands at once the one whose string comes first by its name."""
    return row[1].time, row[1].instruction.string


def _in_seconds(time: Microseconds) -> float:
    """As JSON has it, to a tenth of a millisecond."""
    return round(time / SECOND, 4)
