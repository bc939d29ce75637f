"""Stems and places on the page of notes that moved.

Common practice: the note farthest from the middle line turns the stem of its chord or beam;
where two voices share a staff each keeps its side.
"""

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from functools import lru_cache

from arrange.apply.printed import PrintedMeasure, PrintedNote
from arrange.score.document import Document, Node, element, place_in_order

_TENTHS_A_STEP = 5
"""A staff space is 10 tenths (MusicXML), a step half of it."""
_STALE = ("default-y", "relative-y", "bezier-y", "bezier-y2")


@dataclass(slots=True)
class Group:
    """What one stem direction holds for: a chord or rest, or the chords under one beam."""

    chords: list[list[PrintedNote]]
    is_grace: bool = False

    @property
    def notes(self) -> list[PrintedNote]:
        """All its notes."""
        return [note for chord in self.chords for note in chord]


def groups_in(measure: PrintedMeasure) -> list[Group]:
    """The chords of a measure, those of one voice under one beam together.

    Grace notes have their own beams; what stands among beamed notes unbeamed is left out.
    """
    groups: list[Group] = []
    under_beam: dict[tuple[str, bool], Group] = {}
    chord: list[PrintedNote] = []
    for note in measure.notes:
        if note.is_chord and chord:
            chord.append(note)
            continue
        chord = [note]
        voice = note.voice, note.is_grace
        kind = beam_kind(note)
        if kind == "begin":
            under_beam[voice] = Group([chord], note.is_grace)
            groups.append(under_beam[voice])
        elif kind in ("continue", "end") and voice in under_beam:
            under_beam[voice].chords.append(chord)
            if kind == "end":
                del under_beam[voice]
        elif note.pitch is not None:
            groups.append(Group([chord], note.is_grace))
    return groups


def beam_kind(note: PrintedNote) -> str:
    """What the main beam does at a note; "" without one."""
    for beam in note.beams:
        if beam.attrs.get("number", "1") == "1":
            return beam.text.strip()
    return ""


def stems_by_rule(measure: PrintedMeasure) -> dict[Node, bool]:
    """Whether each stem of a measure points where the rule wants it.

    Only stems that the rule decides are in it: not those of grace notes, of staves with two
    voices, or of beams across staves.
    """
    result: dict[Node, bool] = {}
    if not any(note.stem is not None for note in measure.notes):
        return result
    shared = _shared_staves(measure)
    for group in groups_in(measure):
        notes = group.notes
        wanted = None if group.is_grace else _wanted(measure, notes, shared)
        if wanted is not None:
            agrees = all(n.stem is None or n.stem.text.strip() in wanted for n in notes)
            result.update((note.node, agrees) for note in notes)
    return result


def stem_anew(
    document: Document,
    measure: PrintedMeasure,
    before: dict[Node, bool],
    groups: list[Group] | None = None,
) -> None:
    """Turn the stems that followed the rule *before* and now point the wrong way."""
    if not before:
        return
    shared = _shared_staves(measure)
    for group in groups_in(measure) if groups is None else groups:
        notes = group.notes
        if group.is_grace or not all(before.get(note.node, False) for note in notes):
            continue
        wanted = _wanted(measure, notes, shared)
        if wanted is not None:
            for note in notes:
                _turn(document, note, wanted[0])


def _shared_staves(measure: PrintedMeasure) -> set[int]:
    """The staves on which more than one voice has notes."""
    voices: dict[int, str] = {}
    shared = set()
    for note in measure.notes:
        is_seen = note.pitch is not None and not note.is_hidden
        if is_seen and voices.setdefault(note.staff, note.voice) != note.voice:
            shared.add(note.staff)
    return shared


def _wanted(
    measure: PrintedMeasure, notes: list[PrintedNote], shared: set[int]
) -> tuple[str, ...] | None:
    """The directions that the rule allows, the usual one first; None where it does not decide."""
    pitched = [note for note in notes if note.pitch is not None]
    staff = pitched[0].staff if pitched else 0
    if not pitched or staff in shared or any(note.staff != staff for note in pitched):
        return None
    middle = measure.clef_at(staff, pitched[0].onset).middle
    lines = [measure.display_line(note) for note in pitched]
    above, below = max(lines) - middle, middle - min(lines)
    if above == below:
        return ("down", "up")
    return ("down",) if above > below else ("up",)


def stem_direction(measure: PrintedMeasure, chords: list[list[PrintedNote]]) -> str:
    """Where new stems point: as the rest of their voice on a shared staff, else by the rule."""
    wanted = _wanted(measure, Group(chords).notes, _shared_staves(measure))
    if wanted is not None:
        return wanted[0]
    first = chords[0][0]
    for note in measure.notes:
        is_beside = note.voice == first.voice and note.staff == first.staff
        if is_beside and note.stem is not None and note.stem.text.strip() in ("up", "down"):
            return note.stem.text.strip()
    return "down"


def _turn(document: Document, note: PrintedNote, direction: str) -> None:
    stem = note.stem
    if stem is None or stem.text.strip() not in ("up", "down") or stem.text.strip() == direction:
        return
    document.set_text(stem, direction)
    for name in _STALE:
        if name in stem.attrs:
            document.set_attribute(stem, name, None)
    for sign in _signs(note):
        if sign.tag == "tied" and "orientation" in sign.attrs:
            document.set_attribute(sign, "orientation", None)


def give_stem(document: Document, note: PrintedNote, direction: str) -> None:
    """Write a stem for a note that has none."""
    note.stem = element("stem", direction)
    place_in_order(document, note.node, note.stem)


def shift_positions(document: Document, note: PrintedNote, steps: int) -> None:
    """Let written heights follow a note that moved by *steps*."""
    for node in _placed(note):
        height = node.attrs.get("default-y")
        if height is not None:
            document.set_attribute(node, "default-y", _raised(height, _TENTHS_A_STEP * steps))


def drop_positions(document: Document, note: PrintedNote) -> None:
    """Forget written heights that a note's move made stale."""
    for node in _placed(note):
        for name in _STALE:
            if name in node.attrs:
                document.set_attribute(node, name, None)


def _placed(note: PrintedNote) -> list[Node]:
    nodes = [note.node]
    if note.stem is not None:
        nodes.append(note.stem)
    if note.shown is not None:
        nodes.append(note.shown)
    if note.has_signs:
        nodes += _signs(note)
    return [node for node in nodes if node.attrs]


def _signs(note: PrintedNote) -> list[Node]:
    return [sign for n in note.node.find_all("notations") for sign in n.iter()]


@lru_cache(maxsize=1024)
def _raised(height: str, tenths: int) -> str | None:
    """A height in tenths, raised, with as many decimals as it had; None if it is no number."""
    try:
        return str(Decimal(height.strip()) + tenths)
    except InvalidOperation:
        return None
