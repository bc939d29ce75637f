"""What is said of notes that give way: what their strings stand for, what of the tone is left."""

import notation as short
import pytest

from arrange.changes import Change, Fidelity
from arrange.hands.player import Player
from arrange.harp.files import load_harp
from arrange.score.model import Score
from arrange.study.giving_way import GivingWay
from arrange.study.leaving_open import OpenNotes
from arrange.study.levering import plan_with_repairs
from arrange.study.openpoints import open_notes
from arrange.study.terms import Terms
from rules.set_levers import SetLevers

HARP = load_harp("lever-34").harp
TERMS = Terms(HARP, Player())


def _score(text: str) -> Score:
    return short.read(text).score()


def _reasons(text: str) -> list[str]:
    found = SetLevers().propose(_score(text), HARP, TERMS.player)
    return [change.reason for change in found if isinstance(change, Change)]


def _problems(text: str) -> list[tuple[str, tuple[str, ...]]]:
    found = open_notes(_score(text), TERMS)
    return [(o.problem, o.suggestions) for o in found if isinstance(o, OpenNotes)]


def test_an_open_note_says_what_its_string_sounds_before_and_after() -> None:
    text = "key=0 tempo=120\nRH: {}q F#5q {}q A5q\nLH: C3q G3q C3q G3q"
    ((problem, ways),) = _problems(text.format("F5", "F5"))
    assert problem == (
        "No hand can set the lever for high F sharp in time: its string stands for "
        "high F natural on beat 1 and on beat 3."
    )
    assert "play high F natural instead" in ways


def test_a_string_that_is_asked_for_both_at_once_is_said_so() -> None:
    ((problem, _),) = _problems("key=0 tempo=60 | A5h rh | F5+F#5w")
    assert problem.endswith("its string stands for high F natural at the same moment.")


def test_a_bass_note_is_not_replaced_by_its_neighbour() -> None:
    text = "key=0 tempo=120\nRH: C5q D5q E5q D5q | C5q D5q E5q D5q\nLH: F2q C3q F#2q C3q | F2h C3h"
    problems = _problems(text)
    assert problems
    assert all("play it an octave away" in ways for _, ways in problems)


@pytest.mark.parametrize(
    ("chord", "said"),
    [
        ("A5+F5+F4", "another note has its tone"),
        ("C6+F5+A4", "the chord goes without its root"),
    ],
)
def test_a_note_that_is_left_out_says_what_becomes_of_its_tone(chord: str, said: str) -> None:
    text = f"key=0 tempo=120\nRH: D6+F#5q D6+F#5q {chord}q D6+F#5q\nLH: D3q A3q C3q A3q"
    reasons = [reason for reason in _reasons(text) if "left out" in reason]
    assert reasons
    assert all(said in reason for reason in reasons), reasons


def test_what_the_plan_says_names_measures() -> None:
    score = _score(
        "key=0 tempo=120\nRH: F5q A5q C6q A5q | F#5q A5q C6q A5q\nLH: C3q G3q C3q G3q | C3w"
    )
    (plan,) = plan_with_repairs(score, TERMS, Fidelity.LOSSY)
    words = GivingWay(score, plan, HARP)
    lost = [t for t in plan.treatments if t.label != "home"]
    assert [words.stands_for(t) for t in lost] == ["stands for high F natural in measure 1"]
