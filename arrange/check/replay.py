"""The whole score replayed, pass by pass: every pluck, every move, every grip, every sweep."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from arrange.check.grips import grip_violations
from arrange.check.instructions import (
    HarpInstructions,
    Instruction,
    Instructions,
    Spot,
    Violation,
)
from arrange.check.moves import HandWatch, standing_problem
from arrange.check.plucking import Plucking, Terms, busy_hands
from arrange.check.sweeping import Passage, damping_violations, passages, sweep_violations
from arrange.check.timeline import Timeline
from arrange.hands.player import Player
from arrange.harp.harp import Harp, Position
from arrange.score.model import Score, StaffHand
from arrange.score.performed import Clock, clock_of
from arrange.score.plucks import Pluck, Strike, plucks, struck
from arrange.units import Microseconds, Quarters


def check(
    score: Score, harp: Harp, player: Player, instructions: Instructions
) -> tuple[Violation, ...]:
    """Return what of the score cannot be played as told, in score order, each thing once."""
    found = dict.fromkeys(instructions.troubles)
    for replay in _replays(score, harp, player, instructions):
        found.update(dict.fromkeys(replay.violations()))
    parts = {name: place for place, name in enumerate(score.by_part)}
    return tuple(sorted(found, key=lambda v: (v.index, v.offset, parts[v.part], v.staff)))


def spare_times(
    score: Score, harp: Harp, player: Player, instructions: Instructions
) -> dict[Instruction, Microseconds]:
    """For each move that is ever made, the least time left in its hand's window."""
    found: dict[Instruction, Microseconds] = {}
    for replay in _replays(score, harp, player, instructions):
        if replay.told.moves:
            watch = replay.watch
            for act in replay.timeline.acts:
                spare = watch.spare_time(act)
                found[act.instruction] = min(spare, found.get(act.instruction, spare))
    return found


def _replays(
    score: Score, harp: Harp, player: Player, instructions: Instructions
) -> "Iterator[_Replay]":
    is_told = instructions.left_open == frozenset(score.left_open)
    if instructions.reassigned != score.reassigned or not is_told:
        left_open = tuple(sorted(instructions.left_open))
        score = replace(score, reassigned=instructions.reassigned, left_open=left_open)
    clock = clock_of(score)
    terms = Terms(score, harp, player, instructions)
    for staves, told in zip(score.harps, instructions.harps, strict=True):
        yield _Replay(terms, clock, staves, told)


@dataclass
class _Replay:
    """One harp's replay."""

    terms: Terms
    clock: Clock
    staves: tuple[StaffHand, ...]
    told: HarpInstructions

    @cached_property
    def printed(self) -> tuple[Pluck, ...]:
        return plucks(self.terms.score, self.staves)

    @cached_property
    def struck(self) -> tuple[Strike, ...]:
        return struck(self.terms.score, self.staves)

    @cached_property
    def timeline(self) -> Timeline:
        return Timeline(self.terms.harp, self.told.initial, self.told.moves, self.clock)

    @cached_property
    def swept(self) -> tuple[Passage, ...]:
        terms = self.terms
        if not terms.score.sweeps:
            return ()
        return passages(terms.score, terms.harp, self.staves, terms.instructions, self.clock)

    @cached_property
    def plucking(self) -> Plucking:
        return Plucking(self.terms, self.printed, self.timeline)

    @property
    def watch(self) -> HandWatch:
        """Over the hands, from the beginning."""
        return HandWatch(
            self.terms.harp,
            self.terms.player,
            busy_hands(self.terms.score, self.printed, self.struck, self.swept),
            self.plucking.sounding(self.struck, self.swept),
        )

    def violations(self) -> Iterator[Violation]:
        terms = self.terms
        yield from self.plucking.violations(self.struck)
        yield from self._setting_violations()
        for move in self.told.moves:
            problem = standing_problem(move, terms.harp, terms.player)
            if problem:
                yield self._at_move(move, problem)
        yield from self._move_violations()
        yield from grip_violations(
            terms.score, self.printed, terms.instructions.left_open, terms.player
        )
        for passage in self.swept:
            yield from sweep_violations(terms.score, terms.harp, passage, self.timeline)
            yield from damping_violations(
                terms.score, terms.harp, passage, self.printed, self.struck
            )

    def _move_violations(self) -> Iterator[Violation]:
        if not self.timeline.acts:
            return
        watch = self.watch
        for act in self.timeline.acts:
            for problem in watch.problems(act):
                yield self._at_move(act.instruction, problem)

    def _setting_violations(self) -> Iterator[Violation]:
        """What is wrong with how the levers are said to stand before the first note."""
        strings = self.terms.harp.strings
        first = self.staves[0]
        place = Spot(first.part, 0, Quarters(0), first.staff)
        unsaid = [
            s.name for s in strings if s.raised is not None and s.name not in self.told.initial
        ]
        if unsaid:
            text = f"Nothing says how the levers of {', '.join(unsaid)} stand at the start."
            yield Violation.at(self.terms.score, place, (), text)
        names = {s.name for s in strings if s.raised is not None}
        for name, position in self.told.initial.items():
            if name not in names and position is Position.UP:
                text = f"The {name} string has no lever to raise on this harp."
                yield Violation.at(self.terms.score, place, (), text)

    def _at_move(self, move: Instruction, problem: str) -> Violation:
        own = [s.staff for s in self.staves if s.part == move.part and s.hand is move.hand]
        place = Spot(move.part, move.index, move.offset, own[0] if own else 1)
        harp = self.terms.harp
        number = harp.string_named(move.string)
        pitch = None if number is None else harp.strings[number].pitch(move.position)
        return Violation.at(self.terms.score, place, (str(pitch),) if pitch else (), problem)
