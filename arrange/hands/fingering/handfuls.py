"""What each hand plucks, moment by moment, as the page is read from its first measure to its last.

Repeats are not followed: a fingering is printed once. Between two measures that stand side by
side on the page the hand is taken to go on as they stand.
"""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import groupby

from arrange.hands.fingering.prices import AT_REST, FINGERS, HASTE
from arrange.hands.fingering.search import Step
from arrange.hands.fingering.ways import Pluckings
from arrange.score.model import EventId, HandName, Note, Score, Sign, StaffHand
from arrange.score.own import OwnCue
from arrange.score.performed import Clock
from arrange.score.plucks import Pluck, PluckKind, plucks
from arrange.sources import HOUSE_JUDGEMENT, Source
from arrange.units import Microseconds, Quarters

RESTED: Microseconds = 500_000
"""So long a rest lets the hand be placed anew."""
RESTED_SOURCE: Source = HOUSE_JUDGEMENT
_ASKED = {str(finger): finger for finger in FINGERS}


@dataclass(frozen=True, slots=True)
class Handful:
    """What one hand plucks at one moment.

    Attributes:
        hand: which.
        index, offset: the printed place; *time*: of the page played once through, microseconds.
        notes: one a string, lowest first; *fingered*: those of them that carry a fingering,
            or whose doubling in another voice does.
        step: the same as the search sees it.
    """

    hand: HandName
    index: int
    offset: Quarters
    time: Microseconds
    notes: tuple[Note, ...]
    fingered: frozenset[EventId]
    step: Step


def handfuls(
    score: Score,
    staves: tuple[StaffHand, ...],
    uncounted: frozenset[EventId] = frozenset(),
    *,
    is_bare: bool = False,
) -> dict[HandName, list[Handful]]:
    """Return what each hand of a harp plucks, in printed order.

    The strings that a glissando sweeps, the tones that an ornament adds and what a repeat sign
    stands for are not among them. A note that is left open is: the hand passes it, whatever
    the editor makes of it.

    Args:
        score: the score; the lever moves that its cues name take the hand off the strings.
        staves: the harp's.
        uncounted: notes whose fingering does not bind, though they carry one.
        is_bare: neither fingerings nor lever moves count.
    """
    count = len(score.by_part[staves[0].part].measures)
    clock = Clock(replace(score, performed=tuple(range(count))))
    maker = _Maker(score, clock, staves, None if is_bare else uncounted, count)
    rows: dict[HandName, list[Pluck]] = {HandName.LEFT: [], HandName.RIGHT: []}
    for pluck in plucks(score, staves):
        is_written = pluck.index == pluck.note.index
        if is_written and pluck.kind in (PluckKind.PLAIN, PluckKind.GRACE):
            rows[pluck.hand].append(pluck)
    return {hand: list(maker.row(hand, row)) for hand, row in rows.items()}


