"""What no change may break; a fault that the source came in with is not held against it."""

from dataclasses import dataclass

from arrange.apply.lowering.sheet import RefusedError, Sheet, quarters
from arrange.apply.printed import Place, PrintedMeasure, PrintedNote
from arrange.apply.signatures import Alter, added
from arrange.pitch import SEMITONES
from arrange.score.child_order import CHILD_ORDER
from arrange.score.document import Node
from arrange.units import Quarters

_RANKS = {
    tag: {child: rank for rank, child in enumerate(CHILD_ORDER[tag])}
    for tag in ("note", "direction", "attributes", "pitch")
}

Fault = tuple[str, str]
"""An element's key, and a sentence about what is wrong with it."""
Lasting = tuple[Place, str | None]
"""How long an element lasts, and its voice; None for a further note of a chord."""


@dataclass(frozen=True, slots=True)
class Filling:
    """How the voices of a measure fill it, in quarters.

    Attributes:
        voices: what each voice fills; *end*: where the elements of the measure leave off.
        lowest: how far they go back before its start.
    """

    voices: dict[str, Quarters]
    end: Quarters
    lowest: Quarters


@dataclass(frozen=True, slots=True)
class Soundness:
    """How sound a measure is."""

    faults: frozenset[Fault]
    filling: Filling


class Invariants:
    """Compares every measure that a change may break with what it was before the change.

    It is told of a measure before the first edit there (`examine`), and judges after each
    change (`require`); what has passed is the state that the next change is compared with.
    """

    def __init__(self) -> None:
        self._sheet: Sheet | None = None
        self._known: dict[tuple[str, int], Soundness] = {}
        self._ties: dict[tuple[str, int], frozenset[Fault]] = {}
        self._free: dict[tuple[str, int], frozenset[Fault]] = {}
        self._lately: dict[tuple[str, int], None] = {}
        self._seen = Seen()

    def watch(self, sheet: Sheet) -> None:
        """Say where the measures stand."""
        self._sheet = sheet

    def begin(self) -> None:
        """Say that another change begins."""
        self._lately = {}

    def examine(self, part: str, index: int) -> None:
        """Take down how a measure and the ties around it stand, and judge it afterwards."""
        sheet = self._require_sheet()
        self._lately[part, index] = None
        if (part, index) not in self._known:
            self._known[part, index] = soundness(sheet.printed(part, index), self._seen)
            for beside in self._beside(part, index):
                if (part, beside) not in self._ties:
                    loose = self._ties[part, beside] = loose_ties(sheet, part, beside)
                    free = _free_ends(sheet, part, beside) if loose else loose
                    self._free[part, beside] = free

    def require(self) -> None:
        """See that the change at hand has broken nothing.

        Raises:
            RefusedError: it has; the text says what.
        """
        sheet = self._require_sheet()
        known, ties = {}, {}
        for part, index in self._lately:
            now = known[part, index] = soundness(sheet.printed(part, index), self._seen)
            new = sorted(now.faults - self._known[part, index].faults)
            for beside in self._beside(part, index):
                loose = ties[part, beside] = loose_ties(sheet, part, beside)
                new += sorted(loose - self._ties.get((part, beside), loose))
                new += self._caught(part, beside)
            was = self._known[part, index].filling
            if now.filling != was:
                new.append(("", _difference(was, now.filling)))
            if new:
                number = sheet.measure(part, index).number
                raise RefusedError(f"measure {number}: {new[0][1]}")
        self._known |= known
        self._ties |= ties

    def _caught(self, part: str, index: int) -> list[Fault]:
        """Ties that led nowhere and would now take another note's pluck away."""
        free = self._free.get((part, index))
        if not free:
            return []
        sheet = self._require_sheet()
        tied = {n.node.key for n in sheet.printed(part, index).notes if n.is_tied or n.leaves_tie}
        caught = sorted(free - _free_ends(sheet, part, index))
        return [(key, "a loose tie would catch another note") for key, _ in caught if key in tied]

    def _beside(self, part: str, index: int) -> list[int]:
        """The measure and, where it has ties, its neighbours."""
        sheet = self._require_sheet()
        notes = sheet.printed(part, index).notes
        if not any(note.is_tied or note.leaves_tie for note in notes):
            return [index]
        return list(range(max(index - 1, 0), min(index + 2, sheet.count(part))))

    def _require_sheet(self) -> Sheet:
        if self._sheet is None:
            raise ValueError("nothing to watch yet")
        return self._sheet


class Seen:
    """What was found out about elements, good until they are touched again."""

    def __init__(self) -> None:
        self._in_order: dict[Node, int] = {}
        self._lasting: dict[Node, tuple[int, Lasting]] = {}

    def is_in_order(self, node: Node) -> bool:
        """Whether the element's children stand in order."""
        if self._in_order.get(node) == node.revision:
            return True
        is_so = is_in_order(node)
        if is_so:
            self._in_order[node] = node.revision
        return is_so

    def lasting(self, node: Node) -> Lasting:
        """How long the element lasts, and of which voice it fills so much."""
        known = self._lasting.get(node)
        if known is None or known[0] != node.revision:
            known = self._lasting[node] = node.revision, _lasting(node)
        return known[1]


def soundness(printed: PrintedMeasure, seen: Seen) -> Soundness:
    """How sound the measure is now."""
    faults = [
        (child.key, f"the children of a {child.tag} are out of order")
        for child in printed.node.children
        if child.revision and not seen.is_in_order(child)
    ]
    return Soundness(frozenset(faults + _note_faults(printed)), _filling(printed, seen))


