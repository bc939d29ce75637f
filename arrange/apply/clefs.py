"""Ledger lines and clefs: where moved notes ask for another clef, and how it is written."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from arrange.apply.printed import PrintedNote, part_measures, printed_part
from arrange.apply.signatures import BASS, TREBLE, StaffClef, clef_of
from arrange.pitch import Pitch
from arrange.score.document import Document, Node, element
from arrange.score.model import Clef

MOST_LEDGER_LINES = 3
"""More than these should not run on (common practice)."""
RUNNING_ON = 4
"""From so many chords in a row a clef is worth its reading (house judgement)."""
_HALF_STAFF = 4
"""Steps from the middle line to the outer ones."""


def ledger_lines(pitch: Pitch, clef: Clef) -> int:
    """How many ledger lines a written pitch needs in a clef."""
    return lines_at(pitch.line, clef_of(clef.sign, clef.line, clef.octave))


def lines_at(line: int, clef: StaffClef) -> int:
    """How many ledger lines the diatonic place *line* needs."""
    return max(0, (abs(line - clef.middle) - _HALF_STAFF) // 2)


@dataclass(frozen=True, slots=True)
class WantedClef:
    """A stretch of a staff that another clef would keep off the ledger lines.

    Attributes:
        index, first: the measure and the note before which the clef stands.
        until_index, until: where the old clef returns; -1 and None where the staff ends first.
        new: the clef; *old*: the one that returns.
        chords: how many chords it holds for.
    """

    part: str
    staff: int
    index: int
    first: Node
    until_index: int
    until: Node | None
    new: StaffClef
    old: StaffClef
    chords: int


@dataclass(slots=True)
class _Moment:
    """What a staff plays at one place, in all its voices."""

    index: int
    clef: StaffClef
    notes: list[PrintedNote]
    lines: list[int]

    def runs_on(self) -> bool:
        """Whether it is too far off its staff."""
        return any(lines_at(line, self.clef) > MOST_LEDGER_LINES for line in self.lines)


def clef_changes_wanted(
    document: Document, part: str, staff: int, moved: Collection[Node]
) -> list[WantedClef]:
    """Where notes that *moved* run on above or below more than three ledger lines.

    Only stretches that the treble or bass clef brings within three lines are named.
    """
    moments = list(_moments(document, part, staff))
    wanted = []
    begin = 0
    for place in range(len(moments) + 1):
        if place < len(moments) and _goes_on(moments, begin, place):
            continue
        run = moments[begin:place]
        clef = _better_clef(run, moved)
        if clef is not None:
            after = moments[place] if place < len(moments) else None
            wanted.append(_wanted_clef(part, staff, run, after, clef))
        begin = place if place < len(moments) and moments[place].runs_on() else place + 1
    return wanted


def _goes_on(moments: list[_Moment], begin: int, place: int) -> bool:
    return moments[place].runs_on() and moments[place].clef == moments[begin].clef


def _wanted_clef(
    part: str, staff: int, run: list[_Moment], after: _Moment | None, clef: StaffClef
) -> WantedClef:
    keeps = after is not None and after.clef == run[0].clef
    return WantedClef(
        part,
        staff,
        run[0].index,
        run[0].notes[0].node,
        after.index if after is not None and keeps else -1,
        after.notes[0].node if after is not None and keeps else None,
        clef,
        run[0].clef,
        len(run),
    )


def _better_clef(run: list[_Moment], moved: Collection[Node]) -> StaffClef | None:
    if len(run) < RUNNING_ON:
        return None
    if not any(note.node in moved for moment in run for note in moment.notes):
        return None
    for clef in (TREBLE, BASS):
        lines = [line for moment in run for line in moment.lines]
        if all(lines_at(line, clef) <= MOST_LEDGER_LINES for line in lines):
            return clef
    return None


def _moments(document: Document, part: str, staff: int) -> Iterator[_Moment]:
    for measure in printed_part(part_measures(document, part)):
        latest: _Moment | None = None
        for note in measure.reading_order():
            if note.staff != staff or note.pitch is None or note.is_grace or note.is_hidden:
                continue
            if latest is None or latest.notes[0].onset != note.onset:
                if latest is not None:
                    yield latest
                latest = _Moment(measure.index, measure.clef_at(staff, note.onset), [], [])
            latest.notes.append(note)
            latest.lines.append(measure.display_line(note))
        if latest is not None:
            yield latest


def write_clef(document: Document, wanted: WantedClef) -> None:
    """Write the clef of a stretch, and the old one behind it."""
    numbered = _is_numbered(document, wanted.part)
    staff = str(wanted.staff) if numbered else ""
    _put_before(document, wanted.first, wanted.new, staff)
    if wanted.until is not None:
        _put_before(document, wanted.until, wanted.old, staff)


def _put_before(document: Document, note: Node, clef: StaffClef, staff: str) -> None:
    measure = note.parent
    if measure is None:
        return
    content = [element("sign", clef.sign), element("line", str(clef.line))]
    if clef.octave:
        content.append(element("clef-octave-change", str(clef.octave)))
    written = element("clef", "", *content, attributes={"number": staff} if staff else None)
    place = measure.children.index(note)
    while place and measure.children[place - 1].find("grace") is not None:
        place -= 1
    before = measure.children[place]
    document.insert(measure, element("attributes", "", written), before=before)


def _is_numbered(document: Document, part: str) -> bool:
    """Whether the part says of its clefs which staff they are for."""
    for measure in part_measures(document, part)[:1]:
        for attributes in measure.find_all("attributes"):
            if any("number" in clef.attrs for clef in attributes.find_all("clef")):
                return True
    return False
