"""Attributes elements: divisions, keys, meters, clefs, transposition, repeated measures."""

from fractions import Fraction
from typing import TypeVar

from arrange.pitch import LETTERS, Interval
from arrange.score.model import Clef, Meter
from arrange.score.nodes import Node
from arrange.score.reading.inherited import KeyState, alters_of
from arrange.score.reading.place import Place
from arrange.score.reading.running import Reader, Running

_Value = TypeVar("_Value")

MOST_FIFTHS = 7
MOST_BEATS = 1024
"""Beats, and the shortest beat, of a time signature (house judgement)."""
MOST_READ_FIFTHS = 14
"""Every letter altered twice; more is an error in the file (house judgement)."""
_CLEF_LINES = {"G": 2, "F": 4, "C": 3, "TAB": 5}
_STEPS_OF_SEMITONES = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
"""Diatonic size where a file gives semitones only: the commoner spelling (house judgement)."""


def read_attributes(node: Node, running: Running) -> None:
    """Take an attributes element into the running state."""
    for child in node.children:
        reader = _READERS.get(child.tag)
        if reader is not None:
            reader(child, running)


def _divisions(node: Node, running: Running) -> None:
    divisions = running.place.divisions(node.text, "the number of divisions")
    if divisions <= 0:
        raise running.place.bad(f"divisions are {node.text.strip()}; they must be above 0")
    if divisions > running.place.limits.divisions:
        raise running.place.bad(
            f"a quarter has {node.text.strip()} divisions, which no score needs; correct it"
        )
    if divisions != running.divisions:
        running.rescale(divisions)


def _staves(node: Node, running: Running) -> None:
    count = running.place.whole(node.text, "the number of staves")
    if count > running.place.limits.staves:
        raise running.place.bad(f"the part has {count:,} staves, which no score needs; correct it")
    running.staves = max(count, 1)


def _staff_number(node: Node, running: Running) -> int:
    number = node.attrs.get("number")
    return running.place.whole(number, f"the staff number of <{node.tag}>") if number else 0


def _key(node: Node, running: Running) -> None:
    state = _key_state(node, running)
    staff = _staff_number(node, running)
    running.keys = _set(running.keys, staff, state)
    if not running.position:
        running.start_keys = _set(running.start_keys, staff, state)
    running.key_changes.append((running.offset, staff, state))


def _set(kept: dict[int, _Value], staff: int, value: _Value) -> dict[int, _Value]:
    return {**kept, staff: value} if staff else {0: value}


def _key_state(node: Node, running: Running) -> KeyState:
    mode = node.child_text("mode")
    fifths = node.find("fifths")
    if fifths is None:
        return _stepwise_key(node, mode, running)
    count = running.place.whole(fifths.text, "the key signature")
    if abs(count) > MOST_READ_FIFTHS:
        raise running.place.bad(f"the key signature has {abs(count)} accidentals; correct it")
    if abs(count) > MOST_FIFTHS:
        running.note(f"A key signature of {abs(count)} accidentals; it is read as written.")
    return KeyState(count, mode, alters_of(count))


def _stepwise_key(node: Node, mode: str, running: Running) -> KeyState:
    """A key signature that lists its letters; a usual one where it is one after all."""
    alters = [0] * 7
    step = ""
    for child in node.children:
        if child.tag == "key-step":
            step = child.text.strip()
        elif child.tag == "key-alter" and step in LETTERS and step:
            alters[LETTERS.index(step)] = round(running.place.number(child.text, "a key's alter"))
    given = tuple(alters)
    for fifths in range(-MOST_FIFTHS, MOST_FIFTHS + 1):
        if alters_of(fifths) == given:
            return KeyState(fifths, mode, given)
    running.note(
        "The key signature lists accidentals of no usual key; it counts as no sharps or flats, "
        "and the notes keep what they are."
    )
    return KeyState(0, mode, given)


def _time(node: Node, running: Running) -> None:
    if _staff_number(node, running) > 1:
        if _meter(node, running.place, running.meter) != running.meter:
            running.note("The staves have different time signatures; the first staff's counts.")
        return
    running.meter = _meter(node, running.place, running.meter)
    running.has_meter = True


