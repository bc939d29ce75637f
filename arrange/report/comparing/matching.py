"""Finds for each note of a measure its counterpart in the other score's measure.

Notes that agree in everything are paired first, then those that differ in one thing, and so on:
first staff and voice, then spelling, length, octave, pitch, and the place in the measure last.
"""

from collections import Counter
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field

from arrange.pitch import UNISON, Interval
from arrange.report.comparing.sheets import Cell, Tone

Voices = dict[tuple[int, str], str]
"""Staff and voice before to the number that the voice has after."""


@dataclass(slots=True)
class Matched:
    """The notes, or the rests, of two measures.

    Attributes:
        pairs: counterparts; *removed*, *added*: what has none.
    """

    pairs: list[tuple[Tone, Tone]] = field(default_factory=list)
    removed: list[Tone] = field(default_factory=list)
    added: list[Tone] = field(default_factory=list)


@dataclass(slots=True)
class _Traits:
    """What a note is compared by.

    Attributes:
        at, length: exact, as pairs of whole numbers.
        key: which note of its measure it is; of equal notes those that stand alike are paired.
    """

    at: tuple[int, int]
    length: tuple[int, int]
    staff: int
    voice: str
    is_grace: bool
    line: int
    midi: int
    key: str


def matched_notes(
    before: Sequence[Tone], after: Sequence[Tone], interval: Interval, voices: Voices
) -> Matched:
    """Pair notes; those before are moved by the interval, their voices renumbered."""
    return _matched(before, after, interval, voices, _NOTE_STAGES)


def matched_rests(before: Sequence[Tone], after: Sequence[Tone], voices: Voices) -> Matched:
    """Pair rests."""
    return _matched(before, after, UNISON, voices, _REST_STAGES)


_Stage = Callable[[_Traits], Hashable]
_NOTE_STAGES: tuple[_Stage, ...] = (
    lambda t: (t.key, t.at, t.length, t.staff, t.voice, t.is_grace, t.line, t.midi),
    lambda t: (t.at, t.length, t.staff, t.voice, t.is_grace, t.line, t.midi),
    lambda t: (t.at, t.length, t.is_grace, t.line, t.midi),
    lambda t: (t.at, t.staff, t.voice, t.is_grace, t.midi),
    lambda t: (t.at, t.staff, t.line, t.midi),
    lambda t: (t.at, t.length, t.staff, t.voice, t.is_grace, t.line % 7, t.midi % 12),
    lambda t: (t.at, t.length, t.staff, t.voice, t.is_grace),
    lambda t: (t.at, t.staff, t.voice, t.is_grace),
    lambda t: (t.length, t.staff, t.voice, t.is_grace, t.line, t.midi),
    lambda t: (t.staff, t.voice, t.is_grace, t.line, t.midi),
)
_REST_STAGES: tuple[_Stage, ...] = (
    lambda t: (t.at, t.length, t.staff, t.voice),
    lambda t: (t.at, t.length, t.staff),
    lambda t: (t.at, t.staff, t.voice),
)


def _matched(
    before: Sequence[Tone],
    after: Sequence[Tone],
    interval: Interval,
    voices: Voices,
    stages: Sequence[_Stage],
) -> Matched:
    if len(before) == len(after) and all(
        is_equal(one, two, interval, voices) for one, two in zip(before, after, strict=True)
    ):
        return Matched(list(zip(before, after, strict=True)))
    ones = [(tone, _traits(tone, interval, voices)) for tone in before]
    twos = [(tone, _traits(tone, UNISON, {})) for tone in after]
    found = Matched()
    for stage in stages:
        if not ones or not twos:
            break
        ones, twos = _at_stage(ones, twos, stage, found)
    found.removed = [tone for tone, _ in ones]
    found.added = [tone for tone, _ in twos]
    found.pairs.sort(key=_place)
    return found


def is_equal(one: Tone, two: Tone, interval: Interval, voices: Voices) -> bool:
    """Whether a note is its counterpart, once it is moved and its voice renumbered."""
    return (
        (one.offset is two.offset or one.offset == two.offset)
        and (one.duration is two.duration or one.duration == two.duration)
        and one.staff == two.staff
        and voices.get((one.staff, one.voice), one.voice) == two.voice
        and one.is_grace is two.is_grace
        and one.moved_place(interval) == two.place
    )


_Described = list[tuple[Tone, _Traits]]


def _at_stage(
    ones: _Described, twos: _Described, stage: _Stage, found: Matched
) -> tuple[_Described, _Described]:
    """Pair what the stage finds equal, in order of pitch; return what is left."""
    ones.sort(key=_height)
    twos.sort(key=_height)
    waiting: dict[Hashable, list[int]] = {}
    for j in range(len(twos) - 1, -1, -1):
        waiting.setdefault(stage(twos[j][1]), []).append(j)
    taken = set()
    left: _Described = []
    for entry in ones:
        free = waiting.get(stage(entry[1]))
        if free:
            j = free.pop()
            taken.add(j)
            found.pairs.append((entry[0], twos[j][0]))
        else:
            left.append(entry)
    return left, [entry for j, entry in enumerate(twos) if j not in taken]


def _height(entry: tuple[Tone, _Traits]) -> int:
    return entry[1].midi


def _place(pair: tuple[Tone, Tone]) -> tuple[object, ...]:
    return pair[1].offset, pair[1].staff, pair[1].place


def _traits(tone: Tone, interval: Interval, voices: Voices) -> _Traits:
    line, midi = tone.moved_place(interval)
    return _Traits(
        tone.offset.as_integer_ratio(),
        tone.duration.as_integer_ratio(),
        tone.staff,
        voices.get((tone.staff, tone.voice), tone.voice),
        tone.is_grace,
        line,
        midi,
        tone.id.key,
    )


def renumbered_voices(one: Cell, two: Cell, interval: Interval) -> Voices:
    """How the voices of a measure are numbered anew; empty where they are not.

    Each voice takes the number under which most of its notes are found again, unless two voices
    of a staff would then be one.
    """
    waiting: dict[Hashable, list[str]] = {}
    for tone in reversed(two.tones):
        waiting.setdefault(_voiceless(tone, UNISON), []).append(tone.voice)
    votes: dict[tuple[int, str], Counter[str]] = {}
    for tone in one.tones:
        counted = votes.setdefault((tone.staff, tone.voice), Counter())
        if free := waiting.get(_voiceless(tone, interval)):
            counted[free.pop()] += 1
    found = {key: _most(counted) or key[1] for key, counted in votes.items()}
    staves = Counter(staff for staff, _ in found)
    distinct = Counter(staff for staff, _ in {(key[0], voice) for key, voice in found.items()})
    return {k: v for k, v in found.items() if k[1] != v and staves[k[0]] == distinct[k[0]]}


def _voiceless(tone: Tone, interval: Interval) -> Hashable:
    return (
        tone.staff,
        tone.offset.as_integer_ratio(),
        tone.duration.as_integer_ratio(),
        tone.is_grace,
        tone.moved_place(interval),
    )


def _most(counted: "Counter[str]") -> str:
    return max(counted.items(), key=lambda vote: (vote[1], vote[0]), default=("", 0))[0]
