"""Measures as printed: read again where they changed, or what they inherit."""

import pytest
from edit_pages import RICH, Page

from arrange.apply.pages import Pages
from arrange.score.document import Document, Node, element


@pytest.fixture
def document() -> Document:
    return Page(RICH).document


def _first(measure: Node, tag: str) -> Node:
    return next(measure.iter(tag))


def test_a_measure_is_read_again_when_it_changed_and_only_its_changed_notes(
    document: Document,
) -> None:
    pages = Pages(document)
    before, next_one = pages.measure("P1", 0), pages.measure("P1", 1)
    document.set_text(_first(before.node, "step"), "D")
    after = pages.measure("P1", 0)
    assert after.notes[0].line == before.notes[0].line - 1
    assert all(now is was for now, was in zip(after.notes[1:], before.notes[1:], strict=True))
    assert pages.measure("P1", 1) is next_one


def test_a_measure_is_read_again_when_it_inherits_something_else(document: Document) -> None:
    pages = Pages(document)
    before = [pages.measure("P1", index) for index in range(4)]
    pages.renew()
    assert [pages.measure("P1", index) for index in range(4)] == before
    assert all(pages.measure("P1", index) is was for index, was in enumerate(before))
    key = element("key", "", element("fifths", "2"))
    start = before[2].node
    document.insert(start, element("attributes", "", key), before=start.children[0])
    pages.renew()
    assert pages.measure("P1", 1) is before[1]
    assert pages.measure("P1", 2).keys == before[2].keys
    assert pages.measure("P1", 3).keys != before[3].keys
    document.rollback(0)
    pages.renew()
    assert pages.measure("P1", 3).keys == before[3].keys


def test_ids_are_those_that_stand_there_now(document: Document) -> None:
    pages = Pages(document)
    assert pages.ids("P1", 0) == frozenset()
    note = _first(pages.node("P1", 0), "note")
    document.set_attribute(note, "id", "first")
    assert pages.ids("P1", 0) == {"first"}


def test_voices_fill_the_time_that_is_written(document: Document) -> None:
    measure = Pages(document).measure("P1", 0)
    assert measure.voices == {"1": 16, "5": 16}
    assert (measure.end, measure.overdrawn) == (16, 0)
    backup = measure.node.find("backup")
    assert backup is not None
    document.set_text(_first(backup, "duration"), "18")
    measure = Pages(document).measure("P1", 0)
    assert (measure.end, measure.overdrawn) == (14, 2)