class _Maker:
    def __init__(
        self,
        score: Score,
        clock: Clock,
        staves: tuple[StaffHand, ...],
        uncounted: frozenset[EventId] | None,
        count: int,
    ) -> None:
        self._score = score
        self._notes = score.notes_by_id
        self._measures = score.by_part[staves[0].part].measures
        self._clock = clock
        self._uncounted = uncounted
        self._count = count
        self._swept = {s.start for s in score.sweeps} | {n for s in score.sweeps for n in s.notes}
        told = set() if uncounted is None else {staff.part for staff in staves}
        self._moves = self._lever_moves(told)
        self._order: dict[EventId, int] = {}

    def _lever_moves(self, parts: set[str]) -> dict[HandName, list[Microseconds]]:
        moves: dict[HandName, list[Microseconds]] = {HandName.LEFT: [], HandName.RIGHT: []}
        for part in sorted(parts):
            for measure in self._score.by_part[part].measures:
                for mark in measure.marks:
                    cue = OwnCue.parse(mark.own) if mark.own else None
                    index = measure.index + cue.measures_on if cue is not None else self._count
                    if cue is not None and index < self._count:
                        moves[cue.hand].append(self._clock.time(index, cue.offset))
        return {hand: sorted(times) for hand, times in moves.items()}

    def row(self, hand: HandName, row: list[Pluck]) -> Iterator[Handful]:
        """The handfuls of one hand."""
        before: Microseconds | None = None
        ended: Microseconds = 0
        is_fresh = True
        for moment in self._moments(row):
            sounding = [pluck for pluck in moment if pluck.note not in self._swept]
            is_fresh = is_fresh or any(pluck.note in self._swept for pluck in moment)
            if not sounding:
                continue
            first = sounding[0]
            time = self._clock.time(first.index, first.offset)
            if before is None or time - before >= AT_REST or time - ended >= RESTED:
                is_fresh = True
            elif not is_fresh:
                is_fresh = self._is_at_levers(hand, before, time)
            haste = 0 if before is None else sum(time - before < limit for limit in HASTE)
            yield self._handful(sounding, time, haste, is_fresh=is_fresh)
            before, is_fresh = time, False
            ended = max(map(self._end, sounding))

    def _moments(self, row: list[Pluck]) -> Iterator[list[Pluck]]:
        for (_, _, is_grace), moment in groupby(row, key=_place):
            if not is_grace:
                yield list(moment)
                continue
            if not self._order:
                self._order = {event: i for i, event in enumerate(self._notes)}
            graces = sorted(moment, key=lambda pluck: self._order[pluck.note])
            for _, chord in groupby(graces, key=lambda pluck: self._notes[pluck.note].chord):
                yield list(chord)

    def _is_at_levers(self, hand: HandName, before: Microseconds, time: Microseconds) -> bool:
        moves = self._moves[hand]
        next_move = bisect_right(moves, before)
        return next_move < len(moves) and moves[next_move] <= time

    def _end(self, pluck: Pluck) -> Microseconds:
        if pluck.end_index >= self._count:
            return self._clock.end
        return self._clock.time(pluck.end_index, pluck.end_offset)

    def _handful(
        self, moment: list[Pluck], time: Microseconds, haste: int, *, is_fresh: bool
    ) -> Handful:
        by_line = {pluck.pitch.line: pluck for pluck in reversed(moment)}
        lines = tuple(sorted(by_line))
        struck = [by_line[line] for line in lines]
        notes = tuple([self._notes[pluck.note] for pluck in struck])
        first, wanted = struck[0], [self._wanted(pluck) for pluck in struck]
        measure = self._measures[first.index]
        begin = measure.meter.length - measure.length if first.index == 0 else Quarters(0)
        return Handful(
            first.hand,
            first.index,
            first.offset,
            time,
            notes,
            frozenset(
                note.id for note, (_, is_there) in zip(notes, wanted, strict=True) if is_there
            ),
            Step(
                Pluckings(
                    lines,
                    tuple([finger for finger, _ in wanted]),
                    any(note.has(Sign.ARPEGGIATE) for note in notes if note.notations),
                ),
                haste,
                is_fresh,
                (first.offset + max(begin, Quarters(0))) % measure.meter.beat == 0,
            ),
        )

    def _wanted(self, pluck: Pluck) -> tuple[int, bool]:
        """The finger that stands at a note, 0 where none binds, and whether any stands there."""
        if self._uncounted is None:
            return 0, False
        signs = [
            (event, sign.text)
            for event in (pluck.note, *pluck.doubles)
            if self._notes[event].notations
            for sign in self._notes[event].signs(Sign.FINGERING)
        ]
        binding = [text for event, text in signs if event not in self._uncounted]
        fingers = {_ASKED.get(text.strip(), 0) for text in binding}
        return (fingers.pop() if len(fingers) == 1 else 0), bool(signs)


def _place(pluck: Pluck) -> tuple[int, Quarters, bool]:
    return pluck.index, pluck.offset, pluck.kind is PluckKind.GRACE
