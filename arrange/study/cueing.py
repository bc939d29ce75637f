"""Where the cue of a lever move is printed, and what it says."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.harp.wording import ORDINALS, note_in_signs
from arrange.score.model import HandName, Measure, Score, StaffHand
from arrange.score.own import OwnCue
from arrange.study.cue_room import ends_before
from arrange.study.planning import Place, PlannedMove
from arrange.units import Quarters

WrittenCue = tuple[str, int, str]
"""A cue that was written: the id of its direction, its measure, the id of the change."""
Taken = dict[Place, list[str]]
"""What stands at each place."""
CLUSTER = 2
"""Most cues that stand at one place (house judgement)."""


@dataclass(frozen=True, slots=True)
class Cue:
    """A cue on the page.

    Attributes:
        move: what it announces; *place*: where it is printed; *text*: what it says.
        staff: the staff that it hangs on; *above*: printed above that staff, else below.
    """

    move: PlannedMove
    place: Place
    text: str
    staff: int
    above: bool


def cues(
    score: Score,
    staves: tuple[StaffHand, ...],
    moves: tuple[PlannedMove, ...],
    harp: Harp,
    player: Player,
) -> tuple[Cue, ...]:
    """Return a cue for each move, between the staves, a beat or more ahead of the move.

    Where a voice crosses over from staff to staff its beams fill that space, and the cue stands
    below the left hand's staff.

    A cue lies on a beat, never in a measure that is not always played just before the move,
    never before the last note that its string plays as it stood, not in the first measure after
    a page turn where that can be helped, where it ends before the barline and meets no other
    cue if there is such a beat, and at most two stand at one place, the first to be done on top.
    """
    staff, above = between_the_staves(staves)
    taken: Taken = {}
    found: list[Cue] = []
    for move in moves:
        text = cue_text(move, harp)
        last = _last_played(score, staves, move, harp)
        free = list(_free(score, move, taken, (_place(score, move, player, last), last)))
        place, text = _with_room(score.measure(move.part, free[0].index), free, text, taken)
        taken.setdefault(place, []).append(text)
        clear = above and not crosses_over(score, move.part, place.index)
        found.append(Cue(move, place, text, staff, clear))
    return tuple(_stacked(found))


def _stacked(found: list[Cue]) -> Iterator[Cue]:
    """The cues in the order in which they are written.

    What is written first stands nearest to the staff: above it the last of a place comes first,
    so that they are read from the top.
    """
    together: dict[tuple[Place, bool], list[Cue]] = {}
    for cue in found:
        together.setdefault((cue.place, cue.above), []).append(cue)
    for (_, above), row in together.items():
        yield from reversed(row) if above else row


def within(found: Iterable[Cue], window: frozenset[int] | None) -> Iterator[Cue]:
    """Yield the cues, those that would stand outside the measures of *window* at their edge."""
    for cue in found:
        if window is None or cue.place.index in window:
            yield cue
            continue
        first = cue.move.index
        while first - 1 in window:
            first -= 1
        yield replace(cue, place=Place(first, Quarters(0)))


def changes_of(moves: Iterable[PlannedMove], written: Iterable[WrittenCue]) -> tuple[str, ...]:
    """The changes that wrote the cues of *moves*, in the order in which they were written."""
    wanted = {(m.string, m.position, m.index, m.offset, m.passes) for m in moves}
    found = []
    for own, index, change in written:
        cue = OwnCue.parse(own)
        if cue is None:
            continue
        move = (cue.string, cue.position, index + cue.measures_on, cue.offset, cue.passes)
        if move in wanted:
            found.append(change)
    return tuple(found)


def between_the_staves(staves: tuple[StaffHand, ...]) -> tuple[int, bool]:
    """The staff that words between the staves hang on, and whether above it.

    That is the left hand's, above: dynamics hang below the right hand's.
    """
    left = next((s for s in reversed(staves) if s.hand is HandName.LEFT), staves[0])
    return left.staff, True


def crosses_over(score: Score, part: str, index: int) -> bool:
    """Whether a voice of the measure is written on two staves."""
    staff_of: dict[str, int] = {}
    notes = score.measure(part, index).notes
    return any(staff_of.setdefault(note.voice, note.staff) != note.staff for note in notes)


def cue_text(move: PlannedMove, harp: Harp) -> str:
    """What the cue says: the resulting note, the hand if it is the right, the passes."""
    string = harp.string_named(move.string)
    pitch = harp.strings[string].pitch(move.position) if string is not None else None
    if pitch is None:  # pragma: no cover - the planner moves levers that exist
        raise AssertionError(move.string)
    text = note_in_signs(pitch)
    if move.hand is HandName.RIGHT:
        text += " R.H."
    if move.passes:
        text += f" ({', '.join(ORDINALS[p] for p in move.passes)} time)"
    return text


def in_two_lines(text: str) -> str:
    """The cue with its hand and its passes on a second line."""
    return text.replace(" R.H.", "\nR.H.") if " R.H." in text else text.replace(" (", "\n(")


def _last_played(
    score: Score, staves: tuple[StaffHand, ...], move: PlannedMove, harp: Harp
) -> Place:
    """The last note that the string plays before the move, in its measure or the one before."""
    string = harp.string_named(move.string)
    found = [(max(move.index - 1, 0), Quarters(0))]
    for part in dict.fromkeys(staff.part for staff in staves):
        for index in range(max(move.index - 1, 0), move.index + 1):
            for note in score.measure(part, index).notes:
                home = harp.home_as_spelled(note.pitch)
                is_before = (index, note.offset) < (move.index, move.offset)
                if is_before and not note.is_cue and home is not None and home.string == string:
                    found.append((index, note.offset))
    return Place(*max(found))


def outside(score: Score, part: str, staff: int) -> bool:
    """Whether words about single notes of a staff stand above it.

    Those of a left hand's staff stand below: between the staves there are the cues.
    """
    named = (s for staves in score.harps for s in staves if (s.part, s.staff) == (part, staff))
    return all(s.hand is not HandName.LEFT for s in named)


def _place(score: Score, move: PlannedMove, player: Player, last: Place) -> Place:
    beat = score.measure(move.part, move.index).meter.beat
    wanted = move.offset - beat * player.cue_ahead_beats
    place = _at_or_before(score, move, Place(move.index, wanted - wanted % beat))
    if _is_earlier(place, last):
        place = last
    if score.measure(move.part, place.index).structure.new_page:
        turned = _at_or_before(score, move, Place(place.index, -beat))
        place = place if _is_earlier(turned, last) else turned
    return place


def _free(
    score: Score, move: PlannedMove, taken: Taken, ends: tuple[Place, Place]
) -> Iterator[Place]:
    """Yield the beats between *ends* that are free, the latest first, all of one measure.

    Where none is, the latest of all.
    """
    latest, last = place, _ = ends
    beat = score.measure(move.part, place.index).meter.beat
    found: list[Place] = []
    while not found or found[0].index == place.index:
        if len(taken.get(place, ())) < CLUSTER:
            found.append(place)
        earlier = _at_or_before(score, move, Place(place.index, place.offset - beat))
        if earlier == place or _is_earlier(earlier, last):
            break
        place = earlier
    yield from found or [latest]


def _with_room(measure: Measure, free: list[Place], text: str, taken: Taken) -> tuple[Place, str]:
    """The first of the places where the cue ends before the barline, in one line or in two.

    One where it meets no other cue is better.
    """
    ways = [(place, words) for words in (text, in_two_lines(text)) for place in free]
    fitting = [
        (place, words)
        for place, words in ways
        if ends_before(measure, place.offset, words, measure.length)
    ]
    clear = [way for way in fitting if _is_clear(measure, *way, taken)]
    return next(iter((*clear, *fitting)), (free[-1], in_two_lines(text)))


def _is_clear(measure: Measure, place: Place, words: str, taken: Taken) -> bool:
    """Whether the cue ends before the next one begins, and begins after the last one ends."""
    rows = [(p.offset, said) for p, said in taken.items() if p.index == place.index]
    return all(
        ends_before(measure, place.offset, words, offset)
        if offset > place.offset
        else all(ends_before(measure, offset, text, place.offset) for text in said)
        for offset, said in rows
        if offset != place.offset
    )


def _is_earlier(one: Place, two: Place) -> bool:
    return (one.index, one.offset) < (two.index, two.offset)


def _at_or_before(score: Score, move: PlannedMove, place: Place) -> Place:
    """The place, where it lies before its measure carried into the one before, if that is
    always played just before; else the start of the measure.
    """
    if place.offset >= 0:
        return place
    if place.index == 0 or not _always_follows(score, place.index):
        return Place(place.index, Quarters(0))
    before = score.measure(move.part, place.index - 1)
    offset = before.length + place.offset
    beat = before.meter.beat
    return Place(before.index, max(offset - offset % beat, Quarters(0)))


def _always_follows(score: Score, index: int) -> bool:
    """Whether measure *index* is always played straight after the one printed before it."""
    performed = score.performed
    return all(
        i > 0 and performed[i - 1] == index - 1
        for i, played in enumerate(performed)
        if played == index
    )
