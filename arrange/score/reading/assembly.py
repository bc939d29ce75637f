"""Measures read one by one, to the measures of the score: words, ties and order of play."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from arrange.quick import quickly_made
from arrange.score.course import Structure
from arrange.score.model import Finding, Measure
from arrange.score.reading.measures import ReadMeasure
from arrange.score.reading.pedals import WordsPlace
from arrange.score.reading.ties import LooseTie, loose_ties
from arrange.score.reading.words import with_words_judged
from arrange.units import Quarters

_Context = tuple[
    ReadMeasure, ReadMeasure | None, Structure, frozenset[LooseTie], Quarters, WordsPlace
]
"""All that the final measure depends on."""

NO_TIES: frozenset[LooseTie] = frozenset()


@quickly_made
@dataclass(frozen=True, slots=True)
class Assembled:
    """A final measure and the findings that came of putting it together."""

    measure: Measure
    findings: tuple[Finding, ...] = ()


class PartAssembly:
    """Puts the measures of one part together, again only those that something changed for."""

    def __init__(self) -> None:
        self._known: list[tuple[_Context, Assembled]] = []

    def assembled(
        self,
        read: Sequence[ReadMeasure],
        structures: Sequence[Structure],
        lengths: Sequence[Quarters],
        place: WordsPlace,
    ) -> list[Assembled]:
        """Return the final measures of the part.

        Args:
            read: its measures as their own elements have them.
            structures: the order of play, of every measure.
            lengths: how long silent measures last.
            place: whether the part is the harp's, its staves and chord symbols.
        """
        repeats = [measure.measure.stands_for >= 0 for measure in read]
        loose = loose_ties([measure.ties for measure in read], repeats, structures)
        following = [*read[1:], None]
        result: list[Assembled] = []
        known: list[tuple[_Context, Assembled]] = []
        for i, measure in enumerate(read):
            context = (
                measure,
                following[i] if measure.pending else None,
                structures[i],
                loose.get(i, NO_TIES),
                lengths[i],
                place,
            )
            entry = self._known[i] if i < len(self._known) else None
            if entry is None or entry[0] != context:
                entry = (context, _put_together(*context))
            known.append(entry)
            result.append(entry[1])
        self._known = known
        return result


def _put_together(  # noqa: PLR0913, PLR0917 - the context, spread out
    read: ReadMeasure,
    following: ReadMeasure | None,
    structure: Structure,
    loose: frozenset[LooseTie],
    length: Quarters,
    place: WordsPlace,
) -> Assembled:
    measure = read.measure
    findings: tuple[Finding, ...] = ()
    if read.pending:
        measure, findings = with_words_judged(read, following, place)
    if loose:
        measure = _untied(measure, loose)
        text = (
            "A tie has no partner; the note is struck where none arrives, and rings where none "
            "leaves."
        )
        findings += (Finding(text, measure.part, measure.index, measure.number),)
    if read.is_silent and length != measure.length:
        measure = replace(measure, length=length)
    if structure is not measure.structure and structure != measure.structure:
        measure = replace(measure, structure=structure)
    return Assembled(measure, findings)


def _untied(measure: Measure, loose: frozenset[LooseTie]) -> Measure:
    notes = tuple(
        replace(
            note,
            tied_from=note.tied_from and (note.id, True) not in loose,
            tied_to=note.tied_to and (note.id, False) not in loose,
        )
        if note.tied_from or note.tied_to
        else note
        for note in measure.notes
    )
    return replace(measure, notes=notes)
