"""What a measure takes over from those before it: divisions, keys, clefs, octave lines."""

from dataclasses import dataclass, field
from fractions import Fraction

from arrange.apply.signatures import PLAIN, Alters, StaffClef, key_alters, staff_clef
from arrange.score.document import Node

Place = int | Fraction
"""Time from the start of a measure, in the divisions that the measure begins with."""

ALL_STAVES = 0
_OCTAVE_SIGN = {"down": -1, "up": 1}


@dataclass(slots=True)
class Inherited:
    """What a measure takes over from those before it."""

    divisions: int = 1
    keys: dict[int, Alters] = field(default_factory=dict)
    clefs: dict[int, StaffClef] = field(default_factory=dict)
    shifts: dict[int, int] = field(default_factory=dict)
    beat: Fraction = Fraction(1)

    def copy(self) -> "Inherited":
        """The same, to go on with; signatures are shared until one changes."""
        return Inherited(self.divisions, self.keys, self.clefs, self.shifts, self.beat)

    def take(self, attributes: Node) -> None:
        """Go on behind an ``<attributes>``."""
        for child in attributes.children:
            if child.tag == "divisions":
                self.divisions = _divisions(child.text) or self.divisions
            elif child.tag == "key":
                alters = key_alters(child)
                if alters is not None:
                    self.keys = with_key(self.keys, staff_number(child), alters)
            elif child.tag == "clef":
                staff = staff_number(child) or 1
                self.clefs = {**self.clefs, staff: staff_clef(child)}
            elif child.tag == "time":
                self.beat = _beat(child) or self.beat

    def take_shift(self, staff: int, steps: int) -> None:
        """Go on behind the beginning or end of an octave line."""
        self.shifts = {**self.shifts, staff: steps}


def behind(measure: Node, before: Inherited) -> Inherited:
    """What is taken over from a measure; the same as *before* it where it changes nothing."""
    running = before
    for child in measure.children:
        tag = child.tag
        if tag == "note":
            continue
        if tag == "attributes":
            running = before.copy() if running is before else running
            running.take(child)
        elif tag == "direction":
            for steps in octave_shifts(child):
                running = before.copy() if running is before else running
                running.take_shift(staff_of(child), steps)
    return running


def with_key(keys: dict[int, Alters], staff: int, alters: Alters) -> dict[int, Alters]:
    """*keys* with another signature on a staff, or on all."""
    return {ALL_STAVES: alters} if staff == ALL_STAVES else {**keys, staff: alters}


def key_on(keys: dict[int, Alters], staff: int) -> Alters:
    """The signature in force on a staff."""
    return keys.get(staff) or keys.get(ALL_STAVES, PLAIN)


def staff_number(node: Node) -> int:
    """The ``number`` of a key or clef; 0 where it speaks of all staves."""
    number = node.attrs.get("number", "")
    return int(number) if number.isdecimal() else ALL_STAVES


def octave_shifts(direction: Node) -> list[int]:
    """What the octave lines that begin or end here add to the diatonic place that is read."""
    return [
        _OCTAVE_SIGN.get(sign.attrs.get("type", ""), 0)
        * (max(_whole(sign.attrs.get("size", "8")) - 1, 7))
        for kind in direction.children
        if kind.tag == "direction-type"
        for sign in kind.children
        if sign.tag == "octave-shift" and sign.attrs.get("type") != "continue"
    ]


def staff_of(node: Node) -> int:
    """The staff of a note or direction; the first where it names none."""
    return _whole(node.child_text("staff", "1")) or 1


def _whole(text: str) -> int:
    return int(text) if text.isdecimal() else 0


def length_of(node: Node) -> Place:
    """The duration of a backup or forward."""
    return as_length(node.child_text("duration", "0"))


def as_length(text: str) -> Place:
    """The length that a text gives, exact; 0 where it is no number."""
    try:
        return int(text)
    except ValueError:
        pass
    try:
        return Fraction(text.strip())
    except (ValueError, ZeroDivisionError):
        return 0


def _beat(time: Node) -> Fraction:
    """The felt beat in quarters: a dotted one in 6, 9 and 12 (common practice); 0 if unknown."""
    counts = [_whole(part) for part in time.child_text("beats").split("+")]
    unit = _whole(time.child_text("beat-type"))
    if not unit:
        return Fraction(0)
    total = sum(counts)
    return Fraction(4 * (3 if total > 3 and total % 3 == 0 else 1), unit)


def _divisions(text: str) -> int:
    length = as_length(text)
    return length if isinstance(length, int) else 0
