"""Plucks as the planner sees them: one note a printed note, one visit a time that it is struck."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from arrange.levers.problem import Choice, PrintedNote, Visit
from arrange.score.model import EventId
from arrange.score.plucks import Pluck, PluckKind, Strike, locked_until
from arrange.units import Microseconds

ChoicesOf = Callable[[int], tuple[Choice, ...]]
"""From a pluck's place to the ways to treat it."""

Locks = tuple[Microseconds | None, ...]
"""For each choice of a note, how long its strings must be left alone; None without a string."""

STROKES = frozenset({PluckKind.AUXILIARY, PluckKind.REPEAT})
"""Plucks that an ornament or a tremolo adds."""


@dataclass(frozen=True, slots=True)
class PrintedPlucks:
    """Which plucks are one printed note.

    Attributes:
        firsts: for each printed note, the place of its first pluck.
        note_of: for each pluck, the place of its printed note.
    """

    firsts: tuple[int, ...]
    note_of: tuple[int, ...]

    @classmethod
    def of(cls, plucks: Sequence[Pluck]) -> "PrintedPlucks":
        """Number the printed notes; an ornament's other tones are notes of their own."""
        places: dict[tuple[EventId, int], int] = {}
        firsts: list[int] = []
        note_of: list[int] = []
        for i, pluck in enumerate(plucks):
            is_auxiliary = pluck.kind is PluckKind.AUXILIARY
            key = (pluck.note, pluck.pitch.midi if is_auxiliary else 0)
            place = places.setdefault(key, len(firsts))
            if place == len(firsts):
                firsts.append(i)
            note_of.append(place)
        return cls(tuple(firsts), tuple(note_of))


def printed_notes(printed: PrintedPlucks, choices_of: ChoicesOf) -> list[PrintedNote]:
    """The printed notes with their choices; those that have the very same ones are one object."""
    made: dict[int, PrintedNote] = {}
    notes = []
    for pluck in printed.firsts:
        choices = choices_of(pluck)
        note = made.get(id(choices))
        if note is None:
            note = made[id(choices)] = PrintedNote(choices)
        notes.append(note)
    return notes


def longest_locks(notes: Sequence[PrintedNote], locks: Sequence[Microseconds]) -> list[Locks]:
    """For each choice of each note, the longest of its strings' *locks*."""
    found: dict[int, Locks] = {}
    for note in notes:
        if id(note) not in found:
            found[id(note)] = tuple(
                max((locks[string] for string, _ in choice.demands), default=None)
                for choice in note.choices
            )
    return [found[id(note)] for note in notes]


class Visiting:
    """The strikes of printed notes as visits, remembered: keys differ little in them.

    The strokes of one ornament or tremolo are one visit, from the first to what the last one
    locks: nobody moves a lever between them. Visits at one time are in the order of their notes.
    """

    def __init__(
        self, strikes: Sequence[Strike], plucks: Sequence[Pluck], note_of: Sequence[int]
    ) -> None:
        struck = [(note_of[strike.pluck], strike, plucks[strike.pluck]) for strike in strikes]
        struck.sort(key=lambda one: (one[1].time, one[0]))
        self._struck = _without_strokes(struck)
        self._known: list[dict[Locks, Visit]] = [{} for _ in self._struck]

    def visits(self, longest: Sequence[Locks]) -> list[Visit]:
        """One visit a playing; how long a choice locks is told by its longest string."""
        visits = []
        for (note, time, strike, pluck), known in zip(self._struck, self._known, strict=True):
            locks = longest[note]
            visit = known.get(locks)
            if visit is None:
                until = [
                    0 if lock is None else locked_until(strike, pluck, lock) for lock in locks
                ]
                visit = known[locks] = Visit(note, time, tuple(until))
            visits.append(visit)
        return visits


_Playing = tuple[int, Microseconds, Strike, Pluck]
"""A printed note, when it is first struck, and its last stroke."""


def _without_strokes(struck: Sequence[tuple[int, Strike, Pluck]]) -> list[_Playing]:
    """The playings in order of their first strokes.

    A stroke after which another note of its pitch has been struck begins a playing of its own.
    """
    playings: list[_Playing] = []
    latest: dict[int, int] = {}
    sounding: dict[int, int] = {}
    for note, strike, pluck in struck:
        place = latest.get(note)
        is_alone = sounding.get(pluck.pitch.midi, note) == note
        sounding[pluck.pitch.midi] = note
        if place is not None and is_alone and pluck.kind in STROKES:
            _, time, before, _ = playings[place]
            if strike.time < before.end:
                playings[place] = (note, time, strike, pluck)
                continue
        latest[note] = len(playings)
        playings.append((note, strike.time, strike, pluck))
    return playings
