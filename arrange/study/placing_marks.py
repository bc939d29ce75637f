"""How a fingering is written: which placings are numbered, and which get a bracket."""

from collections.abc import Iterator
from dataclasses import dataclass

from arrange.hands.fingering import Fingered, HandFingering, Joining, Placing
from arrange.score.model import EventId, HandName, Note
from arrange.sources import HOUSE_JUDGEMENT, Source

LONG = 6
"""A figure that goes on in the same placing is parted at a beat from so many handfuls on."""
SOURCE: Source = HOUSE_JUDGEMENT

_HOW = {
    Joining.ON: "; the hand stays there",
    Joining.SLIDE: "",
    Joining.ANEW: "",
    Joining.UNDER: "; the hand crosses under the thumb",
    Joining.OVER: "; the thumb crosses over",
    Joining.CHANGE: "; another finger takes the string",
    Joining.HELD: "; one finger keeps its string while the others move",
    Joining.JUMP: "; the hand moves there",
}


@dataclass(frozen=True, slots=True)
class Figure:
    """What is numbered as one.

    Attributes:
        hand: which; *row*: its handfuls.
        joining: how the hand comes to it.
        is_repeat: the figure before it in this hand is the same, string by string.
    """

    hand: HandName
    row: tuple[Fingered, ...]
    joining: Joining
    is_repeat: bool

    @property
    def first(self) -> Note:
        """The lowest note of its first handful."""
        return self.row[0].handful.notes[0]

    @property
    def has_bracket(self) -> bool:
        """Whether it has more than one string, and more than one place on the page."""
        lines = {note.pitch.line for one in self.row for note, _ in one}
        first, last = self.row[0].handful, self.row[-1].handful
        return len(lines) > 1 and (first.index, first.offset) != (last.index, last.offset)

    def numbered(self) -> Iterator[tuple[EventId, int]]:
        """The notes that get a number, with it: each string where it first has its finger.

        A chord is numbered whole or not at all.
        """
        seen: dict[int, int] = {}
        for one in () if self.is_repeat else self.row:
            placed = {note.pitch.line: finger for note, finger in one}
            if any(seen.get(line) != finger for line, finger in placed.items()):
                yield from ((note.id, finger) for note, finger in one)
            seen |= placed

    @property
    def reason(self) -> str:
        """What is placed, in a harpist's words."""
        seen: dict[str, int] = {}
        for one in self.row:
            for note, finger in one.order:
                seen.setdefault(str(note.pitch), finger)
        if len(seen) == 1:
            ((pitch, finger),) = seen.items()
            return f"Finger {finger} has {pitch}{_HOW[self.joining]}."
        told = ", ".join(f"{finger} on {pitch}" for pitch, finger in seen.items())
        is_chord = len(self.row) == 1 and len(seen) == 4
        how = "Thumb and bottom are placed first" if is_chord else "Placed together"
        return f"{how}: {told}{_HOW[self.joining]}."


def figures(fingering: HandFingering) -> Iterator[Figure]:
    """Yield what is numbered as one, in printed order.

    A placing is one figure, as far as its measure goes: brackets over a barline are not read
    rightly by every program. Where it goes on over its own strings (a broken chord that turns
    round and round) it is parted at a beat once it is long.
    """
    before: tuple[object, ...] = ()
    for placing in fingering.placings:
        for row in _parted(placing):
            shape = tuple((one.lines, one.fingers, one.is_rolled) for one in row)
            yield Figure(placing.hand, row, row[0].joining, shape == before)
            before = shape


def _parted(placing: Placing) -> Iterator[tuple[Fingered, ...]]:
    row: list[Fingered] = []
    for one in placing.row:
        if row and _parts(row, one):
            yield tuple(row)
            row = []
        row.append(one)
    yield tuple(row)


def _parts(row: list[Fingered], one: Fingered) -> bool:
    if one.handful.index != row[-1].handful.index:
        return True
    if len(row) < LONG or not one.handful.step.is_on_beat:
        return False
    struck = {note.pitch.line for before in row for note, _ in before}
    return any(note.pitch.line in struck for note, _ in one)
