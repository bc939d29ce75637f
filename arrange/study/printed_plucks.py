"""Plucks as the planner sees them: one note a printed note, one visit a time that it is struck."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from operator import itemgetter

from arrange.levers.problem import Choice, PrintedNote, Visit
from arrange.score.model import EventId
from arrange.score.plucks import Pluck, PluckKind, Strike, all_locked_until
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
        self._asked = strikes, plucks, note_of

    @cached_property
    def _playings(self) -> "list[tuple[_Playing, dict[Locks, Visit]]]":
        """Each playing, and the visits that have been made of it, by their locks."""
        strikes, plucks, note_of = self._asked
        struck = [
            (strike.time, note_of[strike.pluck], strike, plucks[strike.pluck])
            for strike in strikes
        ]
        struck.sort(key=itemgetter(0, 1))
        return [(playing, {}) for playing in _without_strokes(struck)]

    def visits(self, longest: Sequence[Locks]) -> list[Visit]:
        """One visit a playing; how long a choice locks is told by its longest string."""
        visits = []
        for (time, note, strike, pluck), known in self._playings:
            locks = longest[note]
            visit = known.get(locks)
            if visit is None:
                until = all_locked_until(strike, pluck, locks)
                visit = known[locks] = Visit(note, time, until)
            visits.append(visit)
        return visits


_Playing = tuple[Microseconds, int, Strike, Pluck]
"""When a printed note is first struck, which one it is, and its last stroke."""


def _without_strokes(struck: list[_Playing]) -> list[_Playing]:
    """The playings in order of their first strokes.

    A stroke after which another note of its pitch has been struck begins a playing of its own.
    """
    if not any(pluck.kind in STROKES for _, _, _, pluck in struck):
        return struck
    playings: list[_Playing] = []
    latest: dict[int, int] = {}
    sounding: dict[int, int] = {}
    for _, note, strike, pluck in struck:
        place = latest.get(note)
        is_alone = sounding.get(pluck.pitch.midi, note) == note
        sounding[pluck.pitch.midi] = note
        if place is not None and is_alone and pluck.kind in STROKES:
            time, _, before, _ = playings[place]
            if strike.time < before.end:
                playings[place] = (time, note, strike, pluck)
                continue
        latest[note] = len(playings)
        playings.append((strike.time, note, strike, pluck))
    return playings
