"""What no change may break; a fault that the source came in with is not held against it."""

from collections.abc import Callable
from dataclasses import dataclass

from arrange.apply.lowering.sheet import RefusedError, Sheet, quarters
from arrange.apply.printed import Place, PrintedMeasure, PrintedNote
from arrange.apply.signatures import Alter, added
from arrange.pitch import SEMITONES
from arrange.score.child_order import CHILD_ORDER
from arrange.score.document import Node

_RANKS = {
    tag: {child: rank for rank, child in enumerate(CHILD_ORDER[tag])}
    for tag in ("note", "direction", "attributes", "pitch")
}

Fault = tuple[str, str]
"""An element's key, and a sentence about what is wrong with it."""


@dataclass(slots=True)
class Soundness:
    """How sound a measure is.

    Attributes:
        printed: what stands there; *revision*: that of its element.
        faults: what is wrong with its notes.
        disordered: the elements whose children are out of order.
    """

    printed: PrintedMeasure
    revision: int
    faults: set[Fault]
    disordered: set[Node]


class Invariants:
    """Compares every measure that a change may break with what it was before the change.

    It is told of a measure before the first edit there (`examine`), and judges after each
    change (`require`); what has passed is the state that the next change is compared with.
    """

    def __init__(self) -> None:
        self._sheet: Sheet | None = None
        self._known: dict[tuple[str, int], Soundness] = {}
        self._lately: dict[tuple[str, int], None] = {}

    def watch(self, sheet: Sheet) -> None:
        """Say where the measures stand."""
        self._sheet = sheet

    def let_go(self) -> None:
        """Let the sheet go: the two hold each other."""
        self._sheet = None

    def begin(self) -> None:
        """Say that another change begins."""
        self._lately = {}

    def examine(self, part: str, index: int) -> None:
        """Take down how a measure stands, and judge it afterwards."""
        self._lately[part, index] = None
        if (part, index) not in self._known:
            self._known[part, index] = soundness(self._require_sheet().printed(part, index))

    def require(self) -> None:
        """See that the change at hand has broken nothing.

        Raises:
            RefusedError: it has; the text says what.
        """
        if not self._lately:
            return
        sheet = self._require_sheet()
        now = {
            place: soundness(sheet.printed(*place), self._known[place]) for place in self._lately
        }
        pairs = [(place, self._known[place].printed, now[place].printed) for place in now]
        has_other_ties = any(was.ties() != is_now.ties() for _, was, is_now in pairs)
        for (part, index), was, is_now in pairs:
            new = _new_faults(self._known[part, index], now[part, index])
            if has_other_ties:
                reach = 1 if was.ties()[0] or is_now.ties()[0] else 0
                for beside in range(index - reach, index + reach + 1):
                    new += self._broken_ties(part, beside)
            new += _other_filling(was, is_now)
            if new:
                number = sheet.measure(part, index).number
                raise RefusedError(f"measure {number}: {new[0][1]}")
        self._known |= now

    def _broken_ties(self, part: str, index: int) -> list[Fault]:
        """Ties of a measure that lead nowhere now, or would take another note's pluck away."""
        sheet = self._require_sheet()

        def now(place: int) -> PrintedMeasure | None:
            return sheet.printed(part, place) if 0 <= place < sheet.count(part) else None

        def before(place: int) -> PrintedMeasure | None:
            known = self._known.get((part, place))
            return now(place) if known is None else known.printed

        measure = now(index)
        if measure is None:
            return []
        was, loose = _loose_ends(before, index), _loose_ends(now, index)
        caught = sorted(end for end, is_free in was.items() if is_free and not loose.get(end))
        tied = {note.node.key for note in measure.ties()[0]}
        return sorted(loose.keys() - was.keys()) + [
            (key, "a loose tie would catch another note") for key, _ in caught if key in tied
        ]

    def _require_sheet(self) -> Sheet:
        if self._sheet is None:
            raise ValueError("nothing to watch yet")
        return self._sheet


def soundness(printed: PrintedMeasure, was: Soundness | None = None) -> Soundness:
    """How sound the measure is now; what stayed as it *was* is not looked at again."""
    since, known = (0, None) if was is None else (was.revision, was.disordered)
    disordered = {
        child
        for child in printed.node.children
        if (not is_in_order(child) if child.revision > since else known and child in known)
    }
    return Soundness(printed, printed.node.revision, _note_faults(printed), disordered)


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


