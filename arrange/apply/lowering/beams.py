"""Beams over the notes of a voice: written anew where notes join or leave them."""

from collections.abc import Sequence

from arrange.apply.lowering.trees import drop_children
from arrange.apply.lowering.values import LEVELS
from arrange.score.document import Document, Node, element, place_in_order


def levels_of(note: Node) -> int:
    """How many beams the note's value has; as many as it shows where it names no value."""
    kind = note.child_text("type")
    return LEVELS.get(kind, 0) if kind else len(note.find_all("beam"))


def beam_words(levels: Sequence[int]) -> list[list[str]]:
    """For each note of a beamed group what each of its beams says, the outermost first."""
    words: list[list[str]] = []
    for place, own in enumerate(levels):
        before = levels[place - 1] if place else 0
        after = levels[place + 1] if place + 1 < len(levels) else 0
        words.append(
            [_word(level, before, after, first=place == 0) for level in range(1, own + 1)]
        )
    return words


def _word(level: int, before: int, after: int, *, first: bool) -> str:
    if before >= level and after >= level:
        return "continue"
    if before >= level:
        return "end"
    if after >= level:
        return "begin"
    return "forward hook" if first else "backward hook"


def write_beams(document: Document, group: Sequence[Node]) -> None:
    """Beam the notes together; one alone gets its flag back."""
    levels = [levels_of(note) for note in group]
    rows = beam_words(levels) if len(group) > 1 else [[] for _ in group]
    for note, row in zip(group, rows, strict=True):
        there = note.find_all("beam")
        for beam in there[len(row) :]:
            document.remove(beam)
        for number, word in enumerate(row, start=1):
            if number <= len(there):
                if there[number - 1].text.strip() != word:
                    document.set_text(there[number - 1], word)
            else:
                place_in_order(document, note, element("beam", word, number=str(number)))


def beam_group(note: Node) -> list[Node]:
    """The notes under the same outermost beam, chords by their heads; empty without a beam."""
    if note.parent is None or note.find("beam") is None:
        return []
    group: list[Node] = []
    for other in note.parent.children:
        word = other.child_text("beam") if other.tag == "note" else ""
        if not word or not _share_a_beam(note, other):
            continue
        if word == "begin":
            group = []
        group.append(other)
        if word == "end":
            if note in group:
                return group
            group = []
    return group if note in group else []


def _share_a_beam(note: Node, other: Node) -> bool:
    """Whether the two are of one voice, and grace notes both or neither."""
    return (
        other.find("chord") is None
        and other.child_text("voice") == note.child_text("voice")
        and (other.find("grace") is None) == (note.find("grace") is None)
    )


def leave_beam(document: Document, leaving: Sequence[Node]) -> None:
    """Take notes out from under their beams; what is left and right of them stays beamed.

    Call it while the notes still stand where they stood.
    """
    done: set[Node] = set()
    for note in leaving:
        group = [] if note in done else beam_group(note)
        done.update(group)
        part: list[Node] = []
        for member in [*group, None]:
            if member is not None and member not in leaving:
                part.append(member)
                continue
            if part:
                write_beams(document, part)
            part = []
        drop_children(document, note, ("beam",))
