"""What is said about a glissando: why it goes as it goes, and what else could have been done."""

from fractions import Fraction

from arrange.changes import Option
from arrange.harp.harp import Harp
from arrange.pitch import Pitch
from arrange.score.model import HandName, Score
from arrange.study.sweep_choice import Decision, Weighed
from arrange.study.sweep_course import Course
from arrange.study.sweep_edits import in_print, tones_in_print
from arrange.study.sweep_ways import Asked, Way, WayKind

OCTAVES = {1: "an octave", 2: "two octaves", 3: "three octaves"}


def reason(decision: Decision, way: Way, score: Score, harp: Harp) -> str:
    """Why the glissando is played so, with its strings, speed and hand."""
    asked = decision.asked
    return f"{_subject(asked, score)} {_verdict(decision, way, harp)}{_moved(asked, way, score)}."


def options(decision: Decision, harp: Harp) -> tuple[Option, ...]:
    """Every way with its real cost."""
    return tuple(
        Option(
            _option(weighed, decision, harp),
            weighed.cost,
            weighed.way == decision.taken,
            weighed.way.key,
        )
        for weighed in decision.weighed
    )


def marks_reason(way: Way) -> str:
    """Why words and lines change once the notes have."""
    match way.kind:
        case WayKind.WRITTEN:
            return "The glissando is fingered now, so its line and words go."
        case WayKind.ROLLED:
            return "Nothing is swept here any more, so the glissando's line and words go."
        case _:
            return f"The strings of the glissando sound {tones_in_print(way)}; the page says so."


def _subject(asked: Asked, score: Score) -> str:
    start, end = asked.start.pitch, asked.start.pitch
    if asked.sweep.end is not None:
        end = score.notes_by_id[asked.sweep.end].pitch
    count = abs(end.line - start.line) + 1
    return (
        f"The {asked.hand.value} hand's glissando from {in_print(start, octave=True)} to "
        f"{in_print(end, octave=True)} ({count} strings, {_speed(asked.strings_per_s)} a second)"
    )


def _speed(pace: Fraction) -> str:
    return str(round(pace))


def _verdict(decision: Decision, way: Way, harp: Harp) -> str:
    match way.kind:
        case WayKind.LEVERS:
            return f"sounds {tones_in_print(way)}, with the levers of the swept strings set for it"
        case WayKind.OTHER_TONES:
            return _other_tones(way, harp)
        case WayKind.DAMPED:
            return (
                f"is slow and short enough for the {_other(decision.asked.hand)} hand to hold "
                f"{_strings(way.held, harp)}, which would not sound its tones"
            )
        case WayKind.WRITTEN:
            count = len(way.run.after) if way.run is not None else 0
            return (
                f"{_trouble(decision)}, so {count} notes are fingered in its time, and its last "
                "note keeps its beat"
            )
        case _:
            return (
                f"{_trouble(decision)}, and a run in its time would cost more than it gives; its "
                "first note and its goal remain"
            )


def _other_tones(way: Way, harp: Harp) -> str:
    if not way.foreign:
        return f"sounds {tones_in_print(way)}, which spares levers and stays inside its tones"
    return (
        f"is fast enough to let {_strings(way.foreign, harp)} pass by beside its tones; it sounds "
        f"{tones_in_print(way)}"
    )


def _trouble(decision: Decision) -> str:
    """Whether no setting of the levers gives the tones, or only no hand has the time."""
    if any(w.way.kind is WayKind.LEVERS for w in decision.weighed):
        return "needs levers that cannot be set in time at a fair price"
    return "asks for tones that no setting of the levers gives"


def _moved(asked: Asked, way: Way, score: Score) -> str:
    course = way.course
    if course.is_as_written:
        return ""
    if course.start_octaves and course.end_octaves:
        return f"; it lies {_far(course.end_octaves)} for want of strings"
    end = asked.sweep.end if course.end_octaves else asked.sweep.start
    pitch = score.notes_by_id[end].pitch if end is not None else asked.start.pitch
    verb = "ends" if course.end_octaves else "begins"
    octaves = course.end_octaves or course.start_octaves
    return f"; it {verb} {_far(octaves)}, for this harp has no {in_print(pitch, octave=True)}"


def _far(octaves: int) -> str:
    return f"{OCTAVES[abs(octaves)]} {'higher' if octaves > 0 else 'lower'}"


def _option(weighed: Weighed, decision: Decision, harp: Harp) -> str:
    way = weighed.way
    return _way_in_words(way, decision, harp) + _course_in_words(way.course)


def _way_in_words(way: Way, decision: Decision, harp: Harp) -> str:
    match way.kind:
        case WayKind.LEVERS:
            return f"set the levers for {tones_in_print(way)}"
        case WayKind.OTHER_TONES:
            beside = (
                f"{_strings(way.foreign, harp)} foreign" if way.foreign else "all inside its tones"
            )
            return f"sweep {tones_in_print(way)}, {beside}"
        case WayKind.DAMPED:
            hand = _other(decision.asked.hand)
            return f"hold {_strings(way.held, harp)} with the {hand} hand"
        case WayKind.WRITTEN:
            row = (
                [in_print(value.pitch, octave=True) for value in way.run.after] if way.run else []
            )
            return f"finger {len(row)} notes in its time: {' '.join(row)}"
        case _:
            return "leave the sweep out: its first note and its goal only, a chord there rolled"


def _course_in_words(course: Course) -> str:
    if course.is_as_written:
        return ""
    if course.start_octaves and course.end_octaves:
        return f", all of it {_far(course.end_octaves)}"
    if course.end_octaves:
        return f", its end {_far(course.end_octaves)}"
    return f", its start {_far(course.start_octaves)}"


def _strings(strings: tuple[int, ...], harp: Harp) -> str:
    names = [
        in_print(Pitch(s.letter, 0, s.octave), octave=True)
        for s in map(harp.strings.__getitem__, strings)
    ]
    if len(names) == 1:
        return f"the {names[0]} string"
    return f"the {', '.join(names[:-1])} and {names[-1]} strings"


def _other(hand: HandName) -> str:
    return HandName.LEFT.value if hand is HandName.RIGHT else HandName.RIGHT.value
