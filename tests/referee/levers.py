"""Replaying the levers: does every pluck find its string, and every move its hand and quiet?"""

from bisect import bisect_left
from collections import defaultdict
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from referee import pitches
from referee.clock import Clock
from referee.faults import GRAIN_S, Fault, listed, said, seconds
from referee.plucks import Moment, Pluck
from referee.summary import Move, Summary

THREE_MORE_S = Fraction(3, 10)
"""Added to ``back_s`` when three or more notes must be placed."""
SLACK_GRAIN_S = Fraction(1, 100)
"""A slack is a figure for people and may be rounded so far."""
MOST_NOTES = 4
UP = "up"
START = Fraction(0)


@dataclass(frozen=True, slots=True)
class Act:
    """A move that really has to be made: on one pass, at one time."""

    move: Move
    when: Moment
    time: Fraction
    turn: int

    @property
    def place(self) -> str:
        """In words."""
        return said(self.move.part, self.move.index, self.move.offset, self.turn)


@dataclass(frozen=True, slots=True)
class Strike:
    """What one hand strikes at one moment."""

    when: Moment
    time: Fraction
    strings: frozenset[str]


class Replay:
    """One harp, from the first setting to the last note."""

    def __init__(
        self, summary: Summary, clock: Clock, plucks: list[Pluck], harp: frozenset[str]
    ) -> None:
        self.summary, self.clock, self.harp = summary, clock, harp
        self.plucks = [pluck for pluck in plucks if not pluck.open]
        self.position = {
            string: position
            for part, string, position in summary.initial
            if not part or part in harp
        }
        self.lock: dict[str, Fraction] = {}
        self.acts: list[Act] = []
        self.faults: list[Fault] = []
        self.strikes = {hand: self.strikes_of(hand) for hand in ("left", "right")}
        self.moments = {h: [s.when for s in strikes] for h, strikes in self.strikes.items()}

    def run(self) -> list[Fault]:
        """Every fault of this harp's levers and hands."""
        moments: list[Act | Pluck] = [*self.performed_moves(), *self.plucks]
        for moment in sorted(moments, key=order_of):
            if isinstance(moment, Pluck):
                self.sound(moment)
            else:
                self.turn_lever(moment)
        for act in self.acts:
            self.judge_hand(act)
        self.judge_pairs()
        self.judge_grips()
        return self.faults

    def fault(self, kind: str, place: str, sentence: str) -> None:
        """Keep a fault."""
        self.faults.append(Fault(kind, place, sentence))

    def performed_moves(self) -> list[Act]:
        """Every move on every pass that it acts on."""
        by_index: dict[int, list[Move]] = defaultdict(list)
        for move in self.summary.moves:
            if move.part in self.harp:
                by_index[move.index].append(move)
        turns, acts = self.clock.passes(), []
        for step, index in enumerate(self.clock.performed):
            for move in by_index.get(index, ()):
                if move.passes is None or turns[step] in move.passes:
                    when = (self.clock.place(step, move.offset), step, 0)
                    time = self.clock.seconds(step, move.offset)
                    acts.append(Act(move, when, time, turns[step]))
        return acts

    def turn_lever(self, act: Act) -> None:
        """A set-instruction: nothing to do where the lever stands there already."""
        string, goal = act.move.string, act.move.position
        if string not in self.position:
            self.fault("string", act.place, f"{string} has no lever")
            return
        if self.position[string] == goal:
            return
        self.position[string] = goal
        self.acts.append(act)
        self.judge_quiet(act)

    def judge_quiet(self, act: Act) -> None:
        """The ring lock: the string must be left alone for a while after its pluck."""
        player = self.summary.players.get(act.move.hand)
        begins = act.time - (player.move_s if player else 0)
        until = self.lock.get(act.move.string)
        if until is not None and until > begins + GRAIN_S:
            sentence = (
                f"the lever of {act.move.string} moves from {seconds(begins)}, but its string "
                f"must be left alone until {seconds(until)}"
            )
            self.fault("ring", act.place, sentence)

    def sound(self, pluck: Pluck) -> None:
        """A pluck: the string exists and stands where the note asks."""
        place = said(pluck.part, pluck.index, pluck.offset, pluck.turn)
        known = self.summary.strings.get(pluck.string)
        if known is None:
            self.fault("string", place, f"{listed(pluck.names)}: no string {pluck.string}")
            return
        self.lock[pluck.string] = max(self.locked_until(pluck), self.lock.get(pluck.string, START))
        has = known[1] if self.position.get(pluck.string) == UP else known[0]
        if not pluck.names or has in pluck.names:
            return
        if not set(known) & set(pluck.names):
            sentence = f"{listed(pluck.names)} is not to be had on string {pluck.string}"
            self.fault("string", place, sentence)
            return
        sentence = f"string {pluck.string} stands at {has}, the note is {listed(pluck.names)}"
        self.fault("position", place, sentence)

    def locked_until(self, pluck: Pluck) -> Fraction:
        """Until when the lever must not be touched."""
        if pluck.damped:
            return pluck.end
        lock = self.summary.ring(pitches.parsed(pluck.string)[2])
        return min(max(pluck.end, pluck.time + lock), pluck.time + 2 * lock)

    def strikes_of(self, hand: str) -> list[Strike]:
        """What a hand strikes, moment by moment; a unison of both hands binds neither."""
        groups: dict[tuple[Moment, bool], list[Pluck]] = defaultdict(list)
        for pluck in self.plucks:
            if pluck.hands == {hand}:
                groups[pluck.when, not pluck.grace].append(pluck)
        return [
            Strike(when, plucks[0].time, frozenset(p.string for p in plucks))
            for (when, _), plucks in sorted(groups.items(), key=lambda item: item[0])
        ]

    def judge_hand(self, act: Act) -> None:
        """The move has a hand that is free before and after."""
        hand = act.move.hand
        player = self.summary.players.get(hand)
        if player is None:
            self.fault("hand", act.place, f"no {hand} hand moves levers here")
            return
        stretch = self.summary.stretch(pitches.parsed(act.move.string)[2])
        at = bisect_left(self.moments[hand], act.when)
        begins = act.time - player.move_s
        spare: list[Fraction] = []
        if at:
            rest, need = begins - self.strikes[hand][at - 1].time, player.away_s * stretch
            spare.append(rest - need)
            self.judge_rest(act, rest, need, "after its last pluck")
        if at < len(self.strikes[hand]):
            following = self.strikes[hand][at]
            more = THREE_MORE_S if len(following.strings) > 2 else 0
            rest, need = following.time - act.time, player.back_s * stretch + more
            spare.append(rest - need)
            self.judge_rest(act, rest, need, "before its next pluck")
        if len(spare) == 2 and min(spare) >= 0 and act.move.slack_s > sum(spare) + SLACK_GRAIN_S:
            sentence = f"{seconds(act.move.slack_s)} of slack, where {seconds(sum(spare, START))}"
            self.fault("slack", act.place, f"{sentence} are left in the window")
        self.judge_held(act, begins)

    def judge_rest(self, act: Act, has: Fraction, need: Fraction, side: str) -> None:
        """One side of a move's window."""
        if has + GRAIN_S < need:
            sentence = (
                f"the {act.move.hand} hand has {seconds(has)} {side} for the lever of "
                f"{act.move.string} and needs {seconds(need)}"
            )
            self.fault("hand", act.place, sentence)

    def judge_held(self, act: Act, begins: Fraction) -> None:
        """A hand that damps strings under a glissando moves no lever meanwhile."""
        for sweep in self.summary.sweeps:
            if not sweep.held or sweep.hand == act.move.hand or sweep.part not in self.harp:
                continue
            for step, index in enumerate(self.clock.performed):
                if index != sweep.index:
                    continue
                start = self.clock.seconds(step, sweep.offset)
                end = self.clock.seconds(*self.clock.until(step, *sweep.until))
                if begins < end - GRAIN_S and act.time > start + GRAIN_S:
                    self.fault("hand", act.place, f"the {act.move.hand} hand damps strings then")

    def judge_pairs(self) -> None:
        """One move a hand at a time."""
        for hand, player in self.summary.players.items():
            acts = [act for act in self.acts if act.move.hand == hand]
            for one, two in pairwise(acts):
                if player and two.time - one.time + GRAIN_S < player.move_s:
                    sentence = f"the {hand} hand still moves the lever of {one.move.string}"
                    self.fault("hand", two.place, sentence)

    def judge_grips(self) -> None:
        """At most four notes a hand, struck together.

        No page says when the later notes of an ornament fall, and a tremolo is shared by two
        hands in turn (common practice).
        """
        left_open = {(o.part, o.index, o.offset) for o in self.summary.open}
        groups: dict[tuple[Moment, bool, str], list[Pluck]] = defaultdict(list)
        for pluck in self.plucks:
            if not (pluck.swept or pluck.again) and len(pluck.hands) == 1:
                groups[pluck.when, pluck.grace, next(iter(pluck.hands))].append(pluck)
        for (_, _, hand), plucks in sorted(groups.items()):
            first = plucks[0]
            strings = sorted({p.string for p in plucks})
            rolled = any(p.rolled for p in plucks)
            if len(strings) <= MOST_NOTES or rolled:
                continue
            if (first.part, first.index, first.offset) not in left_open:
                place = said(first.part, first.index, first.offset, first.turn)
                sentence = f"the {hand} hand strikes {len(strings)} strings: {listed(strings)}"
                self.fault("grip", place, sentence)


def order_of(moment: Act | Pluck) -> tuple[Moment, bool]:
    """Moves before plucks, grace notes before the others."""
    return moment.when, isinstance(moment, Pluck) and not moment.grace
