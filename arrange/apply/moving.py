"""An interval at work on letters, signatures and pitch elements; nothing is ever respelled."""

from arrange.apply.printed import PrintedNote
from arrange.apply.signatures import LETTER_PLACE, Alter, Alters, added, alter_of, alter_text
from arrange.pitch import LETTERS, Interval, Pitch
from arrange.score.document import Document, Node, element, place_in_order


class Mover:
    """Moves what names a pitch.

    Attributes:
        steps: diatonic steps of the interval.
        offsets: what the interval adds to the alteration of each letter, C first.
        writes_naturals: the part spells out alterations of 0, so they stay spelled out.
    """

    def __init__(self, document: Document, interval: Interval) -> None:
        self.document = document
        self.interval = interval
        self.steps = interval.steps
        self.offsets = tuple(interval.move(Pitch(letter, 0, 4)).alter for letter in LETTERS)
        self.writes_naturals = False

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
        write = self.document.set_text
        written: Node | None = None
        for child in note.pitch.children:
            if child.tag == "step":
                if self.steps:
                    write(child, LETTERS[note.line % 7])
            elif child.tag == "octave":
                if note.line // 7 != line // 7:
                    write(child, str(note.line // 7))
            elif child.tag == "alter":
                written = child
        if note.alter != alter:
            self.set_alter(note.pitch, written, "alter", note.alter)

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
            self.set_alter(holder, written, alter_tag, moved)
        return _name(place, alter), _name(line, moved)

    def set_alter(self, holder: Node, written: Node | None, tag: str, alter: Alter) -> None:
        """Write an alteration; one of 0 is left out unless the part spells it out."""
        if written is None:
            if alter:
                place_in_order(self.document, holder, element(tag, alter_text(alter)))
        elif alter or self.writes_naturals:
            self.document.set_text(written, alter_text(alter))
        else:
            self.document.remove(written)


def _name(line: int, alter: Alter) -> str:
    whole = int(alter)
    return LETTERS[line % 7] + ("#" * whole if whole > 0 else "b" * -whole)
