"""When each note of a measure begins and how long it lasts, exact where the file rounds."""

from fractions import Fraction
from functools import lru_cache

from arrange.score.nodes import Node
from arrange.score.reading.inherited import ZERO, Divisions, quarters
from arrange.score.reading.running import Running, Timed
from arrange.units import Quarters

_TYPES = (
    "1024th", "512th", "256th", "128th", "64th", "32nd", "16th", "eighth", "quarter", "half",
    "whole", "breve", "long", "maxima",
)  # fmt: skip
TYPE_QUARTERS = {name: Quarters(2) ** (i - 8) for i, name in enumerate(_TYPES)}
"""Note values in quarters (MusicXML 4.0)."""

MOST_DOTS = 8
"""More dots than any note has; further ones are not read (house judgement)."""

_SAID_ONCE = frozenset({
    "pitch", "rest", "duration", "voice", "type", "staff", "time-modification", "accidental",
})  # fmt: skip


def time_note(node: Node, running: Running) -> None:
    """Give a note element its time and move the reading on."""
    found = {child.tag: child for child in node.children}
    if len(found) != len(node.children):
        _require_once(node, running)
    last = running.last
    timed = Timed(node.key, found, last if "chord" in found else None)
    length: Divisions = 0
    if "grace" in found:
        timed.is_grace = True
    else:
        length = _length(node, found, timed, running)
    if timed.first is not None:
        timed.raw = timed.first.raw
    else:
        if "chord" in found:
            running.note("A chord note with no note before it; it is read as a note of its own.")
        timed.raw = running.position
        running.last = timed
    divisions = running.divisions or 1
    timed.start = quarters(timed.raw, divisions)
    timed.duration = quarters(length, divisions)
    _attach(timed, found, running)
    running.timed.append(timed)
    if timed.first is None and length:
        running.position += length
        is_whole = "rest" in found and _is_whole_rest(found["rest"], running)
        if running.position > running.furthest and not is_whole:
            running.furthest = running.position


def _require_once(node: Node, running: Running) -> None:
    """A note that says something twice is not read: who knows which of the two it means."""
    tags = [child.tag for child in node.children if child.tag in _SAID_ONCE]
    for tag in tags:
        if tags.count(tag) > 1:
            raise running.place.bad(f"a note has <{tag}> twice; delete one")


def _attach(timed: Timed, found: dict[str, Node], running: Running) -> None:
    """Its staff, voice and transposition."""
    staff = found.get("staff")
    if staff is not None:
        timed.staff = running.place.whole(staff.text, "a staff number")
        if timed.staff > running.place.limits.staves:
            raise running.place.bad(f"a note is on staff {timed.staff:,}; correct it")
    voice = found.get("voice")
    if voice is not None:
        timed.voice = voice.text.strip() or "1"
    elif timed.first is not None:
        timed.voice = timed.first.voice
    timed.transpositions = running.transpositions


def _length(node: Node, found: dict[str, Node], timed: Timed, running: Running) -> Divisions:
    """The duration in divisions; notes what tuplet values say where it is off by rounding."""
    given = found.get("duration")
    if given is None:
        raise running.place.bad("a note has no duration; export the score again as MusicXML")
    length = running.place.divisions(given.text, "a duration")
    if length < 0:
        raise running.place.bad("a duration is below 0; correct it")
    if not running.divisions:
        running.divisions = 1
        running.note("No divisions are given; a duration of 1 is read as a quarter.")
    if "time-modification" in found:
        value = _written_value(node, found, running)
        if value is not None and not _is_equal(length, running.divisions, value):
            off = abs(value * running.divisions - length)
            if off < 1:
                timed.nominal = value
                running.is_rounded = True
    return length


def _is_equal(length: Divisions, divisions: Divisions, value: Quarters) -> bool:
    return value.numerator * divisions == length * value.denominator


def _written_value(node: Node, found: dict[str, Node], running: Running) -> Quarters | None:
    kind = found.get("type")
    if kind is None:
        return None
    dots = min(len(node.find_all("dot")), MOST_DOTS) if "dot" in found else 0
    ratio = found.get("time-modification")
    if ratio is None:
        return _value(kind.text, dots, 1, 1)
    what = "a tuplet's number of notes"
    actual = running.place.whole(ratio.child_text("actual-notes"), what)
    normal = running.place.whole(ratio.child_text("normal-notes"), what)
    return _value(kind.text, dots, actual, normal)


@lru_cache(maxsize=1024)
def _value(kind: str, dots: int, actual: int, normal: int) -> Quarters | None:
    plain = TYPE_QUARTERS.get(kind.strip())
    if plain is None or actual <= 0:
        return None
    return plain * (2 - Fraction(1, 2**dots)) * normal / actual


def _is_whole_rest(rest: Node, running: Running) -> bool:
    """A full-measure rest, whose written duration says little about the measure's length."""
    if rest.attrs.get("measure") != "yes":
        return False
    running.whole_rest = max(running.whole_rest, running.offset)
    return True


def exact_times(timed: list[Timed]) -> dict[Quarters, Quarters]:
    """Put right what rounded durations say, along each run of notes.

    Sets exact starts and durations; a note is only touched where its own value, dots and
    tuplet say what was meant.

    Returns:
        Places in the file's own count, to the places that they stand for.
    """
    _drop_coarse(timed)
    known: dict[Quarters, Quarters] = {}
    shift, expected = ZERO, ZERO
    for note in timed:
        if note.first is not None:
            note.start = note.first.start
            note.duration = note.duration if note.nominal is None else note.nominal
            continue
        begin, end = note.start, note.start + note.duration
        if begin != expected:
            shift = known.get(begin, begin) - begin
        note.start = begin + shift
        note.duration = note.duration if note.nominal is None else note.nominal
        shift = note.start + note.duration - end
        expected = end
        if shift:
            known.setdefault(end, end + shift)
    return known


def _drop_coarse(timed: list[Timed]) -> None:
    """Where a division is coarse, believe rounded values only if their run comes out even."""
    run: list[Timed] = []
    for note in [*timed, None]:
        if note is not None and note.first is not None:
            continue
        joins = run and note is not None and note.start == run[-1].start + run[-1].duration
        if note is None or "time-modification" not in note.found or (run and not joins):
            _judge_run(run)
            run = []
        if note is not None and "time-modification" in note.found:
            run.append(note)


def _judge_run(run: list[Timed]) -> None:
    off = ZERO
    is_fine = True
    for note in run:
        if note.nominal is not None:
            off += note.nominal - note.duration
            is_fine = is_fine and 8 * abs(note.nominal - note.duration) <= note.nominal
    if off and not is_fine:
        for note in run:
            note.nominal = None