def _meter(node: Node, place: Place, before: Meter) -> Meter:
    if node.find("senza-misura") is not None or node.find("beats") is None:
        return Meter(before.beats, before.beat_type, is_free=True)
    total, finest, beats = Fraction(0), 1, Fraction(0)
    for child in node.children:
        if child.tag == "beats":
            beats = sum(
                (place.number(part, "a time signature") for part in child.text.split("+")),
                Fraction(0),
            )
        elif child.tag == "beat-type":
            beat_type = place.whole(child.text, "a time signature's beat type")
            if beat_type <= 0 or beats <= 0:
                raise place.bad("a time signature has beats or a beat type of 0; correct it")
            if max(beat_type, beats.numerator, beats.denominator) > MOST_BEATS:
                raise place.bad(f"a time signature of {beats}/{beat_type} is none; correct it")
            total += beats / beat_type
            finest = max(finest, beat_type)
    while (total * finest).denominator != 1:
        finest *= 2 if (total * finest).denominator % 2 == 0 else (total * finest).denominator
    return Meter(int(total * finest), finest) if total else Meter(is_free=True)


def _clef(node: Node, running: Running) -> None:
    if node.attrs.get("additional") == "yes":
        return
    place = running.place
    sign = node.child_text("sign", "G")
    line = node.child_text("line")
    octave = node.child_text("clef-octave-change")
    clef = Clef(
        running.offset,
        _staff_number(node, running) or 1,
        sign,
        place.whole(line, "a clef's line") if line else _CLEF_LINES.get(sign, 3),
        place.whole(octave, "a clef's octave") if octave else 0,
    )
    running.clefs = [
        c for c in running.clefs if (c.staff, c.offset) != (clef.staff, clef.offset)
    ] + [clef]


def _transpose(node: Node, running: Running) -> None:
    place = running.place
    chromatic = place.number(node.child_text("chromatic", "0"), "a transposition")
    octaves = place.whole(node.child_text("octave-change", "0"), "a transposition's octaves")
    semitones = round(chromatic)
    if semitones != chromatic:
        running.note("The part transposes by less than a semitone; the nearest is taken.")
    diatonic = node.child_text("diatonic")
    steps = place.whole(diatonic, "a transposition") if diatonic else _steps(semitones)
    if node.find("double") is not None:
        running.note(
            "The part is doubled an octave away by its transposition; the written octave is read."
        )
    move = Interval(steps + 7 * octaves, semitones + 12 * octaves)
    staff = _staff_number(node, running)
    running.transpositions = _set(running.transpositions, staff, move)
    if not running.position:
        running.start_transpositions = running.transpositions


def _steps(semitones: int) -> int:
    octaves, rest = divmod(abs(semitones), 12)
    steps = 7 * octaves + _STEPS_OF_SEMITONES[rest]
    return steps if semitones >= 0 else -steps


def _measure_style(node: Node, running: Running) -> None:
    for child in node.children:
        if child.tag == "measure-repeat":
            _measure_repeat(child, _staff_number(node, running), running)
        elif child.tag in ("slash", "beat-repeat") and child.attrs.get("type") == "start":
            what = "Slashes" if child.tag == "slash" else "A beat-repeat sign"
            running.note(f"{what} in place of notes; only notes that are written are read.")


def _measure_repeat(node: Node, staff: int, running: Running) -> None:
    if node.attrs.get("type") == "stop":
        running.repeats = {s: r for s, r in running.repeats.items() if staff not in (0, s)}
        return
    count = running.place.whole(node.text, "a measure-repeat") if node.text.strip() else 1
    if count <= 0:
        running.note("A measure-repeat of no measures; it is not read.")
        return
    running.repeats[staff] = (running.place.index, count)


_READERS: dict[str, Reader] = {
    "divisions": _divisions,
    "staves": _staves,
    "key": _key,
    "time": _time,
    "clef": _clef,
    "transpose": _transpose,
    "measure-style": _measure_style,
}
