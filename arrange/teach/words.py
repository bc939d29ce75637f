"""How places, strings and hands are called in a lesson: short, as a teacher writes on a page."""

import re
from collections.abc import Iterable, Sequence

from arrange.harp.wording import note_in_signs
from arrange.pitch import Pitch
from arrange.score.model import HandName, Measure, Meter
from arrange.units import SECOND, Microseconds, Quarters

DASH, PRIME, ELLIPSIS = "\N{EN DASH}", "\N{PRIME}", "\N{HORIZONTAL ELLIPSIS}"
HANDS = {HandName.LEFT: "L.H.", HandName.RIGHT: "R.H."}
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_RUN = re.compile(r"[A-G][♯♭♮]*\d(?: [A-G][♯♭♮]*\d)*(?![\w♯♭♮])")
_SIGNED = str.maketrans({"♯": "#", "♭": "b", "♮": ""})
_HALVES = {Quarters(1, 2): "½", Quarters(1, 4): "¼", Quarters(3, 4): "¾"}


def other(hand: HandName) -> HandName:
    """The other hand."""
    return HandName.RIGHT if hand is HandName.LEFT else HandName.LEFT


def string_text(pitch: Pitch) -> str:
    """``middle C♯``, ``low A``: a natural has no sign, as players speak."""
    return note_in_signs(pitch).removesuffix("♮")


def strings_text(pitches: Iterable[Pitch]) -> str:
    """``low D, A, middle D``: the octave is said where it changes."""
    found: list[str] = []
    octave = ""
    for pitch in pitches:
        where, _, name = string_text(pitch).rpartition(" ")
        found.append(name if where == octave else f"{where} {name}")
        octave = where
    return ", ".join(found)


def spoken(text: str) -> str:
    """The text with ``D4 F♯4 B4`` in it said as on the rest of the page, ``middle D, F♯, B``."""
    return _RUN.sub(
        lambda run: strings_text(Pitch.parse(n.translate(_SIGNED)) for n in run[0].split()), text
    )


def span_text(measures: Sequence[Measure], indices: Iterable[int], most: int = 0) -> str:
    """``m. 1-4, 7``: printed numbers, neighbours drawn together.

    Args:
        measures: of the piece.
        indices: of those that are meant.
        most: of so many stretches each is named, of others how many measures; 0 for all.
    """
    runs: list[list[int]] = []
    for index in sorted(set(indices)):
        if runs and runs[-1][1] == index - 1:
            runs[-1][1] = index
        else:
            runs.append([index, index])
    shown = runs[:most] if most else runs
    told = ", ".join(_run_text(measures, first, last) for first, last in shown)
    rest = sum(last - first + 1 for first, last in runs[len(shown) :])
    return f"m. {told} and {rest} more" if rest else f"m. {told}"


def _run_text(measures: Sequence[Measure], first: int, last: int) -> str:
    if is_upbeat(measures, first) and first + 1 < len(measures):
        following = _run_text(measures, first + 1, max(last, first + 1))
        return f"{following} with upbeat" if last > first else f"{following} (upbeat)"
    one, two = number_of(measures[first]), number_of(measures[last])
    if first == last:
        return one
    return f"{one}, {two}" if last == first + 1 else f"{one}{DASH}{two}"


def is_short(measure: Measure) -> bool:
    """Whether it is not full: an upbeat, or what is left before one."""
    return measure.length < measure.meter.length


def is_upbeat(measures: Sequence[Measure], index: int) -> bool:
    """Whether it is an upbeat without a number of its own: ``0``, or ``X1`` after a repeat."""
    measure = measures[index]
    number = measure.number.strip()
    is_unnumbered = number in ("", "0") if not index else not number[:1].isdigit()
    return is_short(measure) and is_unnumbered


def number_of(measure: Measure) -> str:
    """As printed; one that has no number by its place."""
    return measure.number.strip() or f"(measure {measure.index + 1} from the start)"


def beat_of(offset: Quarters, meter: Meter) -> str:
    """``3``, ``2½``: as the lower number of the time signature counts."""
    whole, rest = divmod(1 + offset * meter.beat_type / 4, 1)
    return f"{whole}{_HALVES.get(rest) or (f' {rest}' if rest else '')}"


def beat_in(measures: Sequence[Measure], index: int, offset: Quarters) -> str:
    """The beat as it is counted: an upbeat on the last ones, the rest of a cut measure after."""
    measure = measures[index]
    lacking = measure.meter.length - measure.length
    is_rest = index > 0 and is_short(measure) and measures[index - 1].length == lacking
    is_late = is_rest or (lacking > 0 and is_upbeat(measures, index))
    return beat_of(offset + lacking if is_late else offset, measure.meter)


def seconds_text(time: Microseconds) -> str:
    """``1.2 s``; a minute is as good as any time."""
    if time >= 20 * SECOND:
        return "plenty of time"
    return f"{max(time, 0) / SECOND:.1f} s"


def counted(number: int, one: str, many: str = "") -> str:
    """``one note``, ``three notes``, ``14 notes``."""
    word = _NUMBERS[number] if number < len(_NUMBERS) else str(number)
    return f"{word} {one if number == 1 else many or one + 's'}"
