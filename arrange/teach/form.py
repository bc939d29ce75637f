"""The form: which strains there are, in which order they are played, what differs in returns."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from arrange.harp.wording import ORDINALS
from arrange.phrasing import listed
from arrange.score.model import Measure
from arrange.study.phrases import phrases
from arrange.teach.piece import Piece
from arrange.teach.returns import Return, differences
from arrange.teach.strains import (
    LEAST,
    Strain,
    Tune,
    likeness,
    melody_by_measure,
    strains,
)
from arrange.teach.words import DASH, PRIME, is_short, span_text

PORTION = 4
"""A portion has at least so many measures and at most twice as many (house judgement)."""
VARIED = 75
"""From so many hundredths of the harmony on it is a variation of the other (house judgement)."""
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True)
class Section:
    """A strain with its name.

    Attributes:
        strain: its measures; *name*: ``A``, or ``A`` with a prime; *where*: its measures.
        of: the name of the strain that it brings back, "" for a new one.
        differences: what is otherwise than there, sentence by sentence.
        is_strain: no mere introduction, lead-in or close.
    """

    strain: Strain
    name: str
    where: str
    of: str = ""
    differences: tuple[str, ...] = ()
    is_strain: bool = True


@dataclass(frozen=True, slots=True)
class Form:
    """The whole.

    Attributes:
        sections: in printed order; *order*: their names in the order in which they are played.
        jumps: the signs that lead there, in words.
    """

    sections: tuple[Section, ...]
    order: tuple[str, ...]
    jumps: tuple[str, ...]


def form(piece: Piece) -> Form:
    """Return the form of a piece."""
    sections = tuple(_sections(piece))
    return Form(sections, tuple(_order(piece, sections)), tuple(_jumps(piece.measures)))


def _sections(piece: Piece) -> Iterator[Section]:
    """The strains in printed order, each named by those before it."""
    tunes = melody_by_measure(piece)
    found = strains(piece)
    known: list[Section] = []
    for place, strain in enumerate(found):
        model = _model(piece, strain, known, tunes)
        where = span_text(piece.measures, strain.indices)
        if model is None:
            later = found[place + 1 :]
            word = (
                "" if _comes_back(piece, strain, later, tunes) else _passing(strain, place, later)
            )
            letters = {section.name[0] for section in known if section.is_strain}
            name = word or _LETTERS[min(len(letters), len(_LETTERS) - 1)]
            section = Section(strain, name, where, is_strain=not word)
        else:
            section = _returned(piece, known, model)
        known.append(section)
        yield section


def _model(
    piece: Piece, strain: Strain, before: Sequence[Section], tunes: Sequence[Tune]
) -> Return | None:
    """Of the strains before, the one most like this one, if any is like it."""
    sung: list[Return] = []
    varied: list[Return] = []
    for section in before:
        if section.is_strain:
            found = likeness(piece, section.strain, strain, tunes)
            back = Return(section.name, section.strain, strain, found)
            if back.is_melody:
                sung.append(back)
            elif found.harmony >= VARIED and len(strain) >= LEAST:
                varied.append(back)
    if sung:
        return max(sung, key=lambda r: (r.likeness.melody, r.likeness.opening))
    return varied[0] if varied else None


def _comes_back(
    piece: Piece, strain: Strain, later: Sequence[Strain], tunes: Sequence[Tune]
) -> bool:
    return any(
        Return("", strain, other, likeness(piece, strain, other, tunes)).is_melody
        for other in later
    )


def _passing(strain: Strain, place: int, later: Sequence[Strain]) -> str:
    """What a few measures are called that are no strain of their own."""
    if len(strain) > LEAST or (not place and not later):
        return ""
    if not place:
        return "Introduction"
    if not later:
        return "Close"
    return "Lead-in" if len(strain) < LEAST else ""


def _returned(piece: Piece, before: Sequence[Section], back: Return) -> Section:
    told = tuple(differences(piece, back))
    letter = back.name[0]
    count = len({s.name for s in before if s.name[0] == letter and s.is_strain})
    is_other = any(not text.startswith("Lever") for text in told)
    name = letter + PRIME * count if is_other else back.name
    where = span_text(piece.measures, back.strain.indices)
    return Section(back.strain, name, where, back.name, told)


def _order(piece: Piece, sections: Sequence[Section]) -> Iterator[str]:
    """Names as they are played; one that is entered in its middle stands in brackets."""
    of = {index: section for section in sections for index in section.strain.indices}
    before: int | None = None
    for index in piece.score.performed:
        section = of[index]
        is_on = before is not None and before < index and of[before] is section
        if not is_on:
            first = section.strain.first
            after_upbeat = first + is_short(piece.measures[first])
            yield section.name if index in (first, after_upbeat) else f"({section.name})"
        before = index


def _jumps(measures: Sequence[Measure]) -> Iterator[str]:
    endings: dict[tuple[int, ...], list[int]] = {}
    for measure in measures:
        structure = measure.structure
        where = span_text(measures, (measure.index,))
        if structure.endings:
            endings.setdefault(structure.endings, []).append(measure.index)
        elif endings:
            yield _endings_text(measures, endings)
            endings = {}
        if structure.jump:
            back = "the beginning" if structure.jump == "D.C." else "the sign"
            yield f"{structure.jump} at the end of {where}: back to {back}"
        if structure.fine:
            yield f"Fine at the end of {where}"
        if structure.to_coda:
            yield f"after {where} to the Coda, the last time"
    if endings:
        yield _endings_text(measures, endings)


def _endings_text(
    measures: Sequence[Measure], endings: Mapping[tuple[int, ...], list[int]]
) -> str:
    """``m. 8 the 1st time, m. 9 the 2nd time``."""
    told = []
    for passes, row in endings.items():
        times = listed([ORDINALS[min(n, len(ORDINALS) - 1)] for n in passes])
        told.append(f"{span_text(measures, row)} the {times} time")
    return ", ".join(told)


def portions(piece: Piece) -> tuple[str, ...]:
    """Measures to learn it in, from one breath of the melody to a later one; none if unclear."""
    count = len(piece.measures)
    leading = {note.ids[0] for note in piece.melody}
    ends = sorted(
        {
            phrase.units[-1][0].index
            for phrase in phrases(piece.score, piece.staves)
            if phrase.units[-1][-1].ids[0] in leading
        }
    )
    found: list[str] = []
    first = 0
    for end in ends:
        if PORTION <= end - first + 1 <= 2 * PORTION and (
            end + PORTION < count or end == count - 1
        ):
            found.append(span_text(piece.measures, range(first, end + 1)))
            first = end + 1
    if not found or count - first > 2 * PORTION:
        return ()
    if first < count:
        found.append(span_text(piece.measures, range(first, count)))
    return tuple(found)


def form_sentence(found: Form) -> str:
    """The order of play in one sentence."""
    if len(found.sections) == 1 and len(found.order) == 1:
        return "One stretch without a return."
    jumps = f" ({'; '.join(found.jumps)})" if found.jumps else ""
    return f"Played: {f' {DASH} '.join(found.order)}{jumps}."
