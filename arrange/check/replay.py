"""The whole score replayed, pass by pass: every pluck, every move, every grip, every sweep."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from arrange.check.grips import grip_violations
from arrange.check.instructions import (
    HarpInstructions,
    Instruction,
    Instructions,
    Spot,
    Violation,
)
from arrange.check.moves import Busy, HandWatch, Sounding, standing_problem
from arrange.check.sweeping import Passage, damping_violations, passages, sweep_violations
from arrange.check.timeline import Timeline
from arrange.hands.player import Player
from arrange.harp.harp import Harp, Home, Position
from arrange.score.model import EventId, HandName, Score, Sign, StaffHand
from arrange.score.performed import Clock
from arrange.score.plucks import Pluck, PluckKind, Strike, locked_until, plucks, strikes
from arrange.units import Microseconds, Quarters

ROLL_STEP: Microseconds = 80_000
"""From one note of a roll to the next: 80 to 150 ms in an expressive one (from memory)."""


def check(
    score: Score, harp: Harp, player: Player, instructions: Instructions
) -> tuple[Violation, ...]:
    """Return what of the score cannot be played as told, in score order, each thing once."""
    if instructions.reassigned != score.reassigned:
        score = replace(score, reassigned=instructions.reassigned)
    found = dict.fromkeys(instructions.troubles)
    clock = Clock(score)
    for staves, told in zip(score.harps, instructions.harps, strict=True):
        replay = _Replay(score, harp, player, instructions, clock)
        found.update(dict.fromkeys(replay.violations(staves, told)))
    parts = {name: place for place, name in enumerate(score.by_part)}
    return tuple(sorted(found, key=lambda v: (v.index, v.offset, parts[v.part], v.staff)))


@dataclass
class _Replay:
    score: Score
    harp: Harp
    player: Player
    instructions: Instructions
    clock: Clock

    def violations(
        self, staves: tuple[StaffHand, ...], told: HarpInstructions
    ) -> Iterator[Violation]:
        printed = plucks(self.score, staves)
        struck = strikes(printed, self.clock)
        timeline = Timeline(self.harp, told.initial, told.moves, self.clock)
        swept: tuple[Passage, ...] = ()
        if self.score.sweeps:
            swept = passages(self.score, self.harp, staves, self.instructions, self.clock)
        plucking = _Plucking(self, printed, timeline)
        yield from plucking.violations(struck)
        yield from self._setting(staves, told)
        yield from self._standing(staves, told.moves)
        if timeline.acts:
            busy = _busy(self.score, printed, struck, swept)
            sounding = plucking.sounding(struck, swept)
            watch = HandWatch(self.harp, self.player, busy, sounding)
            for act in timeline.acts:
                for problem in watch.problems(act):
                    yield self._at_move(staves, act.instruction, problem)
        yield from grip_violations(self.score, printed, self.instructions.left_open, self.player)
        for passage in swept:
            yield from sweep_violations(self.score, self.harp, passage, timeline)
            yield from damping_violations(self.score, self.harp, passage, printed, struck)

    def _setting(
        self, staves: tuple[StaffHand, ...], told: HarpInstructions
    ) -> Iterator[Violation]:
        """What is wrong with how the levers are said to stand before the first note."""
        names = {s.name for s in self.harp.strings if s.raised is not None}
        place = Spot(staves[0].part, 0, Quarters(0), staves[0].staff)
        unsaid = [s.name for s in self.harp.strings if s.name in names - told.initial.keys()]
        if unsaid:
            text = f"Nothing says how the levers of {', '.join(unsaid)} stand at the start."
            yield Violation.at(self.score, place, (), text)
        for name, position in told.initial.items():
            if name not in names and position is Position.UP:
                text = f"The {name} string has no lever to raise on this harp."
                yield Violation.at(self.score, place, (), text)

    def _standing(
        self, staves: tuple[StaffHand, ...], moves: tuple[Instruction, ...]
    ) -> Iterator[Violation]:
        for move in moves:
            problem = standing_problem(move, self.harp, self.player)
            if problem:
                yield self._at_move(staves, move, problem)

    def _at_move(
        self, staves: tuple[StaffHand, ...], move: Instruction, problem: str
    ) -> Violation:
        own = [s.staff for s in staves if s.part == move.part and s.hand is move.hand]
        place = Spot(move.part, move.index, move.offset, own[0] if own else 1)
        number = self.harp.string_named(move.string)
        pitch = None if number is None else self.harp.strings[number].pitch(move.position)
        return Violation.at(self.score, place, (str(pitch),) if pitch else (), problem)


class _Plucking:
    """Every pluck on its string."""

    def __init__(self, replay: _Replay, printed: tuple[Pluck, ...], timeline: Timeline) -> None:
        self._replay = replay
        self._printed = printed
        self._timeline = timeline
        self._silent = _microtones(replay.score)
        self._homes = [self._homes_of(pluck) for pluck in printed]
        self._moving = timeline.moving

    def _homes_of(self, pluck: Pluck) -> tuple[Home, ...] | None:
        """Where a pluck may be played; None where it is left to the editor."""
        replay = self._replay
        left_open = replay.instructions.left_open
        if left_open and not left_open.isdisjoint((*pluck.tied, *pluck.doubles)):
            return None
        if self._silent and not self._silent.isdisjoint(pluck.tied):
            return ()
        if pluck.kind is PluckKind.AUXILIARY or replay.instructions.is_by_ear:
            return replay.harp.homes(pluck.pitch.midi)
        home = replay.harp.home_as_spelled(pluck.pitch)
        return () if home is None else (home,)

    def violations(self, struck: tuple[Strike, ...]) -> Iterator[Violation]:
        wrong: set[int] = set()
        position = self._timeline.position
        for strike in struck:
            number = strike.pluck
            homes = self._homes[number]
            if homes is None or number in wrong:
                continue
            if not any(position(h.string, strike.time) is h.position for h in homes):
                wrong.add(number)
        for number in sorted(wrong):
            pluck = self._printed[number]
            place = Spot(pluck.part, pluck.index, pluck.offset, pluck.staff)
            text = self._problem(pluck, self._homes[number])
            yield Violation.at(self._replay.score, place, (str(pluck.pitch),), text)

    def _problem(self, pluck: Pluck, homes: tuple[Home, ...] | None) -> str:
        harp = self._replay.harp
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
        harp, player = self._replay.harp, self._replay.player
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


def _busy(
    score: Score,
    printed: tuple[Pluck, ...],
    struck: tuple[Strike, ...],
    swept: tuple[Passage, ...],
) -> dict[HandName, list[Busy]]:
    """When each hand is at the strings."""
    signed = _rolled(score)
    rolled = [bool(signed) and p.note in signed for p in printed]
    counts: dict[tuple[HandName, Microseconds], list[int]] = {}
    for strike in struck:
        key = (printed[strike.pluck].hand, strike.time)
        counts.setdefault(key, []).append(strike.pluck)
    found: dict[HandName, list[Busy]] = {HandName.LEFT: [], HandName.RIGHT: []}
    for (hand, time), members in counts.items():
        is_rolled = any(rolled[member] for member in members)
        last = time + (len(members) - 1) * ROLL_STEP if is_rolled else time
        found[hand].append(Busy(time, last, len(members)))
    for passage in swept:
        found[passage.hand].extend(Busy(begin, end, 1) for begin, end in passage.times)
    return found
