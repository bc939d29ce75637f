"""How handfuls and their fingers are said."""

from collections.abc import Iterator, Sequence

from arrange.hands.fingering import Fingered, Joining
from arrange.phrasing import listed
from arrange.pitch import Pitch
from arrange.teach.words import counted, string_text, strings_text

OPENING = 3
"""Strings by which a hand opens; less is but the next finger (house judgement)."""


def groups(row: Sequence[Fingered]) -> Iterator[tuple[Fingered, ...]]:
    """The handfuls that are played from one placing."""
    group: list[Fingered] = []
    for one in row:
        if group and one.joining.begins:
            yield tuple(group)
            group = []
        group.append(one)
    if group:
        yield tuple(group)


def strings_of(group: Sequence[Fingered]) -> dict[Pitch, int]:
    """Each string of a placing with its finger, lowest first."""
    found = {note.pitch: finger for one in group for note, finger in one}
    return {pitch: found[pitch] for pitch in sorted(found, key=lambda p: p.line)}


def fingers_text(strings: dict[Pitch, int]) -> str:
    """``low D, A, middle D (4 2 1)``."""
    return f"{strings_text(strings)} ({' '.join(map(str, strings.values()))})"


def placing_text(one: Fingered) -> str:
    """In the order in which it is placed."""
    if len(one.lines) == 4:
        top, bottom, *between = (string_text(note.pitch) for note, _ in one.order)
        return f"thumb on {top} and 4 on {bottom} first, then {listed(between)}"
    return fingers_text(strings_of((one,)))


def finger_text(finger: int) -> str:
    """``the thumb``, ``finger 3``."""
    return "the thumb" if finger == 1 else f"finger {finger}"


def held(before: Fingered, one: Fingered) -> tuple[Pitch, int] | None:
    """The string that a finger keeps while the hand opens to the next handful, if one can tell."""
    if distance(before, one) < OPENING:
        return None
    there = {finger: note.pitch for note, finger in before}
    for note, finger in one:
        kept = there.get(finger)
        if kept is not None and kept.line == note.pitch.line and len(one.lines) > 1:
            return note.pitch, finger
    if len(before.lines) == len(one.lines) == 1:
        (last, holder), (new, finger) = next(iter(before)), next(iter(one))
        if holder != finger and last.pitch.line != new.pitch.line:
            return last.pitch, holder
    return None


def is_block(group: Sequence[Fingered]) -> bool:
    """Whether it is worth blocking: three strings or more, one after the other, a finger each."""
    strings = strings_of(group)
    return len(group) > 1 and len(strings) > 2 and len(set(strings.values())) == len(strings)


def anchor(before: Fingered, joining: Joining) -> tuple[Pitch, int]:
    """What holds while the hand crosses: the thumb going up, the lowest finger going down."""
    note, finger = tuple(before)[-1 if joining is Joining.UNDER else 0]
    return note.pitch, finger


def distance(before: Fingered, one: Fingered) -> int:
    """How many strings the hand moves by."""
    return max(abs(before.lines[0] - one.lines[0]), abs(before.lines[-1] - one.lines[-1]))


def notes_text(one: Fingered) -> str:
    """Its strings in words."""
    return strings_text(note.pitch for note in one.handful.notes)


def by_colour(pitch: Pitch) -> str:
    """Where a string lies, from the nearest coloured one: C red, F black (common practice)."""
    if pitch.step == "C":
        octaves = pitch.octave - 4
        if not octaves:
            return "the red string in the middle of the harp"
        way = "above" if octaves > 0 else "below"
        return f"{counted(abs(octaves), 'red string')} {way} middle C"
    if pitch.step == "F":
        return f"a black string, three above the {_where('C', pitch.octave)} red C"
    near = min(
        (Pitch(letter, 0, octave) for letter in "CF" for octave in range(1, 8)),
        key=lambda p: (abs(p.line - pitch.line), p.line),
    )
    steps = pitch.line - near.line
    colour = "red C" if near.step == "C" else "black F"
    way = "above" if steps > 0 else "below"
    return f"{counted(abs(steps), 'string')} {way} the {_where(near.step, near.octave)} {colour}"


def _where(letter: str, octave: int) -> str:
    return string_text(Pitch(letter, 0, octave)).rpartition(" ")[0]
