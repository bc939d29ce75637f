"""What glissandi mean on a harp: which strings, which lever positions, how fast, which hand."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from arrange.harp.harp import Harp, Position
from arrange.pitch import Interval, Pitch
from arrange.score.model import HandName, Note, Score, StaffHand, Sweep
from arrange.score.performed import Clock, clock_of
from arrange.score.plucks import plucks, strikes
from arrange.score.sweep_words import sweep_words
from arrange.score.swept import SweptString, sweep_strings, tone_classes, transposed
from arrange.study.damping import DAMPED_PACE, Damping
from arrange.study.keysignature import wanted_positions
from arrange.study.planning import (
    Place,
    SweptStrings,
)
from arrange.study.terms import Terms
from arrange.units import SECOND, Microseconds

ORDINARY_PACE = Fraction(30)
"""Strings a second where the notation gives a glissando no time of its own, as after a grace
note (ordinary sweeps take 20 to 45; from memory)."""


@dataclass(frozen=True, slots=True)
class StandingSweep:
    """A glissando as it stands in the score, on this harp.

    Attributes:
        sweep: as the score has it; *hand*: that sweeps.
        strings: places in the harp, in order of the sweep, those of start and end included.
        demands: string and position that its tones ask for, foreign and held strings aside.
        foreign: strings that sound beside its tones; *held*: strings that the other hand damps.
        missing: names of strings whose tone no lever position gives, or that do not exist.
        begin, end: printed places.
        strings_per_s: in its fastest playing.
    """

    sweep: Sweep
    hand: HandName
    strings: tuple[int, ...]
    demands: tuple[tuple[int, Position], ...]
    foreign: tuple[int, ...]
    held: tuple[int, ...]
    missing: tuple[str, ...]
    begin: Place
    end: Place
    strings_per_s: Fraction

    @property
    def is_possible(self) -> bool:
        """Whether this harp has its tones, and it is slow enough for a hand that damps."""
        is_too_fast = bool(self.held) and self.strings_per_s > DAMPED_PACE
        return not self.missing and not is_too_fast


def harp_sweeps(
    score: Score, staves: tuple[StaffHand, ...]
) -> Iterator[tuple[Sweep, Note, HandName]]:
    """Yield the glissandi of one harp that are not left open: each with its start and hand."""
    if not score.sweeps:
        return
    hands = {(staff.part, staff.staff): staff.hand for staff in staves}
    taken = dict(score.reassigned)
    left_open = frozenset(score.left_open)
    if left_open:
        tied = (p.tied for p in plucks(score, staves) if not left_open.isdisjoint(p.tied))
        left_open = left_open.union(*tied)
    for sweep in score.sweeps:
        start = score.notes_by_id[sweep.start]
        hand = hands.get((start.id.part, start.staff))
        if hand is not None and left_open.isdisjoint((sweep.start, sweep.end)):
            yield sweep, start, taken.get(start.id, hand)


def standing_sweeps(
    score: Score, harp: Harp, staves: tuple[StaffHand, ...]
) -> tuple[StandingSweep, ...]:
    """Return the glissandi of one harp as they stand in the score; those left open aside."""
    if not score.sweeps:
        return ()
    clock = clock_of(score)
    found = []
    for sweep, start, hand in harp_sweeps(score, staves):
        strings = sweep_strings(sweep, score, harp)
        words = sweep_words(score.measure(start.id.part, start.id.index).marks, start)
        spared = {*words.foreign, *words.held}
        demands, missing = _demands([s for s in strings if s.name not in spared], harp)
        found.append(
            StandingSweep(
                sweep=sweep,
                hand=hand,
                strings=tuple(s.string for s in strings if not s.is_beyond),
                demands=demands,
                foreign=_places(words.foreign, harp),
                held=_places(words.held, harp),
                missing=missing,
                begin=Place(start.id.index, start.offset),
                end=Place(sweep.until_index, sweep.until_offset),
                strings_per_s=pace(len(strings), sweep_times(sweep, start, clock)),
            )
        )
    return tuple(found)


def _places(names: tuple[str, ...], harp: Harp) -> tuple[int, ...]:
    return tuple(p for name in names if (p := harp.string_named(name)) is not None)


def _demands(
    strings: list[SweptString], harp: Harp
) -> tuple[tuple[tuple[int, Position], ...], tuple[str, ...]]:
    """What the tones ask of the levers, and the strings that cannot give theirs."""
    asked: dict[int, Position] = {}
    missing: dict[str, None] = {}
    for swept in strings:
        position = None if swept.is_beyond else position_of(harp, swept.string, swept.pitch)
        if position is None or asked.get(swept.string, position) is not position:
            missing[swept.name] = None
        else:
            asked[swept.string] = position
    return tuple(sorted(asked.items())), tuple(missing)


def position_of(harp: Harp, string: int, pitch: Pitch) -> Position | None:
    """Where the lever of a string stands for a pitch that is spelled as the string, or None."""
    home = harp.home_as_spelled(pitch)
    return home.position if home is not None and home.string == string else None


def sweep_times(
    sweep: Sweep, start: Note, clock: Clock
) -> tuple[tuple[Microseconds, Microseconds], ...]:
    """For each time that a glissando is played, when it begins and ends.

    Where the order of play jumps before its end, it ends with the last measure before that.
    """
    times = []
    for place in clock.occurrences(start.id.index):
        there = place
        for index in range(start.id.index + 1, sweep.until_index + 1):
            if there + 1 >= len(clock.passes) or clock.passes[there + 1][0] != index:
                break
            there += 1
        if clock.passes[there][0] == sweep.until_index:
            end = clock.time(there, sweep.until_offset)
        else:
            end = clock.passes[there + 1][2] if there + 1 < len(clock.passes) else clock.end
        times.append((clock.time(place, start.offset), end))
    return tuple(times)


def pace(strings: int, times: tuple[tuple[Microseconds, Microseconds], ...]) -> Fraction:
    """Strings a second in the fastest playing; the start is plucked when the sweep begins."""
    shortest = min((end - begin for begin, end in times), default=0)
    if shortest <= 0:
        return ORDINARY_PACE
    return Fraction((strings - 1) * SECOND, shortest)


def swept_strings(
    score: Score, harp: Harp, staves: tuple[StaffHand, ...]
) -> tuple[SweptStrings, ...]:
    """Return the glissandi of one harp as the lever planner sees them, one a standing sweep."""
    standing = standing_sweeps(score, harp, staves)
    if not standing:
        return ()
    clock = clock_of(score)
    found = []
    for one in standing:
        times = sweep_times(one.sweep, score.notes_by_id[one.sweep.start], clock)
        is_possible = one.is_possible
        if one.held and is_possible:
            printed = plucks(score, staves)
            damping = Damping(harp, one.hand, one.held, times)
            is_possible = damping.is_left_in_peace(printed, strikes(printed, clock))
        found.append(
            SweptStrings(
                start=one.sweep.start,
                demands=_with_foreign(one, score, harp) if is_possible else (),
                times=times,
                hand=one.hand,
                order=one.strings,
                is_possible=is_possible,
                is_damped=bool(one.held),
            )
        )
    return tuple(found)


def _with_foreign(
    one: StandingSweep, score: Score, harp: Harp
) -> tuple[tuple[int, Position], ...]:
    """The demands, and the foreign strings as they are named: they are plucked as well."""
    named = [s for s in sweep_strings(one.sweep, score, harp) if s.string in one.foreign]
    return tuple(sorted({**dict(_demands(named, harp)[0]), **dict(one.demands)}.items()))


def sweep_outlook(
    score: Score, staves: tuple[StaffHand, ...], terms: Terms, interval: Interval
) -> int:
    """Return about what the glissandi would cost in another key, in hundredths of a move.

    Strings that cannot sound inside the tones of their glissando count as foreign ones, those
    that the key signature does not set for it as presets; both up to the price of writing the
    glissando otherwise.
    """
    if not score.sweeps:
        return 0
    total = 0
    for sweep, start, _ in harp_sweeps(score, staves):
        measure = score.measure(start.id.part, start.id.index)
        fifths = measure.fifths[0] + measure.transposition.fifths + interval.fifths
        total += _outlook(
            transposed(sweep, interval), _ends(score, sweep, interval), terms, fifths
        )
    return total


def _ends(score: Score, sweep: Sweep, interval: Interval) -> list[int]:
    """The lines of start and end, transposed."""
    ends = (sweep.start, sweep.end or sweep.start)
    return [interval.move(score.notes_by_id[note].pitch).line for note in ends]


def _outlook(sweep: Sweep, ends: list[int], terms: Terms, fifths: int) -> int:
    target = tone_classes(sweep)
    harp, prices = terms.harp, terms.prices
    wanted = wanted_positions(harp, fifths)
    lowest, highest = harp.strings[0].line, harp.strings[-1].line
    cost = 0
    for line in range(min(ends), max(ends) + 1):
        if not lowest <= line <= highest:
            return prices.sweep_rewritten
        string = harp.strings[line - lowest]
        right = {
            position
            for position in Position
            if (pitch := string.pitch(position)) is not None and pitch.pitch_class in target
        }
        if not right:
            cost += prices.sweep_foreign
        elif (wanted[line - lowest] or Position.DOWN) not in right:
            cost += prices.preset
    return min(cost, prices.sweep_rewritten)
