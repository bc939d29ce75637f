"""Moves wait until a hand has played what it placed, where another place serves as well."""

from dataclasses import replace

import notation as short

from arrange.changes import Fidelity
from arrange.harp.files import load_harp
from arrange.registry import installed
from arrange.rulebook import load_rulebook
from arrange.score.model import Score
from arrange.study.grounds import Ground, ground
from arrange.study.levering import LeverPlan, plan_as_it_stands, plan_with_repairs
from arrange.study.placing_times import between_placings
from arrange.study.terms import Terms
from arrange.units import Quarters

BOOK = load_rulebook("intermediate", installed())
TERMS = Terms(load_harp("lever-34").harp, BOOK.player, BOOK.prices)
FIGURES = "key=0 tempo=60\nRH: C5w | rw | C#5w | rw\nLH: E3h G3h | C4h E4h | A2h C3h | F3h A3h"
"""Two broken chords under a melody note that needs a lever; every other beat leaves time."""


def _score(text: str) -> Score:
    return short.read(text).score()


def _grounds(score: Score) -> tuple[Ground, Ground]:
    plain = ground(score, score.harps[0], TERMS.player, (), TERMS.prices)
    return plain, between_placings(plain, TERMS.player, TERMS.prices.connected)


def _places(plan: LeverPlan) -> list[tuple[int, Quarters]]:
    return [(move.index, move.offset) for move in plan.moves]


def test_a_place_within_a_broken_chord_is_dearer_than_one_before_it() -> None:
    plain, priced = _grounds(_score(FIGURES))
    dearer = {
        (place.index, place.offset)
        for place, one, other in zip(plain.places, plain.slots, priced.slots, strict=True)
        if other.price == one.price + TERMS.prices.connected
    }
    assert {(0, Quarters(1)), (0, Quarters(3)), (1, Quarters(1))} <= dearer
    assert (1, Quarters(3)) not in dearer


def test_the_move_goes_between_two_broken_chords() -> None:
    (plan,) = plan_as_it_stands(_score(FIGURES), TERMS)
    assert plan.plan.is_optimal
    assert _places(plan) == [(1, Quarters(3))]


def test_what_no_other_place_serves_still_moves_within_one() -> None:
    text = "key=0 tempo=60\nRH: C5w | C#5w\nLH: E3h G3h | C4h E4h"
    (plan,) = plan_as_it_stands(_score(text), TERMS)
    (free,) = plan_as_it_stands(
        _score(text), replace(TERMS, prices=replace(TERMS.prices, connected=0))
    )
    assert len(plan.moves) == len(free.moves) == 1
    assert plan.cost == free.cost + TERMS.prices.connected


def test_printed_fingers_and_cues_change_no_plan() -> None:
    fingered = FIGURES.replace("E3h G3h | C4h E4h", "E3(4)h G3(2)h | C4(3)h E4(1)h", 1)
    (plain,), (same,) = (plan_as_it_stands(_score(text), TERMS) for text in (FIGURES, fingered))
    assert _places(plain) == _places(same)
    assert plain.cost == same.cost


def test_without_a_price_nobody_looks_at_the_fingers() -> None:
    concert = load_rulebook("concert", installed())
    assert concert.prices.connected == 0
    score = _score(FIGURES)
    terms = Terms(TERMS.harp, concert.player, concert.prices)
    (plan,) = plan_as_it_stands(score, terms)
    (usual,) = plan_with_repairs(score, terms, Fidelity.EXACT)
    assert plan.cost == usual.cost
