"""A document read as a score, and kept up to date with it."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import chain

from arrange.errors import BadInput, LeverwrightError
from arrange.score.course import Structure
from arrange.score.document import Document
from arrange.score.model import EventId, Finding, Part, Score
from arrange.score.nodes import Node
from arrange.score.reading.assembly import PartAssembly
from arrange.score.reading.bounds import read_usual_measure
from arrange.score.reading.finding_harp import Candidate, Harps, find_harps
from arrange.score.reading.inherited import Inherited
from arrange.score.reading.measures import ReadMeasure
from arrange.score.reading.melody import require_melody
from arrange.score.reading.notations import sign_nodes
from arrange.score.reading.noticed import at_the_ends, harp_words, order_findings
from arrange.score.reading.order import Performance, performance
from arrange.score.reading.own_marks import left_open, own_fields, reassigned
from arrange.score.reading.part_list import PartNodes, give_keys, part_nodes
from arrange.score.reading.pedals import WordsPlace
from arrange.score.reading.place import Place
from arrange.score.reading.statements import Signs
from arrange.score.reading.structure import Outline, merged, outline
from arrange.score.reading.sweeps import sweeps
from arrange.score.reading.tempo import PlacedSign, tempo_line
from arrange.score.reading.titles import title
from arrange.units import Quarters

_Known = tuple[Node, int, Inherited, ReadMeasure]
"""A measure's element, its revision then, what it inherited, and what was read."""


