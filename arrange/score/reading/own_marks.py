"""What the toolkit's own marks say about the notes at their place."""

from collections.abc import Iterator

from arrange.pitch import Pitch
from arrange.score.model import EventId, HandName, Mark, MarkKind, Measure
from arrange.score.nodes import Node
from arrange.score.own import FIELD_PREFIX, OwnNotes


def own_fields(root: Node) -> dict[str, str]:
    """The miscellaneous fields that this toolkit wrote, by name."""
    identification = root.find("identification")
    miscellaneous = identification.find("miscellaneous") if identification is not None else None
    if miscellaneous is None:
        return {}
    return {
        node.attrs["name"]: node.text.strip()
        for node in miscellaneous.find_all("miscellaneous-field")
        if node.attrs.get("name", "").startswith(FIELD_PREFIX)
    }


def reassigned(measure: Measure) -> Iterator[tuple[EventId, HandName]]:
    """The notes of a measure that the other staff's hand takes, by our marks."""
    for mark, said in _own_notes(measure):
        hand = said.taker
        if hand is not None:
            for event in _notes_at(measure, mark, said.pitches, staff=0):
                yield event, hand


def left_open(measure: Measure) -> Iterator[EventId]:
    """The notes of a measure that our marks leave to the editor."""
    for mark, said in _own_notes(measure):
        if said.kind == "open":
            yield from _notes_at(measure, mark, said.pitches, staff=mark.staff)


def _own_notes(measure: Measure) -> Iterator[tuple[Mark, OwnNotes]]:
    for mark in measure.marks:
        if mark.kind is MarkKind.OWN:
            said = OwnNotes.parse(mark.own)
            if said is not None:
                yield mark, said


def _notes_at(
    measure: Measure, mark: Mark, pitches: tuple[Pitch, ...], staff: int
) -> Iterator[EventId]:
    """Notes at the mark's offset that sound these pitches; *staff* 0 for any.

    A note may have been spelled as another string since the mark was made; where one stands as
    the mark spells it, it is that one.
    """
    here = [n for n in measure.notes if n.offset == mark.offset and staff in (0, n.staff)]
    found: dict[EventId, None] = {}
    for pitch in pitches:
        same = [note.id for note in here if note.pitch == pitch]
        same = same or [note.id for note in here if note.pitch.midi == pitch.midi]
        found |= dict.fromkeys(same)
    yield from found
