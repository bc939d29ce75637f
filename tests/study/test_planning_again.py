"""What is worked out once serves again, and says the same as if it were worked out anew."""

from dataclasses import replace
from pathlib import Path

import notation as short
import pytest

from arrange.changes import Fidelity
from arrange.hands.player import Player
from arrange.harp.files import load_harp
from arrange.levers.solve import plan_cost, solve
from arrange.score.container import read_source
from arrange.score.document import Document
from arrange.score.model import HandName, Score
from arrange.score.reading.reading import Reading
from arrange.study import grounds
from arrange.study.grounds import Ground, ground
from arrange.study.levering import plan_as_it_stands, plan_with_repairs
from arrange.study.likeness import is_played_alike
from arrange.study.parallels import aligned
from arrange.study.terms import Terms

CORPUS = Path(__file__).parents[2] / "corpus"
NAMES = ("march-tin-lanterns", "prelude-c-minor", "gigue-long-room")
TERMS = Terms(load_harp("lever-34").harp, Player())


def _score(name: str) -> Score:
    source = read_source(CORPUS / f"{name}.musicxml")
    return Reading(Document.read(source.score_bytes, source.name)).score()


def _moved(score: Score, octaves: int) -> Score:
    parts = tuple(
        replace(
            part,
            measures=tuple(
                replace(
                    m,
                    notes=tuple(
                        replace(n, pitch=replace(n.pitch, octave=n.pitch.octave + octaves))
                        for n in m.notes
                    ),
                )
                for m in part.measures
            ),
        )
        for part in score.parts
    )
    return replace(score, parts=parts)


def _told(basis: Ground) -> tuple[object, ...]:
    return (
        basis.plucks, basis.strikes, basis.places, basis.slots, basis.hands, basis.printed,
        basis.clock.passes,
    )  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_times_are_the_same_where_only_pitches_changed(name: str) -> None:
    first = ground(_score(name), _score(name).harps[0], TERMS.player)
    higher = _moved(_score(name), 1)
    again = ground(higher, higher.harps[0], TERMS.player)
    assert again.clock is first.clock
    grounds._lately.clear()
    anew = ground(_moved(_score(name), 1), higher.harps[0], replace(TERMS.player))
    assert anew.clock is not first.clock
    assert _told(anew) == _told(again)


def test_a_string_rings_on_by_what_it_is_struck_with_now() -> None:
    """A note that is moved by itself onto a string that sounds rings as long as that does."""
    text = "key=0 tempo=60\nRH: C5w\nLH: C4q C4q C4q C4q"
    document = Document.read(short.to_musicxml(text), "example.musicxml")
    score = Reading(document).score()
    first = ground(score, score.harps[0], TERMS.player)
    low = [n for n in score.notes_by_id.values() if n.pitch.octave == 4][1]
    (part,) = score.parts
    (measure,) = part.measures
    up = replace(low, pitch=replace(low.pitch, octave=5))
    notes = tuple(up if note is low else note for note in measure.notes)
    parts = (replace(part, measures=(replace(measure, notes=notes),)),)
    moved = ground(replace(score, parts=parts), score.harps[0], TERMS.player)
    ends = {moved.plucks[s.pluck].note: s.end for s in moved.strikes}
    before = {first.plucks[s.pluck].note: s.end for s in first.strikes}
    assert ends[low.id] == max(ends.values())
    assert before[low.id] < ends[low.id]


def test_the_order_of_what_is_left_open_makes_no_other_music() -> None:
    score = _score("gigue-long-room")
    some = tuple(score.notes_by_id)[:3]
    one, other = replace(score, left_open=some), replace(score, left_open=some[::-1])
    assert is_played_alike(one, other)
    assert not is_played_alike(one, replace(score, left_open=some[:2]))


def test_a_note_that_changes_hands_makes_other_windows() -> None:
    score = _score("gigue-long-room")
    first = ground(score, score.harps[0], TERMS.player)
    handed = [p.note for p in first.plucks if p.hand is HandName.LEFT][:9]
    other = replace(score, reassigned=tuple((note, HandName.RIGHT) for note in handed))
    assert ground(other, score.harps[0], TERMS.player).slots != first.slots


@pytest.mark.parametrize("name", NAMES)
def test_a_plan_with_its_open_notes_marked_is_the_plan_that_is_found_anew(name: str) -> None:
    score = _score(name)
    (plan,) = plan_as_it_stands(score, TERMS)
    left = [t.pluck for t in plan.treatments if t.label == "open"]
    marked = tuple(sorted({i for p in left for i in (*p.tied, *p.doubles)}))
    (again,) = plan_as_it_stands(replace(score, left_open=marked), TERMS)
    anew = solve(again.problem)
    assert again.cost == anew.cost
    assert again.bound <= anew.cost


@pytest.mark.parametrize("name", NAMES)
def test_moves_are_put_side_by_side_at_no_cost(name: str) -> None:
    score = _score(name)
    (levers,) = plan_with_repairs(score, TERMS, Fidelity.LOSSY)
    basis = ground(score, score.harps[0], TERMS.player)
    plan = solve(levers.problem, limit=6_000)
    other = aligned(basis, levers.problem, plan)
    cost = plan_cost(levers.problem, other.start, other.choices, other.moves)
    assert cost <= plan.cost
    assert len(other.moves) == len(plan.moves)
    assert aligned(basis, levers.problem, other) == other