def _note_faults(printed: PrintedMeasure) -> set[Fault]:
    found: set[Fault] = set()
    head: PrintedNote | None = None
    for note in printed.notes:
        if note.is_chord:
            if head is None or head.is_rest or head.onset != note.onset:
                found.add((note.node.key, "a note belongs to a chord that is not there"))
            elif head.duration < note.duration:
                found.add((note.node.key, "a note lasts longer than its chord"))
            continue
        head = note
        if note.duration <= 0 and (note.duration or not note.is_grace):
            found.add((note.node.key, "a note has no length"))
    return found


def _new_faults(was: Soundness, now: Soundness) -> list[Fault]:
    """What is wrong now and was not."""
    disordered = [
        (child.key, f"the children of a {child.tag} are out of order")
        for child in now.disordered - was.disordered
    ]
    return sorted([*disordered, *(now.faults - was.faults)])


def _other_filling(was: PrintedMeasure, now: PrintedMeasure) -> list[Fault]:
    """How the voices fill the measure otherwise than they did; empty where they do not."""
    if was.divisions == now.divisions:
        same = (was.voices, was.end, was.overdrawn) == (now.voices, now.end, now.overdrawn)
        if same:
            return []
    for voice in dict.fromkeys([*was.voices, *now.voices]):
        before, after = (quarters(m.voices.get(voice, 0), m.divisions) for m in (was, now))
        if before != after:
            said = f"voice {voice or '1'} would fill {after} quarters instead of {before}"
            return [("", said)]
    ends = [(quarters(m.end, m.divisions), quarters(m.overdrawn, m.divisions)) for m in (was, now)]
    if ends[0] == ends[1]:
        return []
    return [("", f"the measure would end at {ends[1][0]} instead of {ends[0][0]}")]


_View = Callable[[int], PrintedMeasure | None]
"""A part's measures by their places; None before the first and behind the last."""


def _loose_ends(view: _View, index: int) -> dict[Fault, bool]:
    """The ends of ties in a measure that find no note of their pitch to hold on to.

    Returns:
        For each of them whether nothing sounds alike either, however it is spelled.
    """
    found: dict[Fault, bool] = {}
    measure = view(index)
    for note in measure.ties()[0] if measure is not None else ():
        if note.leaves_tie:
            after = _going_on(view, index, note)
            if not any(_is_same(n, note) for n in after):
                is_free = not any(_sounds_alike(n, note) for n in after)
                found[note.node.key, "a tie would lead nowhere"] = is_free
        if note.is_tied:
            before = _coming_from(view, index, note)
            if not any(_is_same(n, note) for n in before):
                is_free = not any(_sounds_alike(n, note) for n in before)
                found[note.node.key, "a tie would come from nowhere"] = is_free
    return found


def _ties(view: _View, index: int) -> tuple[list[PrintedNote], Place]:
    measure = view(index)
    return ([], 0) if measure is None else measure.ties()


def _going_on(view: _View, index: int, note: PrintedNote) -> list[PrintedNote]:
    """The notes that end a tie where *note* is over."""
    place = note.onset + note.duration
    own, end = _ties(view, index)
    here = [n for n in own if n.is_tied and n.onset == place]
    if place < end:
        return here
    following, _ = _ties(view, index + 1)
    return here + [n for n in following if n.is_tied and n.onset == 0]


def _coming_from(view: _View, index: int, note: PrintedNote) -> list[PrintedNote]:
    """The notes that begin a tie and are over where *note* begins."""
    own, _ = _ties(view, index)
    here = [
        n for n in own if n.leaves_tie and n is not note and n.onset + n.duration == note.onset
    ]
    if note.onset != 0:
        return here
    before, end = _ties(view, index - 1)
    return here + [n for n in before if n.leaves_tie and n.onset + n.duration == end]


def _is_same(one: PrintedNote, two: PrintedNote) -> bool:
    return one.pitch is not None and (one.line, one.alter) == (two.line, two.alter)


def _sounds_alike(one: PrintedNote, two: PrintedNote) -> bool:
    return one.pitch is not None and _key(one) == _key(two)


def _key(note: PrintedNote) -> Alter:
    octave, step = divmod(note.line, len(SEMITONES))
    return added(note.alter, 12 * octave + SEMITONES[step])
