"""Every pluck on its string: where it may be played, whether it can be, how long it rings."""

from collections.abc import Iterator
from dataclasses import dataclass

from arrange.check.instructions import Instructions, Spot, Violation
from arrange.check.moves import Busy, Sounding
from arrange.check.sweeping import Passage
from arrange.check.timeline import Timeline
from arrange.hands.player import Player
from arrange.harp.harp import Harp, Home
from arrange.pitch import Pitch
from arrange.score.model import EventId, HandName, Score, Sign
from arrange.score.plucks import Pluck, Strike, locked_until
from arrange.units import Microseconds

ROLL_STEP: Microseconds = 80_000
"""From one note of a roll to the next: 80 to 150 ms in an expressive one (from memory)."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What is replayed, on which harp, by whom, as told."""

    score: Score
    harp: Harp
    player: Player
    instructions: Instructions


class Plucking:
    """Every pluck on its string."""

    def __init__(self, terms: Terms, printed: tuple[Pluck, ...], timeline: Timeline) -> None:
        self._terms = terms
        self._printed = printed
        self._timeline = timeline
        self._silent = _microtones(terms.score)
        self._homes = [self._homes_of(pluck) for pluck in printed]
        self._moving = timeline.moving

    def _homes_of(self, pluck: Pluck) -> tuple[Home, ...] | None:
        """Where a pluck may be played; None where it is left to the editor."""
        terms = self._terms
        left_open = terms.instructions.left_open
        if left_open and not left_open.isdisjoint((*pluck.tied, *pluck.doubles)):
            return None
        if self._silent and not self._silent.isdisjoint(pluck.tied):
            return ()
        if terms.instructions.is_by_ear:
            return terms.harp.homes(pluck.pitch.midi)
        home = terms.harp.home_as_spelled(pluck.pitch)
        return () if home is None else (home,)

    def violations(self, struck: tuple[Strike, ...]) -> Iterator[Violation]:
        """Yield each printed note that its string does not give every time it is plucked."""
        wrong: set[int] = set()
        position = self._timeline.position
        for strike in struck:
            number = strike.pluck
            homes = self._homes[number]
            if homes is None or number in wrong:
                continue
            if not any(position(h.string, strike.time) is h.position for h in homes):
                wrong.add(number)
        told: set[tuple[EventId, Pitch]] = set()
        for number in sorted(wrong):
            pluck = self._printed[number]
            if (pluck.note, pluck.pitch) in told:
                continue
            told.add((pluck.note, pluck.pitch))
            place = Spot(pluck.part, pluck.index, pluck.offset, pluck.staff)
            text = self._problem(pluck, self._homes[number])
            yield Violation.at(self._terms.score, place, (str(pluck.pitch),), text)

    def _problem(self, pluck: Pluck, homes: tuple[Home, ...] | None) -> str:
        harp = self._terms.harp
        if homes:
            names = " or ".join(harp.strings[home.string].name for home in homes)
            return f"The {names} string is not set to {pluck.pitch} when it is plucked."
        if not self._silent.isdisjoint(pluck.tied):
            return "A harp string has no quarter tones."
        others = harp.homes(pluck.pitch.midi)
        if others:
            called = harp.strings[others[0].string].pitch(others[0].position)
            return f"{pluck.pitch} names no string; the string that gives it is called {called}."
        return f"No string of this harp gives {pluck.pitch}."

    def sounding(
        self, struck: tuple[Strike, ...], swept: tuple[Passage, ...]
    ) -> dict[int, list[Sounding]]:
        """When the strings whose levers are moved sound."""
        harp, player = self._terms.harp, self._terms.player
        locks = {n: player.ring_lock(harp.strings[n].octave) for n in self._moving}
        found: dict[int, list[Sounding]] = {string: [] for string in self._moving}
        for strike in struck:
            for home in self._homes[strike.pluck] or ():
                if home.string not in locks:
                    continue
                standing = self._timeline.position(home.string, strike.time)
                if standing is home.position or len(self._homes[strike.pluck] or ()) == 1:
                    lock = locks[home.string]
                    until = locked_until(strike, self._printed[strike.pluck], lock)
                    found[home.string].append(Sounding(strike.time, until))
                    break
        for passage in swept:
            for string, time, end in passage.moments():
                if string.string in locks:
                    lock = locks[string.string]
                    until = min(max(end, time + lock), time + 2 * lock)
                    found[string.string].append(Sounding(time, until))
        return found


def _microtones(score: Score) -> frozenset[EventId]:
    return frozenset(
        note.id
        for name in score.harp_parts
        for measure in score.by_part[name].measures
        for note in measure.notes
        if note.microtone
    )


def _rolled(score: Score) -> frozenset[EventId]:
    return frozenset(
        note.id
        for name in score.harp_parts
        for measure in score.by_part[name].measures
        for note in measure.notes
        if note.notations and note.has(Sign.ARPEGGIATE)
    )


def busy_hands(
    score: Score,
    printed: tuple[Pluck, ...],
    struck: tuple[Strike, ...],
    swept: tuple[Passage, ...],
) -> dict[HandName, list[Busy]]:
    """When each hand is at the strings, plucking, sweeping or damping a sweep.

    What is left to the editor keeps no hand busy.
    """
    signed, left_open = _rolled(score), frozenset(score.left_open)
    rolled = [bool(signed) and p.note in signed for p in printed]
    left: dict[Microseconds, list[int]] = {}
    right: dict[Microseconds, list[int]] = {}
    for strike in struck:
        pluck = printed[strike.pluck]
        if left_open and not left_open.isdisjoint(pluck.tied):
            continue
        counts = left if pluck.hand is HandName.LEFT else right
        counts.setdefault(strike.time, []).append(strike.pluck)
    found: dict[HandName, list[Busy]] = {HandName.LEFT: [], HandName.RIGHT: []}
    for hand, counts in ((HandName.LEFT, left), (HandName.RIGHT, right)):
        for time, members in counts.items():
            is_rolled = bool(signed) and any(rolled[member] for member in members)
            last = time + (len(members) - 1) * ROLL_STEP if is_rolled else time
            found[hand].append(Busy(time, last, len(members)))
    for passage in swept:
        hands = HandName if passage.told.held else (passage.hand,)
        for hand in hands:
            found[hand].extend(Busy(begin, end, 1) for begin, end in passage.times)
    return found
