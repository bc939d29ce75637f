"""Words told apart by what stands near them, once the measures around them are read."""

from dataclasses import replace

from arrange.score.model import Finding, Mark, Measure
from arrange.score.reading.measures import ReadMeasure
from arrange.score.reading.pedals import WordsPlace, judge_words
from arrange.score.reading.statements import PendingWords


def with_words_judged(
    read: ReadMeasure, following: ReadMeasure | None, place: WordsPlace
) -> tuple[Measure, tuple[Finding, ...]]:
    """Return the measure with its words told apart, and what stays in doubt.

    Args:
        read: the measure.
        following: the next one, for the notes that follow the words.
        place: whether the part is the harp's, its staves and chord symbols.
    """
    measure = read.measure
    marks = list(measure.marks)
    findings: list[Finding] = []
    for pending in read.pending:
        mark = marks[pending.mark]
        reading = judge_words(
            pending.text,
            is_rehearsal=pending.is_rehearsal,
            is_boxed=pending.is_boxed,
            place=replace(
                place,
                staff=mark.staff,
                side=pending.side,
                neighbours=_neighbours(read, pending),
                follows=_follows(mark, measure, following),
            ),
        )
        marks[pending.mark] = replace(mark, kind=reading.kind, pedals=reading.pedals)
        if reading.doubt and place.is_harp:
            findings.append(Finding(reading.doubt, measure.part, measure.index, measure.number))
    return replace(measure, marks=tuple(marks)), tuple(findings)


def _neighbours(read: ReadMeasure, pending: PendingWords) -> tuple[str, ...]:
    return tuple(other.text for other in read.pending if other is not pending)


def _follows(
    mark: Mark, measure: Measure, following: ReadMeasure | None
) -> tuple[tuple[str, int], ...]:
    notes = [n for n in measure.notes if n.offset >= mark.offset]
    if following is not None:
        notes.extend(following.measure.notes)
    return tuple(dict.fromkeys((n.pitch.step, n.pitch.alter) for n in notes))
