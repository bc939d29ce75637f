"""Why a note gives way: what its string stands for around it, and what is left of its tone."""

from bisect import bisect_left
from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from operator import attrgetter

from arrange.harp.harp import Harp, Position
from arrange.harp.wording import note_in_words
from arrange.pitch import Pitch
from arrange.score.model import EventId, Score
from arrange.study.levering import LeverPlan, Treatment
from arrange.study.planning import pitch_of
from arrange.study.roles import NoteRole, Role, roles
from arrange.units import Quarters

Place = tuple[int, Quarters]
"""Measure and offset, as printed."""
Tone = tuple[int, Quarters, int]
"""Measure, offset, pitch class."""
PLAYED = frozenset({"home", "octave"})
"""Labels of treatments that let a note sound."""


@dataclass(frozen=True, slots=True)
class _Use:
    """A *string* is plucked at a printed *place*, its lever in *position*."""

    place: Place
    string: int
    position: Position


class GivingWay:
    """What speaks of the notes of one plan that are not played as they are written.

    Args:
        score: the score that was planned.
        levers: the plan.
        harp: the harp.
    """

    def __init__(self, score: Score, levers: LeverPlan, harp: Harp) -> None:
        self._score = score
        self._levers = levers
        self._harp = harp

    def stands_for(self, treatment: Treatment) -> str:
        """What keeps the note's string: ``stands for low A flat on beat 2 and in measure 10``.

        Returns:
            "" where nothing that is plucked just before, then, or just after keeps the lever
            from the note.
        """
        around = self._otherwise(treatment)
        if not around:
            return ""
        here = _place(treatment)
        named = note_in_words(self._sounded(around[0]))
        if any(use.place == here for use in around):
            return f"stands for {named} at the same moment"
        places = dict.fromkeys(self._where(use.place, treatment) for use in around)
        return f"stands for {named} {' and '.join(places)}"

    def instead(self, treatment: Treatment) -> str:
        """What may be played in place of a note that no hand can set in time."""
        role = self._roles.get(treatment.pluck.note)
        if role is not None and role.role is Role.BASS:
            return "play it an octave away"
        around = self._otherwise(treatment)
        return (
            f"play {note_in_words(self._sounded(around[0]))} instead" if around else "leave it out"
        )

    def spared(self, treatment: Treatment) -> str:
        """Why the harmony can spare a note that is left out: a clause for the end of a sentence.

        It says that a tone is gone where no note that has it is played.
        """
        pluck = treatment.pluck
        role = self._roles[pluck.note]
        tone = (pluck.index, pluck.offset, pluck.pitch.midi % 12)
        if self._sounding[tone]:
            return "another note has its tone"
        return spared_in_words(role, is_doubled=self._lost[tone] < 2)

    def _where(self, place: Place, treatment: Treatment) -> str:
        measure = self._score.measure(treatment.pluck.part, place[0])
        if place[0] == treatment.pluck.index:
            return f"on beat {measure.meter.count(place[1])}"
        return f"in measure {measure.number}"

    def _otherwise(self, treatment: Treatment) -> list[_Use]:
        """The uses then or else before, and next, in which the string sounds something else."""
        pitch = treatment.pluck.pitch
        home = self._harp.home_as_spelled(pitch) or next(iter(self._harp.homes(pitch.midi)), None)
        if home is None:
            return []
        uses = self._uses.get(home.string, [])
        place = bisect_left(uses, _place(treatment), key=attrgetter("place"))
        around = uses[max(place - 1, 0) : place + 1]
        return [use for use in around if use.position is not home.position]

    def _sounded(self, use: _Use) -> Pitch:
        return pitch_of(self._harp, (use.string, use.position))

    @cached_property
    def _uses(self) -> dict[int, list[_Use]]:
        found: dict[int, list[_Use]] = {}
        for treatment in self._levers.treatments:
            played = treatment.choice.played
            if played is not None:
                use = _Use(_place(treatment), *played)
                found.setdefault(played[0], []).append(use)
        for uses in found.values():
            uses.sort(key=attrgetter("place"))
        return found

    @cached_property
    def _sounding(self) -> Counter[Tone]:
        return self._tones(PLAYED)

    @cached_property
    def _lost(self) -> Counter[Tone]:
        return self._tones(frozenset({"omit", "open"}))

    def _tones(self, labels: frozenset[str]) -> Counter[Tone]:
        plucks = (t.pluck for t in self._levers.treatments if t.label in labels)
        return Counter((p.index, p.offset, p.pitch.midi % 12) for p in plucks)

    @cached_property
    def _roles(self) -> dict[EventId, NoteRole]:
        return roles(self._score)


def _place(treatment: Treatment) -> Place:
    return treatment.pluck.index, treatment.pluck.offset


def spared_in_words(role: NoteRole, *, is_doubled: bool = True) -> str:
    """Why the harmony can spare a note, or what it loses, as a clause.

    *is_doubled*: where its tone has other notes, one of them is played.
    """
    if is_doubled and (role.sounds_elsewhere or role.role is Role.DOUBLING):
        return "its tone still sounds in another note"
    if role.is_passing:
        return "it only passes by"
    if role.degree == "other":
        return "it is foreign to the chord"
    return f"the chord goes without its {role.degree}"
