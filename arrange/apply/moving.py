"""An interval at work on letters, signatures and pitch elements; nothing is ever respelled."""

from enum import Enum

from arrange.apply.printed import PrintedMeasure, PrintedNote
from arrange.apply.signatures import LETTER_PLACE, Alter, Alters, added, alter_of, alter_text
from arrange.pitch import LETTERS, Interval, Pitch
from arrange.score.document import Document, Node, element


class Habit(Enum):
    """Where a part spells out an alteration of 0."""

    NEVER = 0
    WITH_SIGN = 1
    ALWAYS = 2

    @classmethod
    def of(cls, measures: list[PrintedMeasure]) -> "Habit":
        """The habit that all notes of the measures keep to; never where they keep to none."""
        naturals = [n for m in measures for n in m.notes if n.pitch is not None and n.alter == 0]
        spelled = [n for n in naturals if n.pitch is not None and n.pitch.find("alter")]
        if spelled and all(note.shown is not None for note in spelled):
            return cls.WITH_SIGN
        return cls.ALWAYS if spelled and len(spelled) == len(naturals) else cls.NEVER

    def spells(self, *, is_shown: bool) -> bool:
        """Whether a note's 0 is written, given whether it shows a sign."""
        return self is Habit.ALWAYS or (self is Habit.WITH_SIGN and is_shown)


class Mover:
    """Moves what names a pitch.

    Attributes:
        steps: diatonic steps of the interval.
        offsets: what the interval adds to the alteration of each letter, C first.
        habit: where the part spells out alterations of 0.
    """

    def __init__(self, document: Document, interval: Interval) -> None:
        self.document = document
        self.interval = interval
        self.steps = interval.steps
        self.offsets = tuple(interval.move(Pitch(letter, 0, 4)).alter for letter in LETTERS)
        self.habit = Habit.NEVER

    def place(self, line: int, alter: Alter) -> tuple[int, Alter]:
        """Where a pitch at diatonic place *line* goes, and how it is altered there."""
        return line + self.steps, added(alter, self.offsets[line % 7])

    def signature(self, alters: Alters) -> Alters:
        """A whole signature, moved: every tone of its scale."""
        moved: list[Alter] = [0] * 7
        for letter, alter in enumerate(alters):
            line, moved_alter = self.place(letter, alter)
            moved[line % 7] = moved_alter
        return tuple(moved)

    def note(self, note: PrintedNote) -> None:
        """Move a note, in the document and in the view of it."""
        if note.pitch is None:
            return
        line, alter = note.line, note.alter
        note.line, note.alter = self.place(line, alter)
        octaves = note.line // 7 - line // 7
        written: Node | None = None
        for child in note.pitch.children:
            if child.tag == "alter":
                written = child
            elif child.tag == "step" and self.steps:
                self.document.set_text(child, LETTERS[note.line % 7])
            elif child.tag == "octave" and octaves:
                self.document.set_text(child, str(note.line // 7))
        if note.alter != alter:
            spells = self.habit.spells(is_shown=note.shown is not None)
            self.set_alter(note.pitch, written, note.alter, spells=spells)

    def letter(self, holder: Node, step: Node, alter_tag: str) -> tuple[str, str] | None:
        """Move a letter without octave (``root-step``) and its sign beside it.

        Returns:
            The names before and after (``F#``); None where they are no pitch.
        """
        place = LETTER_PLACE.get(step.text.strip())
        written = holder.find(alter_tag)
        alter = 0 if written is None else alter_of(written.text)
        if place is None or alter is None:
            return None
        line, moved = self.place(place, alter)
        self.document.set_text(step, LETTERS[line % 7])
        if moved != alter:
            spells = written is not None and alter == 0
            self.set_alter(holder, written, moved, tag=alter_tag, spells=spells)
        return _name(place, alter), _name(line, moved)

    def set_alter(
        self, holder: Node, written: Node | None, alter: Alter, *, spells: bool, tag: str = "alter"
    ) -> None:
        """Write an alteration; one of 0 is left out unless *spells*."""
        if written is None:
            if alter:
                before = holder.find("octave") if tag == "alter" else None
                self.document.insert(holder, element(tag, alter_text(alter)), before=before)
        elif alter or spells:
            self.document.set_text(written, alter_text(alter))
        else:
            self.document.remove(written)


def _name(line: int, alter: Alter) -> str:
    whole = int(alter)
    return LETTERS[line % 7] + ("#" * whole if whole > 0 else "b" * -whole)
