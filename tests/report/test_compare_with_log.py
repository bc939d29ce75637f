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
from arrange.score.packing import unpacked
from arrange.score.reading import Reading
from arrange.units import Quarters

CORPUS = Path(__file__).resolve().parents[2] / "corpus"
SCORES = sorted(path.name for path in CORPUS.iterdir() if path.suffix in (".musicxml", ".mxl"))
Sounding = tuple[object, ...]
Spot = tuple[str, int, Quarters]
SLURRED = Quarters(-1)


def converted(name: str) -> Conversion:
    """In its key, so that both files speak of the same pitches."""
    harp = load_harp("lever-34")
    book = load_rulebook("concert", installed(), harp.player)
    source = unpacked(read_source(CORPUS / name))
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
    one, two = read(raw), read(result.result)
    assert found(comparison, one, two) == logged(result.log)
    edits = [edit for change in result.log.applied() for edit in change.edits]
    idle = {e.mark.key for e in edits if isinstance(e, RemoveMark) and e.mark.key[1] == "+"}
    words = [e for e in edits if isinstance(e, AddWords) and f"d+{e.own}" not in idle]
    marks = [e for e in edits if isinstance(e, RemoveMark) and e.mark.key[1] != "+"]
    told = comparison.of(Aspect.MARKS)
    assert sum(map(_is_new_words, told)) == len(words)
    assert sum(map(_is_lost_mark, told)) == len(marks)
    rest = [d for d in told if not (_is_new_words(d) or _is_lost_mark(d) or _is_playback(d))]
    assert [d.sentence for d in rest if not _places(d, one, two) & _changed_places(result)] == []
    assert Aspect.STRUCTURE not in comparison.counts


def _changed_places(result: Conversion) -> set[Spot]:
    """Where the log changes notes or their signs; what hangs on a note goes with it.

    The end of a slur goes on to the next note that is left, so its whole measure counts.
    """
    found: set[Spot] = set()
    for change in result.log.applied():
        for value in (*change.before, *change.after):
            found.add((change.where.part, value.index, value.offset))
            found.add((change.where.part, value.index, SLURRED))
    return found


def _places(difference: Difference, one: Score, two: Score) -> set[Spot]:
    notes = [one.notes_by_id[event] for event in difference.notes_before]
    notes += [two.notes_by_id[event] for event in difference.notes_after]
    is_slur = "slur" in difference.sentence
    return {(n.id.part, n.id.index, SLURRED if is_slur else n.offset) for n in notes}


def _is_new_words(difference: Difference) -> bool:
    return difference.sentence.startswith("Added: lever mark")


def _is_lost_mark(difference: Difference) -> bool:
    return (
        difference.aspect is Aspect.MARKS
        and difference.kind == "removed"
        and not difference.notes_before
        and not _is_playback(difference)
    )


def _is_playback(difference: Difference) -> bool:
    """It goes with the pedal sign that it stands beside."""
    return difference.sentence.startswith("Left out: playback of damper pedal")
