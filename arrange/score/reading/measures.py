"""One measure element to one measure: a pure function of it and of what it inherits."""

from dataclasses import dataclass, replace

from arrange.pitch import UNISON
from arrange.quick import quickly_made
from arrange.score.model import Clef, Finding, Mark, Measure, Note
from arrange.score.nodes import Node
from arrange.score.reading.attributes import read_attributes
from arrange.score.reading.inherited import NO_KEY, Inherited, KeyState, quarters
from arrange.score.reading.marks import read_direction, read_sound
from arrange.score.reading.notes import read_notes
from arrange.score.reading.place import Place
from arrange.score.reading.running import Reader, Running
from arrange.score.reading.signs import read_barline, read_print
from arrange.score.reading.statements import PendingWords, Signs, TempoSign
from arrange.score.reading.ties import TieEnds, tie_ends
from arrange.score.reading.timing import exact_times, time_note
from arrange.units import Quarters


@quickly_made
@dataclass(frozen=True, slots=True, eq=False)
class ReadMeasure:
    """A measure as its own element has it, before the rest of the score is known.

    Attributes:
        after: what the next measure inherits.
        is_silent: nothing but full-measure rests, or nothing at all.
        ties: the ends of ties that lead over its barlines, or nowhere.
        staves: the highest staff that is used or declared.
        pending: words that are still to be told apart.
    """

    measure: Measure
    after: Inherited
    signs: Signs
    tempos: tuple[TempoSign, ...]
    findings: tuple[Finding, ...]
    pending: tuple[PendingWords, ...]
    is_silent: bool
    ties: TieEnds
    has_chord_symbols: bool
    staves: int


def read_measure(node: Node, inherited: Inherited, place: Place) -> ReadMeasure:
    """Read one measure.

    Raises:
        BadInput: A number in it cannot be read.
    """
    running = Running.after(inherited, place)
    for child in node.children:
        reader = _READERS.get(child.tag)
        if reader is not None:
            reader(child, running)
    if running.is_rounded:
        _put_right(running)
    notes, rests = read_notes(running)
    source, staves = _repeat(running, notes)
    is_implicit = _attribute(node, "implicit") == "yes"
    is_silent = not notes and all(rest.is_whole_measure for rest in rests)
    measure = Measure(
        place.part,
        place.index,
        place.measure,
        _length(running, is_implicit=is_implicit),
        running.meter,
        tuple(_key(running, staff).fifths for staff in range(1, running.staves + 1)),
        _key(running, 1).mode,
        tuple(sorted(running.clefs, key=_clef_order)),
        notes,
        rests,
        tuple(running.marks),
        transposition=running.start_transpositions.get(
            1, running.start_transpositions.get(0, UNISON)
        ),
        stands_for=source,
        repeated_staves=staves,
    )
    _note_unnumbered(running)
    return ReadMeasure(
        measure,
        running.inheritance(),
        running.signs,
        tuple(running.tempos),
        tuple(dict.fromkeys(running.findings)),
        tuple(running.pending),
        is_silent and not running.furthest,
        tie_ends(notes, measure.length),
        running.has_chord_symbols,
        max([running.staves, *(note.staff for note in notes)]),
    )


def _attribute(node: Node, name: str) -> str:
    """An attribute of the measure; in a timewise score it stands one element further out."""
    if node.tag == "part" and node.parent is not None:
        return node.parent.attrs.get(name, "")
    return node.attrs.get(name, "")


def _backup(node: Node, running: Running) -> None:
    count = running.place.divisions(node.child_text("duration", "0"), "a backup")
    if count > running.position:
        running.note("A backup reaches before the start of the measure; it stops there.")
        count = running.position
    running.position -= count


def _forward(node: Node, running: Running) -> None:
    running.position += running.place.divisions(node.child_text("duration", "0"), "a forward")
    running.furthest = max(running.furthest, running.position)


def _harmony(_node: Node, running: Running) -> None:
    running.has_chord_symbols = True


_READERS: dict[str, Reader] = {
    "note": time_note,
    "backup": _backup,
    "forward": _forward,
    "attributes": read_attributes,
    "direction": read_direction,
    "sound": read_sound,
    "barline": read_barline,
    "print": read_print,
    "harmony": _harmony,
}


def _put_right(running: Running) -> None:
    """Exact times for notes, and for what stands between them."""
    known = exact_times(running.timed)
    if known:
        running.marks[:] = [_moved(mark, known) for mark in running.marks]
        running.tempos[:] = [
            replace(sign, offset=known.get(sign.offset, sign.offset)) for sign in running.tempos
        ]
        running.clefs[:] = [
            replace(clef, offset=known.get(clef.offset, clef.offset)) for clef in running.clefs
        ]
    end = quarters(running.furthest, running.divisions or 1)
    running.exact_end = known.get(end, end)


def _moved(mark: Mark, known: dict[Quarters, Quarters]) -> Mark:
    offset = known.get(mark.offset, mark.offset)
    return mark if offset == mark.offset else replace(mark, offset=offset)


def _length(running: Running, *, is_implicit: bool) -> Quarters:
    """The furthest point reached; a full-measure rest lasts as long as the meter says."""
    reached = running.exact_end
    if reached is None:
        reached = quarters(running.furthest, running.divisions or 1)
    full = running.meter.length
    bounded = is_implicit or running.meter.is_free
    if running.whole_rest:
        return max(reached, running.whole_rest if bounded else full)
    return reached or full


def _key(running: Running, staff: int) -> KeyState:
    return running.start_keys.get(staff) or running.start_keys.get(0, NO_KEY)


def _clef_order(clef: Clef) -> tuple[Quarters, int]:
    return clef.offset, clef.staff


def _repeat(running: Running, notes: tuple[Note, ...]) -> tuple[int, tuple[int, ...]]:
    """The measure that this one stands for, or -1, and the staves on which it does."""
    written = {note.staff for note in notes}
    sources: dict[int, int] = {}
    for staff, (first, count) in sorted(running.repeats.items()):
        source = first - count + (running.place.index - first) % count
        if source < 0:
            running.note("A measure-repeat sign with no measure before it; it is not read.")
        elif staff not in written and (staff or not written):
            sources[staff] = source
    if not sources:
        return -1, ()
    source = next(iter(sources.values()))
    staves = tuple(staff for staff, other in sources.items() if other == source)
    if len(staves) < len(sources):
        running.note("Measure-repeat signs of different lengths at once; only one is read.")
    return source, () if 0 in staves or len(staves) == running.staves else staves


def _note_unnumbered(running: Running) -> None:
    numbered = {sign.offset for sign in running.tempos}
    for offset, text in running.unnumbered:
        if offset not in numbered:
            running.note(f"'{text}' does not say how fast; the tempo goes on unchanged.")