def is_in_order(node: Node) -> bool:
    """Whether the children stand as MusicXML wants them, as far as the order is known."""
    ranks = _RANKS.get(node.tag)
    if ranks is None:
        return True
    last = -1
    for child in node.children:
        rank = ranks.get(child.tag, last)
        if rank < last or (child.children and not is_in_order(child)):
            return False
        last = rank
    return True


def _note_faults(printed: PrintedMeasure) -> list[Fault]:
    found: list[Fault] = []
    head: PrintedNote | None = None
    for note in printed.notes:
        key = note.node.key
        if note.is_chord:
            if head is None or head.is_rest or head.onset != note.onset:
                found.append((key, "a note belongs to a chord that is not there"))
            elif head.duration < note.duration:
                found.append((key, "a note lasts longer than its chord"))
            continue
        head = note
        if note.duration < 0 or (note.duration == 0 and not note.is_grace):
            found.append((key, "a note has no length"))
    return found


def _filling(printed: PrintedMeasure, seen: Seen) -> Filling:
    voices: dict[str, Place] = {}
    place: Place = 0
    lowest: Place = 0
    divisions, scale, is_plain = printed.divisions, Quarters(1), True
    for child in printed.node.children:
        tag = child.tag
        if tag == "attributes" and child.find("divisions") is not None:
            scale = Quarters(divisions) / Quarters(child.child_text("divisions"))
            is_plain = scale == 1
        elif tag in _TIMED:
            length, voice = seen.lasting(child)
            length = length if is_plain else length * scale
            if tag == "backup":
                place -= length
                lowest = min(lowest, place)
            elif tag == "forward":
                place += length
            elif voice is not None:
                place += length
                voices[voice] = voices.get(voice, 0) + length
    filled = {voice: quarters(length, divisions) for voice, length in voices.items() if length}
    return Filling(filled, quarters(place, divisions), quarters(lowest, divisions))


def _lasting(node: Node) -> Lasting:
    text = node.child_text("duration") or "0"
    length: Place = int(text) if text.isdecimal() else Quarters(text)
    return length, None if node.find("chord") is not None else node.child_text("voice")


def _difference(was: Filling, now: Filling) -> str:
    for voice in dict.fromkeys([*was.voices, *now.voices]):
        before, after = (f.voices.get(voice, Quarters(0)) for f in (was, now))
        if before != after:
            return f"voice {voice or '1'} would fill {after} quarters instead of {before}"
    return f"the measure would end at {now.end} instead of {was.end}"


_TIMED = frozenset({"note", "backup", "forward"})


def loose_ties(sheet: Sheet, part: str, index: int) -> frozenset[Fault]:
    """The ends of ties in a measure that find no note of their pitch to hold on to."""
    return frozenset((key, text) for key, text, _ in _loose_ends(sheet, part, index))


def _free_ends(sheet: Sheet, part: str, index: int) -> frozenset[Fault]:
    """Those that find none that sounds alike either, however it is spelled."""
    ends = _loose_ends(sheet, part, index)
    return frozenset((key, text) for key, text, is_free in ends if is_free)


def _loose_ends(sheet: Sheet, part: str, index: int) -> list[tuple[str, str, bool]]:
    """Note, what is wrong, and whether nothing sounds alike."""
    printed = sheet.printed(part, index)
    tied = [note for note in printed.notes if note.is_tied or note.leaves_tie]
    if not tied:
        return []
    end = max(note.onset + note.duration for note in printed.notes)
    found: list[tuple[str, str, bool]] = []
    for note in tied:
        if note.leaves_tie:
            after = _going_on(sheet, (part, index, end), note)
            if not any(_is_same(n, note) for n in after):
                is_free = not any(_sounds_alike(n, note) for n in after)
                found.append((note.node.key, "a tie would lead nowhere", is_free))
        if note.is_tied:
            before = _coming_from(sheet, (part, index), note)
            if not any(_is_same(n, note) for n in before):
                is_free = not any(_sounds_alike(n, note) for n in before)
                found.append((note.node.key, "a tie would come from nowhere", is_free))
    return found


def _going_on(sheet: Sheet, where: tuple[str, int, Place], note: PrintedNote) -> list[PrintedNote]:
    """The notes that end a tie where *note* is over."""
    part, index, end = where
    place = note.onset + note.duration
    here = [n for n in sheet.printed(part, index).notes if n.is_tied and n.onset == place]
    if place < end or index + 1 >= sheet.count(part):
        return here
    following = sheet.printed(part, index + 1).notes
    return here + [n for n in following if n.is_tied and n.onset == 0]


def _coming_from(sheet: Sheet, where: tuple[str, int], note: PrintedNote) -> list[PrintedNote]:
    """The notes that begin a tie and are over where *note* begins."""
    part, index = where
    here = [
        other
        for other in sheet.printed(part, index).notes
        if other.leaves_tie and other is not note and other.onset + other.duration == note.onset
    ]
    if note.onset != 0 or index == 0:
        return here
    before = sheet.printed(part, index - 1).notes
    end = max((n.onset + n.duration for n in before), default=0)
    return here + [n for n in before if n.leaves_tie and n.onset + n.duration == end]


def _is_same(one: PrintedNote, two: PrintedNote) -> bool:
    return one.pitch is not None and (one.line, one.alter) == (two.line, two.alter)


def _sounds_alike(one: PrintedNote, two: PrintedNote) -> bool:
    return one.pitch is not None and _key(one) == _key(two)


def _key(note: PrintedNote) -> Alter:
    octave, step = divmod(note.line, len(SEMITONES))
    return added(note.alter, 12 * octave + SEMITONES[step])
