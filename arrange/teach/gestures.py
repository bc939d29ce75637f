"""Lever moves as gestures: from which strings, to which levers, back to which strings."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import ceil, floor

from arrange.check import Instruction
from arrange.check.timeline import Act
from arrange.harp.harp import Position
from arrange.phrasing import capital, listed
from arrange.pitch import Pitch
from arrange.score.model import Meter
from arrange.teach.piece import Piece
from arrange.teach.strokes import Around, Stroke, Strokes
from arrange.teach.words import (
    ELLIPSIS,
    HANDS,
    beat_in,
    counted,
    other,
    seconds_text,
    span_text,
    string_text,
    strings_text,
)
from arrange.units import SECOND, Microseconds, Quarters

MOST_COUNTED = 10
"""Most beats that are counted one by one (house judgement)."""
LONGEST_COUNT = 8
"""Most beats of a rhythm to practise in, on either side of a move (house judgement)."""
BEFORE = "before"
BY_HEART = "at the start of the piece this lever stands there already"


@dataclass(frozen=True, slots=True)
class Gesture:
    """One way of a hand to the levers and back; the same one may come several times.

    Attributes:
        moves: all that it makes, in printed order.
        where: its measures; *levers*: the new notes, each with its beat; *hand*: ``L.H.``.
        names: the new notes and beats in short, ``high B natural (3)``.
        way: from which strings, back to which, and when.
        meanwhile: what the other hand does.
        spare: the least time left in its window; *spare_text*: in words.
        count: the beats, with what is done on each: a rhythm to practise it in.
    """

    moves: tuple[Instruction, ...]
    where: str
    levers: str
    names: tuple[str, ...]
    hand: str
    way: str
    meanwhile: str = ""
    spare: Microseconds = 60 * SECOND
    spare_text: str = ""
    count: tuple[tuple[str, str], ...] = ()


_Trip = tuple[Act, ...]
"""What a hand moves between two of its strokes."""


def gestures(piece: Piece) -> tuple[Gesture, ...]:
    """Return the lever moves of a piece as gestures, in printed order of their first."""
    maker = _Maker(piece)
    alike: dict[tuple[object, ...], list[_Trip]] = {}
    for trip in maker.trips():
        alike.setdefault(maker.look(trip), []).append(trip)
    found = [maker.gesture(trips) for trips in alike.values()]
    found += [_idle(piece, move) for move in piece.told.moves if move not in piece.first_acts]
    found.sort(key=lambda g: (g.moves[0].index, g.moves[0].offset))
    return tuple(found)


def _idle(piece: Piece, move: Instruction) -> Gesture:
    """A move that is never made when the piece is played through."""
    where = span_text(piece.measures, (move.index,))
    lever = _lever(piece, move)
    return Gesture((move,), where, capital(lever), (lever,), HANDS[move.hand], BY_HEART)


class _Maker:
    """Finds what the hands do around moves."""

    def __init__(self, piece: Piece) -> None:
        self._piece = piece
        self._strokes = Strokes(piece)
        self._plucked = {(s.time, piece.printed[s.pluck].pitch.line) for s in piece.struck}

    def trips(self) -> Iterator[_Trip]:
        """The moves that are really made, those of one way together."""
        acts = sorted(self._piece.first_acts.values(), key=lambda a: (a.instruction.hand, a.time))
        for _, trip in groupby(acts, key=self._way_key):
            yield tuple(trip)

    def _way_key(self, act: Act) -> tuple[object, ...]:
        around = self._strokes.around(act)
        move = act.instruction
        return (move.hand, move.passes, move.index, *(s and (s.time, s.pitches) for s in around))

    def look(self, trip: _Trip) -> tuple[object, ...]:
        """What makes two ways one gesture."""
        same = [(a.instruction.string, a.instruction.position, a.instruction.offset) for a in trip]
        around = self._strokes.around(trip[0])
        told = [None if s is None else (s.offset, s.pitches) for s in around]
        return (trip[0].instruction.hand, trip[0].instruction.passes, *same, *told)

    def gesture(self, trips: Sequence[_Trip]) -> Gesture:
        """Say what is done."""
        piece, trip = self._piece, trips[0]
        first = trip[0].instruction
        where = span_text(piece.measures, (t[0].instruction.index for t in trips))
        if first.passes:
            where += f" (only time {listed([str(n) for n in first.passes])})"
        levers = [self._lever_and_beat(act) for act in trip]
        around = self._strokes.around(trip[0])
        moves = [act.instruction for one in trips for act in one]
        spare = min(piece.spare.get(m, 60 * SECOND) for m in moves)
        return Gesture(
            tuple(sorted(moves, key=lambda m: (m.index, m.offset, m.string))),
            where,
            capital(listed(levers)),
            tuple(self._in_short(act) for act in trip),
            HANDS[first.hand],
            self._way(first, around),
            self._meanwhile(trip, around),
            spare,
            seconds_text(spare),
            tuple(self._count(trip, around)),
        )

    def _lever_and_beat(self, act: Act) -> str:
        beat = self._beat(act)
        is_late = beat.startswith(BEFORE)
        when = f"on beat {beat}"
        if is_late:
            when = f"just {BEFORE} it sounds on beat {beat.removeprefix(BEFORE).strip()}"
        return f"{_lever(self._piece, act.instruction)} {when}"

    def _in_short(self, act: Act) -> str:
        return f"{_lever(self._piece, act.instruction).partition(' (')[0]} ({self._beat(act)})"

    def _beat(self, act: Act) -> str:
        """``4``; ``before 4`` where its string is plucked on that very beat."""
        move = act.instruction
        beat = beat_in(self._piece.measures, move.index, move.offset)
        line = self._piece.harp.strings[act.string].open.line
        return f"{BEFORE} {beat}" if (act.time, line) in self._plucked else beat

    def _way(self, move: Instruction, around: Around) -> str:
        before, after = around
        at = "from the lap" if before is None else f"from {self._said(before, move)}"
        to = "then free" if after is None else f"back to {self._said(after, move)}"
        return f"{at}, {to}"

    def _said(self, stroke: Stroke, move: Instruction) -> str:
        measures = self._piece.measures
        where = f"beat {beat_in(measures, stroke.index, stroke.offset)}"
        if stroke.index != move.index:
            where = f"{span_text(measures, (stroke.index,))} {where}"
        return f"{strings_text(stroke.pitches)} ({where})"

    def _meanwhile(self, trip: _Trip, around: Around) -> str:
        before, after = around
        hand = other(trip[0].instruction.hand)
        begin = trip[0].time - 2 * SECOND if before is None else before.time
        end = trip[-1].time + 2 * SECOND if after is None else after.time
        heard = self._strokes.between(hand, begin, end)
        name = HANDS[hand]
        if not heard:
            return f"{name} is still: let its strings ring"
        if len(heard) == 1:
            return f"{name} plays {strings_text(heard[0].pitches)} alone"
        tune = strings_text(s.pitches[-1] for s in heard[:4])
        more = f" {ELLIPSIS} ({counted(len(heard), 'stroke')})" if len(heard) > 4 else ""
        at_once = next((s for s in heard if s.time == trip[0].time), None)
        hit = "" if at_once is None else f"; on the lever: {strings_text(at_once.pitches)}"
        return f"{name} goes on: {tune}{more}{hit}"

    def _count(self, trip: _Trip, around: Around) -> Iterator[tuple[str, str]]:
        """Beats with what is done on them, from the last notes to the next."""
        move = trip[0].instruction
        here = self._piece.clock.occurrences(move.index)[trip[0].nth - 1]
        meter = self._piece.measures[move.index].meter
        played, again = (
            None if s is None else self._strokes.apart(s, here) - move.offset for s in around
        )
        names = {
            act.instruction.offset - move.offset: (
                self._beat(act),
                _short(self._piece, act.instruction),
            )
            for act in trip
        }
        unit = _unit(meter, [d for d in (played, again, *names) if d])
        if unit is None:
            yield from self._bare_count(trip, around)
            return
        first = -1 if played is None else max(floor(played / unit), -LONGEST_COUNT)
        last = max(names) / unit + 1 if again is None else again / unit
        for place in range(first, min(ceil(last), LONGEST_COUNT) + 1):
            if place * unit in names:
                yield names[place * unit]
                continue
            index, offset = self._strokes.at(here, move.offset + place * unit)
            done = _act(place, unit, (played, again))
            yield beat_in(self._piece.measures, index, offset), done

    def _bare_count(self, trip: _Trip, around: Around) -> Iterator[tuple[str, str]]:
        """Only what is done, where the beats between are too many or too odd to count."""
        measures = self._piece.measures
        before, after = around
        if before is not None:
            yield beat_in(measures, before.index, before.offset), "play"
        for act in trip:
            yield self._beat(act), _short(self._piece, act.instruction)
        if after is not None:
            yield beat_in(measures, after.index, after.offset), "play"


def _pitch(piece: Piece, move: Instruction) -> Pitch | None:
    number = piece.harp.string_named(move.string)
    return None if number is None else piece.harp.strings[number].pitch(move.position)


def _lever(piece: Piece, move: Instruction) -> str:
    """``high B natural (lever up)``."""
    pitch = _pitch(piece, move)
    name = move.string if pitch is None else string_text(pitch)
    natural = " natural" if pitch is not None and not pitch.alter else ""
    return f"{name}{natural} (lever {'up' if move.position is Position.UP else 'down'})"


def _short(piece: Piece, move: Instruction) -> str:
    """``B♮``: what is said on its count."""
    pitch = _pitch(piece, move)
    if pitch is None:
        return move.string
    return string_text(pitch).rpartition(" ")[2] + (
        "" if pitch.alter else "\N{MUSIC NATURAL SIGN}"
    )


def _unit(meter: Meter, distances: Sequence[Quarters]) -> Quarters | None:
    """What is counted: beats, or the largest parts of them that all of it falls on.

    None where so many would be counted that nobody could.
    """
    beat = meter.beat
    is_compound = beat > Quarters(4, meter.beat_type)
    parts = (1, 3, 6, 12) if is_compound else (1, 2, 4, 8)
    unit = next((beat / p for p in parts if all(d % (beat / p) == 0 for d in distances)), None)
    length = max(distances, default=beat) - min(*distances, Quarters(0), Quarters(0))
    return unit if unit is not None and length / unit <= MOST_COUNTED else None


def _act(place: int, unit: Quarters, around: tuple[Quarters | None, Quarters | None]) -> str:
    """What is done on a count that moves no lever."""
    played, again = (None if d is None else d / unit for d in around)
    if place < 0:
        if played is not None and place <= played:
            return "play"
        return "reach" if place == -1 else "ring"
    if again is not None and place >= again:
        return "play"
    return "place" if again is not None and place + 1 >= again else "wait"
