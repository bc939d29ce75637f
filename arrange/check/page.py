"""What the page itself tells the player: the opening words, the cues, the marks at notes."""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from arrange.check.instructions import (
    HarpInstructions,
    Instruction,
    Instructions,
    Spot,
    SweepInstruction,
    Violation,
)
from arrange.harp.harp import Harp, HarpString, Position
from arrange.harp.wording import read_note, read_setting
from arrange.score.model import EventId, HandName, Mark, MarkKind, Score, StaffHand
from arrange.score.own import PREFIX, SETTING, OwnCue
from arrange.score.plucks import plucks
from arrange.score.sweep_words import sweep_words

_RIGHT_HAND = " R.H."
_AFTER_NOTE = re.compile(r"( R\.H\.)?( \([^)]*\))?$")
_SHARPS = "FCGDAEB"


def from_page(score: Score, harp: Harp) -> Instructions:
    """Read from our own words and marks what the player is told.

    A score that says nothing about levers is taken as played with the levers set once, at the
    start, and each note on whichever string gives it.
    """
    marks = list(_own_marks(score))
    told = [_told(score, harp, staves, marks) for staves in score.harps]
    is_silent = not any(one.has_words for one in told)
    return Instructions(
        harps=tuple(
            HarpInstructions(
                one.setting if one.setting is not None else set_once(score, harp, staves),
                tuple(one.moves),
            )
            for one, staves in zip(told, score.harps, strict=True)
        ),
        left_open=frozenset(score.left_open),
        reassigned=score.reassigned,
        sweeps=_sweeps(score),
        troubles=tuple(trouble for one in told for trouble in one.troubles),
        is_by_ear=is_silent,
    )


def set_once(score: Score, harp: Harp, staves: tuple[StaffHand, ...]) -> dict[str, Position]:
    """Where levers stand best if none is ever moved: as most notes ask, else as the key does."""
    votes: dict[int, Counter[Position]] = {}
    for pluck in plucks(score, staves):
        home = harp.home_as_spelled(pluck.pitch)
        homes = (home,) if home is not None else harp.homes(pluck.pitch.midi)
        for one in homes:
            votes.setdefault(one.string, Counter())[one.position] += 1
    fifths = score.by_part[staves[0].part].measures[0].fifths[0]
    standing = {}
    for number, string in enumerate(harp.strings):
        if string.raised is not None:
            asked = votes.get(number, Counter())
            usual = _in_key(string, fifths)
            other = Position.UP if usual is Position.DOWN else Position.DOWN
            standing[string.name] = other if asked[other] > asked[usual] else usual
    return standing


def _in_key(string: HarpString, fifths: int) -> Position:
    """Where a key signature of *fifths* wants the lever; down where neither place fits."""
    place = _SHARPS.index(string.letter)
    alter = 1 if fifths > place else -1 if fifths < place - 6 else 0
    is_raised = string.raised is not None and string.raised.alter == alter
    return Position.UP if is_raised and string.open.alter != alter else Position.DOWN


def _own_marks(score: Score) -> Iterator[Mark]:
    for name in score.harp_parts:
        for measure in score.by_part[name].measures:
            for mark in measure.marks:
                if mark.kind is MarkKind.OWN:
                    yield mark


@dataclass
class _Told:
    """What is found for one harp."""

    setting: dict[str, Position] | None = None
    moves: list[Instruction] = field(default_factory=list)
    troubles: list[Violation] = field(default_factory=list)
    has_words: bool = False


def _told(score: Score, harp: Harp, staves: tuple[StaffHand, ...], marks: list[Mark]) -> _Told:
    told = _Told()
    parts = {staff.part for staff in staves}
    for mark in marks:
        if mark.id.part not in parts:
            continue
        if mark.own == SETTING or mark.own.startswith(SETTING + "."):
            told.has_words = True
            told.setting = read_setting(mark.text, harp)
            if told.setting is None:
                told.troubles.append(_trouble(score, mark, "does not say how to set the levers"))
        elif mark.own.startswith(PREFIX + "cue."):
            told.has_words = True
            _take_cue(score, harp, mark, told)
    return told


def _take_cue(score: Score, harp: Harp, mark: Mark, told: _Told) -> None:
    try:
        cue = OwnCue.parse(mark.own)
    except (ValueError, ZeroDivisionError):
        cue = None
    if cue is None:
        told.troubles.append(_trouble(score, mark, "cannot be understood"))
        return
    index = mark.id.index + cue.measures_on
    problem = _contradiction(harp, cue, mark.text)
    if not 0 <= index < len(score.by_part[mark.id.part].measures):
        problem = "speaks of a measure that is not there"
    if problem:
        told.troubles.append(_trouble(score, mark, problem))
        return
    told.moves.append(
        Instruction(
            mark.id.part, cue.string, cue.position, index, cue.offset, cue.hand, cue.passes
        )
    )


def _contradiction(harp: Harp, cue: OwnCue, text: str) -> str:
    """What the words of a cue say against its id; empty where both say the same."""
    number = harp.string_named(cue.string)
    if number is None:
        return f"moves a lever of {cue.string}, a string that this harp does not have"
    pitch = harp.strings[number].pitch(cue.position)
    if pitch is None:
        return f"moves a lever of {cue.string}, which has none on this harp"
    words = " ".join(text.split())
    said = read_note(_AFTER_NOTE.sub("", words))
    if said != pitch:
        return f"says another note than {pitch}, which its lever gives"
    if (_RIGHT_HAND in words) != (cue.hand is HandName.RIGHT):
        return f"names another hand than the {cue.hand.value} one, which is meant"
    return ""


def _trouble(score: Score, mark: Mark, problem: str) -> Violation:
    place = Spot(mark.id.part, mark.id.index, mark.offset, mark.staff)
    return Violation.at(score, place, (), f"The line “{mark.text}” {problem}.")


def _sweeps(score: Score) -> dict[EventId, SweepInstruction]:
    found = {}
    for sweep in score.sweeps:
        start = score.notes_by_id[sweep.start]
        words = sweep_words(score.measure(start.id.part, start.id.index).marks, start)
        found[sweep.start] = SweepInstruction(frozenset(words.foreign), frozenset(words.held))
    return found
