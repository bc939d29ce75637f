"""What a blind comparison finds between source and result is what the change log says."""

from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import pytest

from arrange.changes import ChangeLog
from arrange.edits import AddWords, NoteValue, RemoveMark
from arrange.harp.files import load_harp
from arrange.pipeline import Conversion, Settings, convert
from arrange.registry import installed
from arrange.report.compare import Aspect, Comparison, Difference, compare
from arrange.rulebook import load_rulebook
from arrange.score.container import read_source
from arrange.score.document import Document
from arrange.score.model import EventId, Score
from arrange.score.reading import Reading

CORPUS = Path(__file__).resolve().parents[2] / "corpus"
SCORES = (
    "air-variations-c-flat",
    "chorale-evening-bell",
    "etude-staircase",
    "gigue-long-room",
    "minuet-da-capo",
)
Sounding = tuple[object, ...]


def converted(name: str) -> Conversion:
    """In its key, so that both files speak of the same pitches."""
    harp = load_harp("lever-34")
    book = load_rulebook("concert", installed(), harp.player)
    source = read_source(CORPUS / f"{name}.musicxml")
    return convert(source, Settings(harp.harp, book, key="keep"))


def read(raw: bytes) -> Score:
    return Reading(Document.read(raw, "x"), parts=None).score()


def logged(log: ChangeLog) -> "tuple[Counter[Sounding], Counter[Sounding]]":
    """The notes that the log takes away and brings, whatever came between."""
    gone: Counter[Sounding] = Counter()
    new: Counter[Sounding] = Counter()
    for change in log.applied():
        gone.update(_values(change.where.part, change.before))
        new.update(_values(change.where.part, change.after))
    return gone - new, new - gone


def _values(part: str, values: Iterable[object]) -> Iterable[Sounding]:
    for v in values:
        if isinstance(v, NoteValue):
            yield part, v.index, v.offset, v.staff, v.voice, v.duration, str(v.pitch)


def found(comparison: Comparison, one: Score, two: Score) -> "tuple[Counter[Sounding], ...]":
    told = [d for d in comparison.differences if d.aspect in (Aspect.NOTES, Aspect.RHYTHM)]
    gone = Counter(_sounding(one, {note for d in told for note in d.notes_before}))
    new = Counter(_sounding(two, {note for d in told for note in d.notes_after}))
    return gone - new, new - gone


def _sounding(score: Score, events: set[EventId]) -> Iterable[Sounding]:
    for event in sorted(events):
        n = score.notes_by_id.get(event)
        if n is not None:
            where = (event.part, event.index, n.offset, n.staff, n.voice)
            yield *where, n.duration, str(n.pitch)


@pytest.mark.parametrize("name", SCORES)
def test_the_comparison_and_the_log_agree(name: str) -> None:
    result = converted(name)
    raw = result.source.score_bytes
    comparison = compare(raw, result.result, ("source", "result"))
    assert comparison.transpositions == ()
    assert found(comparison, read(raw), read(result.result)) == logged(result.log)
    words = [e for c in result.log.applied() for e in c.edits if isinstance(e, AddWords)]
    assert sum(map(_is_new_words, comparison.differences)) == len(words)
    marks = [e for c in result.log.applied() for e in c.edits if isinstance(e, RemoveMark)]
    assert sum(map(_is_lost_mark, comparison.differences)) == len(marks)
    assert Aspect.STRUCTURE not in comparison.counts


def _is_new_words(difference: Difference) -> bool:
    return difference.sentence.startswith("Added: lever mark")


def _is_lost_mark(difference: Difference) -> bool:
    return (
        difference.aspect is Aspect.MARKS
        and difference.kind == "removed"
        and not difference.notes_before
    )
