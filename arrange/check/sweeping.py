"""The glissandi in performed time, and whether the strings give what they should sound."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from arrange.check.instructions import Instructions, SweepInstruction, Violation
from arrange.check.timeline import Timeline
from arrange.harp.harp import Harp
from arrange.score.model import HandName, Note, Score, StaffHand, Sweep
from arrange.score.performed import Clock
from arrange.score.plucks import Pluck, Strike
from arrange.score.swept import SweptString, sweep_strings
from arrange.units import SECOND, Microseconds

HELD_STRINGS = 2
"""Most strings that the other hand damps (from memory)."""
HELD_SPAN = 8
"""Widest span of the damping hand, both ends counted: about an octave (from memory)."""
HELD_SPEED = 8
"""Fastest sweep past a damping hand, in strings a second (from memory)."""


@dataclass(frozen=True, slots=True)
class Passage:
    """One glissando each time it is played.

    Attributes:
        strings: as the hand passes them; *times*: of each playing, begin and end.
        told: what is said about it.
    """

    start: Note
    hand: HandName
    strings: tuple[SweptString, ...]
    times: tuple[tuple[Microseconds, Microseconds], ...]
    told: SweepInstruction

    def moments(self) -> Iterator[tuple[SweptString, Microseconds, Microseconds]]:
        """Each string with the time at which the hand plucks it, and when the sweep ends."""
        last = max(len(self.strings) - 1, 1)
        for begin, end in self.times:
            for place, string in enumerate(self.strings):
                yield string, begin + (end - begin) * place // last, end

    @property
    def is_too_fast_to_damp(self) -> bool:
        """Whether more strings a second are passed than a damping hand allows."""
        count = len(self.strings) - 1
        return any(count * SECOND > HELD_SPEED * (end - begin) for begin, end in self.times)


def passages(
    score: Score,
    harp: Harp,
    staves: tuple[StaffHand, ...],
    instructions: Instructions,
    clock: Clock,
) -> tuple[Passage, ...]:
    """The glissandi of one harp that are not left open."""
    hands = {(staff.part, staff.staff): staff.hand for staff in staves}
    taken = dict(instructions.reassigned)
    found = []
    for sweep in score.sweeps:
        start = score.notes_by_id[sweep.start]
        hand = taken.get(start.id, hands.get((start.id.part, start.staff)))
        if hand is None or not instructions.left_open.isdisjoint((sweep.start, sweep.end)):
            continue
        told = instructions.sweeps.get(sweep.start, SweepInstruction())
        strings = sweep_strings(sweep, score, harp)
        times = tuple(_times(sweep, start, clock))
        found.append(Passage(start, hand, strings, times, told))
    return tuple(found)


def _times(sweep: Sweep, start: Note, clock: Clock) -> Iterator[tuple[Microseconds, Microseconds]]:
    for place in clock.occurrences(start.id.index):
        there, offset = place, sweep.until_offset
        for index in range(start.id.index + 1, sweep.until_index + 1):
            if there + 1 >= len(clock.passes) or clock.passes[there + 1][0] != index:
                break
            there += 1
        begin = clock.time(place, start.offset)
        if clock.passes[there][0] == sweep.until_index:
            yield begin, clock.time(there, offset)
        else:
            yield begin, clock.passes[there + 1][2] if there + 1 < len(clock.passes) else clock.end


def sweep_violations(
    score: Score, harp: Harp, passage: Passage, timeline: Timeline
) -> Iterator[Violation]:
    """Yield a violation for each glissando whose strings do not give its tones."""
    spared = passage.told.foreign | passage.told.held
    wrong: dict[str, str] = {}
    for string, time, _ in passage.moments():
        if string.name in spared or string.name in wrong:
            continue
        if string.is_beyond:
            wrong[string.name] = f"there is no string {string.name}"
            continue
        position = timeline.position(string.string, time)
        pitch = harp.strings[string.string].pitch(position)
        if pitch != string.pitch:
            wrong[string.name] = f"the {string.name} string stands at {pitch}"
    if wrong:
        pitches = tuple(str(s.pitch) for s in passage.strings if s.name in wrong)
        text = ", ".join(wrong.values())
        place = Violation.at_note(score, passage.start, f"In the glissando {text}.")
        yield replace(place, pitches=pitches)


def damping_violations(
    score: Score,
    harp: Harp,
    passage: Passage,
    plucks: tuple[Pluck, ...],
    strikes: tuple[Strike, ...],
) -> Iterator[Violation]:
    """Yield what keeps the other hand from damping the strings that it should hold."""
    held = [harp.string_named(name) for name in sorted(passage.told.held)]
    if not held:
        return
    numbers = [number for number in held if number is not None]
    for problem in _holding(passage, harp, numbers, len(held)):
        yield Violation.at_note(score, passage.start, problem)
    other = HandName.LEFT if passage.hand is HandName.RIGHT else HandName.RIGHT
    for strike in strikes:
        pluck = plucks[strike.pluck]
        home = harp.home_as_spelled(pluck.pitch)
        is_held = home is not None and home.string in numbers
        for begin, end in passage.times:
            is_within = begin <= strike.time < end
            if is_held and strike.time < end and strike.end > begin:
                note = score.notes_by_id[pluck.note]
                text = f"{pluck.pitch} should sound while its string is damped."
                yield Violation.at_note(score, note, text)
            elif pluck.hand is other and is_within:
                text = f"The {other.value} hand damps strings under a glissando and plucks too."
                yield Violation.at_note(score, passage.start, text)


def _holding(passage: Passage, harp: Harp, numbers: list[int], asked: int) -> Iterator[str]:
    if len(numbers) < asked:
        yield "A string that should be damped is not on this harp."
    lines = [harp.strings[number].line for number in numbers]
    span = max(lines) - min(lines) + 1 if lines else 0
    if asked > HELD_STRINGS or span > HELD_SPAN:
        yield f"No hand damps {asked} strings over {span}; {HELD_STRINGS} within an octave can be."
    if passage.is_too_fast_to_damp:
        yield f"Strings are damped in sweeps of up to {HELD_SPEED} strings a second only."
