"""Notes that are printed at one place and plucked one after another: small notes and rolls."""

from collections.abc import Iterable, Mapping

from arrange.check.plucking import ROLL_STEP
from arrange.score.model import EventId, HandName, Notation, Note, Sign
from arrange.score.plucks import Pluck, PluckKind, Strike
from arrange.units import Microseconds

SMALL_NOTE: Microseconds = 90_000
"""From one small note to the next (house judgement); they come before the beat."""


class Spreading:
    """When each strike is really plucked.

    Small notes come before their note, faster where there is little room; the notes of a rolled
    chord come from its printed time on, low to high unless its sign points down.
    """

    def __init__(
        self, printed: tuple[Pluck, ...], struck: list[Strike], notes: Mapping[EventId, Note]
    ) -> None:
        self._plucks = [printed[strike.pluck] for strike in struck]
        self._struck = struck
        self._notes = notes

    def times(self) -> list[Microseconds]:
        """Return the times of the strikes, in their own order, which is that of print."""
        times = [strike.time for strike in self._struck]
        if any(pluck.kind is PluckKind.GRACE for pluck in self._plucks):
            self._spread_small_notes(times)
        signs = _roll_signs(self._notes.values())
        if signs:
            self._spread_rolls(times, signs)
        return times

    def _spread_small_notes(self, times: list[Microseconds]) -> None:
        groups: dict[tuple[Microseconds, HandName], list[int]] = {}
        before: dict[tuple[Microseconds, HandName], Microseconds] = {}
        now: dict[HandName, Microseconds] = {}
        for number, (strike, pluck) in enumerate(zip(self._struck, self._plucks, strict=True)):
            key = (strike.time, pluck.hand)
            if pluck.hand in now and now[pluck.hand] < strike.time:
                before[key] = now[pluck.hand]
            now[pluck.hand] = strike.time
            if pluck.kind is PluckKind.GRACE:
                groups.setdefault(key, []).append(number)
        for (time, hand), numbers in groups.items():
            chords = self._small_chords(numbers)
            step = SMALL_NOTE
            if (time, hand) in before:
                step = min(step, (time - before[time, hand]) * 2 // (3 * len(chords)))
            for back, chord in enumerate(reversed(chords), 1):
                for number in chord:
                    times[number] = time - back * step

    def _small_chords(self, numbers: list[int]) -> list[list[int]]:
        """Small notes in the order of the page, those of one chord together."""
        chords: dict[EventId, list[int]] = {}
        for number in sorted(numbers, key=lambda n: ordinal(self._plucks[n].note)):
            chords.setdefault(self._notes[self._plucks[number].note].chord, []).append(number)
        return list(chords.values())

    def _spread_rolls(self, times: list[Microseconds], signs: Mapping[EventId, Notation]) -> None:
        rolls: dict[tuple[Microseconds, EventId | str], list[int]] = {}
        falling: set[tuple[Microseconds, EventId | str]] = set()
        for number, (strike, pluck) in enumerate(zip(self._struck, self._plucks, strict=True)):
            chord = self._notes[pluck.note].chord
            sign = signs.get(chord)
            if sign is None or pluck.kind is not PluckKind.PLAIN:
                continue
            key = (strike.time, sign.number or chord)
            rolls.setdefault(key, []).append(number)
            if sign.type == "down":
                falling.add(key)
        for key, numbers in rolls.items():
            numbers.sort(key=lambda n: self._plucks[n].pitch.midi, reverse=key in falling)
            shortest = min(self._struck[n].end - self._struck[n].time for n in numbers)
            step = min(ROLL_STEP, shortest // 2 // max(len(numbers) - 1, 1))
            for place, number in enumerate(numbers):
                times[number] += place * step


def ordinal(note: EventId) -> tuple[int, ...]:
    """The place of a note among the note elements of its measure: 5 and 1 for ``n5.1``."""
    return tuple(int(word) for word in note.key[1:].split(".") if word.isdecimal())


def _roll_signs(notes: Iterable[Note]) -> dict[EventId, Notation]:
    """The roll sign of each chord that has one, by the id of its first note."""
    found: dict[EventId, Notation] = {}
    for note in notes:
        if note.notations:
            for sign in note.signs(Sign.ARPEGGIATE):
                found.setdefault(note.chord, sign)
    return found
