"""The rhythm of a run: note values, tuplet brackets and beams."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from arrange.apply.lowering.beams import levels_of, write_beams
from arrange.apply.lowering.sheet import RefusedError
from arrange.apply.lowering.trees import notations_of
from arrange.apply.lowering.values import pieces, written
from arrange.edits import NoteValue
from arrange.pitch import Pitch
from arrange.score.document import Document, Node, element, place_in_order
from arrange.score.model import Meter
from arrange.units import Quarters


@dataclass(frozen=True, slots=True)
class RunNote:
    """One note sign of a run.

    Attributes:
        value: type and dots; *tuplet*: how many stand in the time of how many, or None.
        is_tied_on: it is held over into the next sign.
    """

    offset: Quarters
    duration: Quarters
    pitch: Pitch
    value: tuple[str, int]
    tuplet: tuple[int, int] | None = None
    is_tied_on: bool = False


def rhythm_of(
    values: Sequence[NoteValue], tied_on: Iterable[Quarters], tuplet: tuple[int, int] | None
) -> list[RunNote]:
    """The signs that write the notes; a length that no sign has is divided and tied.

    Args:
        values: the notes of one measure, in time order.
        tied_on: places of those that are held over the barline.
        tuplet: the run's, for the notes that have no binary value.

    Raises:
        RefusedError: a length that cannot be written.
    """
    held = set(tied_on)
    found: list[RunNote] = []
    for value in values:
        if value.is_grace or value.duration <= 0:
            raise RefusedError(f"{value.pitch} of the run has no length")
        row = _signs_of(value, tuplet)
        last = row[-1]
        if value.offset in held:
            row[-1] = _held(last)
        found += row
    return found


def _held(note: RunNote) -> RunNote:
    place = (note.offset, note.duration, note.pitch)
    return RunNote(*place, note.value, note.tuplet, is_tied_on=True)


def _signs_of(value: NoteValue, tuplet: tuple[int, int] | None) -> list[RunNote]:
    place = (value.offset, value.duration, value.pitch)
    if tuplet is not None:
        notional = written(value.duration * Quarters(*tuplet), most_dots=1)
        plain = written(value.duration, most_dots=1)
        if notional is not None and (plain is None or notional[1] <= plain[1]):
            return [RunNote(*place, notional, tuplet)]
    lengths = pieces(value.duration, value.offset)
    if not lengths:
        raise RefusedError(f"no note of the run can last {value.duration} quarters")
    row, offset = [], value.offset
    for length in lengths:
        sign = written(length)
        if sign is None:
            raise RefusedError(f"no single note lasts {length} quarters")
        is_last = offset + length == value.offset + value.duration
        row.append(RunNote(offset, length, value.pitch, sign, is_tied_on=not is_last))
        offset += length
    return row


def bracket_run(document: Document, nodes: Sequence[Node], run: Sequence[RunNote]) -> None:
    """Write time modifications, and a bracket over each tuplet."""
    for group in tuplets_of(run):
        for place in group:
            ratio = run[place].tuplet
            if ratio is not None:
                actual, normal = (str(number) for number in ratio)
                parts = (element("actual-notes", actual), element("normal-notes", normal))
                place_in_order(document, nodes[place], element("time-modification", "", *parts))
        ends = ((nodes[group[0]], "start"), (nodes[group[-1]], "stop"))
        for node, kind in ends:
            attributes = {"type": kind, "number": "1"}
            if kind == "start":
                attributes["bracket"] = "yes"
            sign = element("tuplet", attributes=attributes)
            document.insert(notations_of(document, node), sign)


def tuplets_of(run: Sequence[RunNote]) -> list[list[int]]:
    """The places of the notes under each bracket: as many as fill a tuplet of the first value."""
    groups: list[list[int]] = []
    filled, full = Quarters(0), Quarters(0)
    for place, note in enumerate(run):
        if note.tuplet is None:
            full = Quarters(0)
            continue
        if filled >= full or full == 0:
            groups.append([])
            full, filled = _span(note, note.tuplet), Quarters(0)
        groups[-1].append(place)
        filled += note.duration
    return groups


def _span(first: RunNote, tuplet: tuple[int, int]) -> Quarters:
    """How long a whole tuplet lasts that begins with this note."""
    actual, _ = tuplet
    undotted = first.duration if first.value[1] == 0 else first.duration * 2 / 3
    return undotted * actual


def beam_run(
    document: Document, nodes: Sequence[Node], run: Sequence[RunNote], meter: Meter
) -> None:
    """Beam tuplets together, and the other notes by the beat."""
    tuplet_of = {place: row[0] for row in tuplets_of(run) for place in row}
    group: list[Node] = []
    key: tuple[bool, object] | None = None
    for place, note in enumerate(run):
        in_tuplet = place in tuplet_of
        own = (in_tuplet, tuplet_of.get(place, note.offset // meter.beat))
        if own != key or not levels_of(nodes[place]):
            write_beams(document, group)
            group = []
        key = own
        if levels_of(nodes[place]):
            group.append(nodes[place])
    write_beams(document, group)
