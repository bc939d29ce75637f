"""How loud each printed place is, from dynamics, hairpins and accents.

Loudness counts like MIDI's velocity, 1 to 127. A dynamic holds for all staves of its part until
the next one; where a staff has its own at the same place, its own holds (common practice).
"""

import re
from bisect import bisect_right
from dataclasses import dataclass
from itertools import accumulate, islice

from arrange.score.model import Mark, MarkKind, Note, Part, Score, Sign
from arrange.units import Quarters

LEVELS = {
    "pppp": 22, "ppp": 30, "pp": 42, "p": 55, "mp": 67, "mf": 79, "f": 92, "ff": 106, "fff": 118,
    "ffff": 124,
}  # fmt: skip
"""What each dynamic counts (house judgement)."""
UNSAID = LEVELS["mf"]
"""Before the first dynamic (common practice)."""
DEGREE = 12
"""What a hairpin gains where no dynamic ends it (house judgement)."""
FORCED = 16
"""What a forced note gains (house judgement)."""
ACCENTS = {"accent": 12, "strong-accent": 18}
"""What signs on a note add (house judgement)."""
OPEN_SWELL = 4
"""So many measures an unended *crescendo* lasts (house judgement)."""
SOFTEST, LOUDEST = 1, 127
_FORCED_SIGNS = frozenset({"sf", "sfz", "sffz", "fz", "rf", "rfz", "sfp", "sfpp", "fp", "pf"})
_AFTER_FORCE = {"sfp": "p", "sfpp": "pp", "fp": "p", "pf": "f"}
_SWELLS = (
    (re.compile(r"cresc\w*|rinforz\w*"), 1),
    (re.compile(r"decresc\w*|dim\w*|morendo|calando|perdendosi"), -1),
)
_WORD = re.compile(r"[a-zà-ÿ]+")

_Place = tuple[int, Quarters]
_Point = tuple[_Place, int, bool]
"""From a place on: the loudness, and whether it moves from there to the next point."""


@dataclass(frozen=True, slots=True)
class _Said:
    """One thing that a dynamic says: a level, a swell of some direction, or its stop."""

    place: _Place
    staff: int
    level: int = 0
    swell: int = 0
    force: int = 0


class Loudness:
    """How loud the notes of a score are."""

    def __init__(self, score: Score) -> None:
        self._curves: dict[tuple[str, int], list[_Point]] = {}
        self._forces: dict[tuple[str, int], dict[_Place, int]] = {}
        self._starts: dict[str, list[Quarters]] = {}
        for name in score.harp_parts:
            part = score.by_part[name]
            lengths = (measure.length for measure in part.measures)
            self._starts[name] = list(accumulate(lengths, initial=Quarters(0)))
            said = _said(part)
            for staff in range(1, part.staves + 1):
                own = _own(said, staff)
                self._curves[name, staff] = _curve(own)
                self._forces[name, staff] = {s.place: s.force for s in own if s.force}
        self._places = {key: [p for p, _, _ in curve] for key, curve in self._curves.items()}

    def at(self, note: Note, index: int, offset: Quarters) -> int:
        """How loud *note* is where it is played at *offset* of the measure *index*."""
        key = (note.id.part, note.staff)
        place = (index, offset)
        level = self._level(key, place) + self._forces.get(key, {}).get(place, 0)
        if note.notations:
            accents = (ACCENTS.get(n.text, 0) for n in note.notations if n.sign is Sign.OTHER)
            level += max(accents, default=0)
        return min(max(level, SOFTEST), LOUDEST)

    def _level(self, key: tuple[str, int], place: _Place) -> int:
        curve = self._curves.get(key)
        if curve is None:
            return UNSAID
        before = bisect_right(self._places[key], place) - 1
        if before < 0:
            return UNSAID
        start, level, is_moving = curve[before]
        if not is_moving:
            return level
        end, target, _ = curve[before + 1]
        begin, now, last = (self._line(key[0], where) for where in (start, place, end))
        return level + round((target - level) * (now - begin) / (last - begin))

    def _line(self, part: str, place: _Place) -> Quarters:
        starts = self._starts[part]
        return starts[min(place[0], len(starts) - 1)] + place[1]


def _said(part: Part) -> list[_Said]:
    found = []
    for measure in part.measures:
        for mark in measure.marks:
            if mark.kind is MarkKind.DYNAMICS:
                found.extend(_parsed(mark, (measure.index, mark.offset)))
    found.sort(key=lambda said: (said.place, not said.level))
    return found


def _parsed(mark: Mark, place: _Place) -> list[_Said]:
    found = []
    for word in _WORD.findall(mark.text.lower()):
        if word in _FORCED_SIGNS:
            found.append(_Said(place, mark.staff, LEVELS.get(_AFTER_FORCE.get(word, ""), 0)))
            found.append(_Said(place, mark.staff, force=FORCED))
        elif word in LEVELS:
            found.append(_Said(place, mark.staff, LEVELS[word]))
        elif word == "stop":
            found.append(_Said(place, mark.staff))
        else:
            swells = (sign for pattern, sign in _SWELLS if pattern.fullmatch(word))
            found.extend(_Said(place, mark.staff, swell=sign) for sign in swells)
    return found


def _own(said: list[_Said], staff: int) -> list[_Said]:
    """What holds for one staff: where it has its own, the others' at that place do not."""
    own = {s.place for s in said if s.staff == staff}
    return [s for s in said if s.staff == staff or s.place not in own]


def _curve(said: list[_Said]) -> list[_Point]:
    points: list[_Point] = []
    level = UNSAID
    end: _Place = (0, Quarters(0))
    for number, one in enumerate(said):
        if one.level:
            level = one.level
            points.append((one.place, level, False))
        elif one.swell and one.place >= end:
            start = one.place
            end, target = _swollen(said, number, level)
            points += [(start, level, True), (end, target, False)]
            level = target
    return points


def _swollen(said: list[_Said], number: int, level: int) -> tuple[_Place, int]:
    """Where a hairpin or a *crescendo* ends, and how loud it is there."""
    start = said[number]
    unended = level + start.swell * DEGREE
    following = (s for s in islice(said, number + 1, None) if not s.force)
    ahead = (s for s in following if s.place > start.place)
    first = next(ahead, None)
    if first is None:
        return (start.place[0] + OPEN_SWELL, start.place[1]), unended
    if first.level:
        return first.place, first.level
    reached = next(ahead, None)
    is_stop = not first.swell
    if is_stop and reached and reached.level and reached.place[0] <= first.place[0] + 1:
        is_onward = (reached.level - level) * start.swell > 0
        return first.place, reached.level if is_onward else unended
    return first.place, unended
