"""What is known of a piece before anything is said about it: notes, levers, hands, in time."""

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from arrange.check import HarpInstructions, Instruction, Instructions, spare_times
from arrange.check.timeline import Act
from arrange.check.timeline import Timeline as LeverTimeline
from arrange.hands.fingering import Fingered, HandFingering, fingering
from arrange.hands.player import Player
from arrange.harp.harp import Harp, Position
from arrange.score.model import EventId, HandName, Measure, Score, StaffHand
from arrange.score.performed import Clock
from arrange.score.plucks import Pluck, Strike, plucks, strikes
from arrange.study.difficulty import Difficulty, MoveAsked, difficulty
from arrange.study.glissandi import StandingSweep, standing_sweeps
from arrange.study.harmony import Harmony
from arrange.study.phrases import harmony
from arrange.study.roles import Role, roles
from arrange.study.timeline import Sounding, Timeline, timeline
from arrange.units import Microseconds, Quarters


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One harp's music with its levers and hands.

    Attributes:
        score: read from its bytes; *staves*: those of the harp.
        harp: that it is played on; *player*: whose hands play it.
        instructions: what the player is told; *told*: the same for this harp.
        measures: of the harp's first part.
        clock: performed time; *levers*: where each stands in it.
        line: the notes on a line of ticks; *chords*: of each beat.
        melody: its notes in order of time, one at a time but for small notes.
        printed: what is plucked, as printed.
        open: the notes that are left open; *struck*: the others, as they are played.
        fingering: of each hand, left hand first.
        sweeps: its glissandi.
        spare: the least time that each move has left; *first_acts*: where each is first made.
        difficulty: measure by measure.
    """

    score: Score
    staves: tuple[StaffHand, ...]
    harp: Harp
    player: Player
    instructions: Instructions
    told: HarpInstructions
    measures: tuple[Measure, ...]
    clock: Clock
    levers: LeverTimeline
    line: Timeline
    chords: Harmony
    melody: tuple[Sounding, ...]
    printed: tuple[Pluck, ...]
    open: frozenset[EventId]
    struck: tuple[Strike, ...]
    fingering: tuple[HandFingering, ...]
    sweeps: tuple[StandingSweep, ...]
    spare: Mapping[Instruction, Microseconds]
    first_acts: Mapping[Instruction, Act]
    difficulty: Difficulty

    def setting(self, place: int) -> dict[str, Position]:
        """How the levers stand before the first note of the pass number *place*.

        One after the last is the end of the piece.
        """
        is_over = place >= len(self.clock.passes)
        time = self.clock.end if is_over else self.clock.time(place, Quarters(0))
        return {
            string.name: self.levers.position(i, time)
            for i, string in enumerate(self.harp.strings)
            if string.name in self.told.initial
        }

    def measure_at(self, tick: int) -> int:
        """The measure that *tick* lies in."""
        return bisect_right(self.line.starts, tick) - 1

    def handfuls(self, hand: HandName) -> Iterator[Fingered]:
        """What one hand plucks, with its fingers, in printed order; open notes too."""
        for one in self.fingering:
            if one.hand is hand:
                for placing in one.placings:
                    yield from placing.row


def piece_of(
    score: Score, harp: Harp, player: Player, instructions: Instructions, number: int = 0
) -> Piece:
    """Return what is known of one harp's music.

    Args:
        score: read from its bytes.
        harp: that it is played on.
        player: whose hands play it.
        instructions: what the player is told about the levers.
        number: which of the score's harps.
    """
    staves, told = score.harps[number], instructions.harps[number]
    clock = Clock(score)
    levers = LeverTimeline(harp, told.initial, told.moves, clock)
    printed, left_open = plucks(score, staves), frozenset(score.left_open)
    spare = spare_times(score, harp, player, instructions)
    asked = [MoveAsked(move.index, spare.get(move, 0)) for move in told.moves]
    line = timeline(score, staves)
    first: dict[Instruction, Act] = {}
    for act in levers.acts:
        first.setdefault(act.instruction, act)
    return Piece(
        score=score,
        staves=staves,
        harp=harp,
        player=player,
        instructions=instructions,
        told=told,
        measures=score.by_part[staves[0].part].measures,
        clock=clock,
        levers=levers,
        line=line,
        chords=harmony(score, staves),
        melody=_melody(score, line),
        printed=printed,
        open=left_open,
        struck=tuple(
            strike
            for strike in strikes(printed, clock)
            if left_open.isdisjoint(printed[strike.pluck].tied)
        ),
        fingering=fingering(score, staves, player),
        sweeps=standing_sweeps(score, harp, staves),
        spare=spare,
        first_acts=first,
        difficulty=difficulty(score, staves, asked),
    )


def _melody(score: Score, line: Timeline) -> tuple[Sounding, ...]:
    named = roles(score)
    found: dict[tuple[int, bool, str], Sounding] = {}
    for note in line.notes:
        if named[note.ids[0]].role is Role.MELODY:
            apart = note.note.id.key if note.is_grace else ""
            found[note.start, not note.is_grace, apart] = note
    return tuple(found[key] for key in sorted(found, key=lambda k: (k[0], k[1])))