class Reading:
    """A view of a document as a score.

    A measure is a pure function of its element and of what it inherits, so after a change only
    the measures that were touched, and those whose inheritance changed, are read again.
    """

    def __init__(
        self,
        document: Document,
        *,
        parts: tuple[str, ...] | None = (),
        tempo: Fraction | None = None,
        melody: tuple[tuple[int, str], ...] = (),
    ) -> None:
        """Prepare to read.

        Args:
            document: the score file.
            parts: ids or names of the harp's parts; empty to look for them; None to read any
                score, without a harp.
            tempo: quarters a minute in place of all tempo marks.
            melody: staff and voice of the melody where the user names them.

        Raises:
            BadInput: The score has no measures.
        """
        self._document = document
        self._asked = parts
        self._tempo = tempo
        self._melody = melody
        self._parts: tuple[PartNodes, ...] = ()
        self._part_findings: tuple[Finding, ...] = ()
        self._known: dict[str, list[_Known]] = {}
        self._assemblies: dict[str, PartAssembly] = {}
        self._score: tuple[int, Score] | None = None
        self._order: tuple[list[Signs], Outline, Performance] | None = None
        self._find_measures()

    def score(self) -> Score:
        """Return the score as the document has it now.

        Raises:
            BadInput: A number cannot be read, or no part is a harp or keyboard.
        """
        revision = self._document.root.revision
        if self._score is None or self._score[0] != revision:
            if self._score is not None:
                self._find_measures()
            self._score = (revision, self._read())
        return self._score[1]

    def measure_node(self, part: str, index: int) -> Node:
        """Return the element of a measure.

        Raises:
            LeverwrightError: There is none.
        """
        for nodes in self._parts:
            if nodes.listed.id == part and 0 <= index < len(nodes.measures):
                return nodes.measures[index]
        raise LeverwrightError(f"the score has no measure {part}/{index}")

    def note_node(self, event: EventId) -> Node:
        """Return the element of a note or rest.

        Raises:
            LeverwrightError: There is none.
        """
        return self._child(event, event.key)

    def mark_node(self, event: EventId) -> Node:
        """Return the direction of a mark, or its direction-type where the mark is only that.

        Raises:
            LeverwrightError: There is none.
        """
        measure = self.measure_node(event.part, event.index)
        for child in measure.children:
            if child.key == event.key:
                return child
        key, dot, ordinal = event.key.rpartition(".")
        types = self._child(event, key).find_all("direction-type") if dot else []
        if not ordinal.isdecimal() or int(ordinal) >= len(types):
            raise LeverwrightError(f"the score has no mark {event}")
        return types[int(ordinal)]

    def notation_node(self, note: EventId, key: str) -> Node:
        """Return the element of a sign on a note, by ``Notation.key``.

        Raises:
            LeverwrightError: There is none.
        """
        for notation, node in sign_nodes(self.note_node(note)):
            if notation.key == key:
                return node
        raise LeverwrightError(f"the note {note} has no sign {key}")

    def _child(self, event: EventId, key: str) -> Node:
        for child in self.measure_node(event.part, event.index).children:
            if child.key == key:
                return child
        raise LeverwrightError(f"the score has no note or mark {event}")

    def _find_measures(self) -> None:
        self._parts, self._part_findings = part_nodes(self._document.root, self._document.file)
        for part in self._parts:
            for measure in part.measures:
                if not measure.key:
                    give_keys(measure)

    def _read(self) -> Score:
        read = {part.listed.id: self._read_part(part) for part in self._parts}
        order, performed = self._order_of_play(list(read.values()))
        plain = tuple(_plain_part(part, read[part.listed.id]) for part in self._parts)
        candidates = [Candidate(p.listed, q) for p, q in zip(self._parts, plain, strict=True)]
        harps: Harps = ()
        harp_findings: tuple[Finding, ...] = ()
        if self._asked is not None:
            harps, harp_findings = find_harps(candidates, self._asked, self._document.file)
        require_melody(plain, harps, self._melody, self._document.file)
        parts, findings = self._assembled(read, order.structures, plain, harps)
        tempo, tempo_findings = tempo_line(_placed(read.values()), self._tempo)
        found, sweep_findings = sweeps(parts, harps)
        harp_parts = {hand.part for harp in harps for hand in harp}
        measures = [m for part in parts if part.id in harp_parts for m in part.measures]
        marked = [m for m in measures if m.marks]
        return Score(
            title(self._document.root),
            parts,
            harps,
            performed.performed,
            tempo,
            found,
            (
                *self._part_findings,
                *harp_findings,
                *findings,
                *harp_words([part for part in parts if part.id in harp_parts]),
                *order_findings(performed, parts),
                *tempo_findings,
                *sweep_findings,
            ),
            tuple(chain.from_iterable(map(reassigned, marked))),
            tuple(chain.from_iterable(map(left_open, marked))),
            own_fields(self._document.root),
            self._melody,
        )

    def _read_part(self, part: PartNodes) -> list[ReadMeasure]:
        """Read what changed, or inherits something else than before."""
        file, limits = self._document.file, self._document.limits
        before = self._known.get(part.listed.id, [])
        known: list[_Known] = []
        inherited = Inherited()
        for index, node in enumerate(part.measures):
            entry = before[index] if index < len(before) else None
            if (
                entry is None
                or entry[0] is not node
                or entry[1] != node.revision
                or (entry[2] is not inherited and entry[2] != inherited)
            ):
                place = Place(file, part.listed.id, index, _number(node), limits)
                read = read_usual_measure(node, inherited, place)
                entry = (node, node.revision, inherited, read)
            known.append(entry)
            inherited = entry[3].after
        self._known[part.listed.id] = known
        return [entry[3] for entry in known]

    def _order_of_play(
        self, parts: Sequence[Sequence[ReadMeasure]]
    ) -> tuple[Outline, Performance]:
        count = max(len(measures) for measures in parts)
        signs = [
            merged([measures[i].signs for measures in parts if i < len(measures)])
            for i in range(count)
        ]
        if self._order is None or self._order[0] != signs:
            found = outline(signs)
            self._order = (signs, found, performance(found))
            played, most = len(self._order[2].performed), self._document.limits.performed
            if played > most:
                raise BadInput(
                    f"with all repeats {played:,} measures are played; at most {most:,} are read",
                    file=self._document.file,
                )
        return self._order[1], self._order[2]

    def _assembled(
        self,
        read: dict[str, list[ReadMeasure]],
        structures: Sequence[Structure],
        plain: Sequence[Part],
        harps: Harps,
    ) -> tuple[tuple[Part, ...], list[Finding]]:
        """The final parts, with what each measure's reading noticed."""
        played = {hand.part for harp in harps for hand in harp}
        lengths = _lengths(list(read.values()))
        parts: list[Part] = []
        findings: list[Finding] = []
        for part in plain:
            measures = read[part.id]
            place = WordsPlace(
                is_harp=part.id in played,
                staves=part.staves,
                has_chord_symbols=any(m.has_chord_symbols for m in measures),
            )
            assembly = self._assemblies.setdefault(part.id, PartAssembly())
            final = assembly.assembled(measures, structures, lengths, place)
            for raw, done in zip(measures, final, strict=True):
                if raw.findings or done.findings:
                    findings.extend((*raw.findings, *done.findings))
            findings.extend(at_the_ends(part, measures))
            parts.append(replace(part, measures=tuple(done.measure for done in final)))
        return tuple(parts), findings


def _number(node: Node) -> str:
    """The printed number; a timewise score has it one element further out."""
    around = node.parent if node.tag == "part" and node.parent is not None else node
    return around.attrs.get("number", "")


def _plain_part(nodes: PartNodes, read: Sequence[ReadMeasure]) -> Part:
    return Part(
        nodes.listed.id,
        nodes.listed.name,
        max(measure.staves for measure in read),
        tuple(measure.measure for measure in read),
        any(measure.measure.notes for measure in read),
    )


def _lengths(parts: Sequence[Sequence[ReadMeasure]]) -> list[Quarters]:
    """How long a silent measure lasts: as long as the longest that is not, in any part."""
    if len(parts) == 1:
        return [read.measure.length for read in parts[0]]
    lengths: list[Quarters] = []
    for i in range(max(len(part) for part in parts)):
        here = [part[i] for part in parts if i < len(part)]
        sounding = [read for read in here if not read.is_silent]
        lengths.append(max(read.measure.length for read in sounding or here))
    return lengths


def _placed(parts: Iterable[Sequence[ReadMeasure]]) -> list[PlacedSign]:
    return [
        PlacedSign(read.measure.part, read.measure.index, read.measure.number, sign)
        for part in parts
        for read in part
        for sign in read.tempos
    ]
