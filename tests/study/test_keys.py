"""What a key is worth: bounds that hold, and the lightest key found without planning them all."""

from pathlib import Path

import notation as short
import pytest

from arrange.changes import Fidelity
from arrange.hands.player import Player
from arrange.harp.files import load_harp
from arrange.pitch import Interval
from arrange.registry import installed
from arrange.rulebook import load_rulebook
from arrange.score.container import read_source
from arrange.score.document import Document
from arrange.score.model import Score
from arrange.score.reading.reading import Reading
from arrange.study.key_prices import beyond_the_caps, reading
from arrange.study.keys import KeyScale
from arrange.study.prices import PriceList
from arrange.study.terms import Terms

CORPUS = sorted(p for p in (Path(__file__).parents[2] / "corpus").iterdir() if p.suffix != ".toml")
SCORES = [p for p in CORPUS if p.suffix in {".musicxml", ".mxl"}]


def _score(path: Path) -> Score:
    source = read_source(path)
    return Reading(Document.read(source.score_bytes, source.name)).score()


def _scale(score: Score, harp: str = "lever-34") -> KeyScale:
    return KeyScale(score, Terms(load_harp(harp).harp, Player()), Fidelity.LOSSY)


@pytest.mark.parametrize("path", SCORES[::2], ids=lambda path: path.stem)
def test_the_lightest_key_is_found_without_planning_every_key(path: Path) -> None:
    """And what is said of the others is a bound: planned, they cost as much or more."""
    score = _score(path)
    scale = _scale(score)
    near = [i for i in scale.intervals() if abs(i.semitones) <= 2]
    quick = scale.weigh(near, all_exact=False)
    thorough = {weight.interval: weight for weight in scale.weigh(near, all_exact=True)}
    assert quick[0].is_exact
    assert quick[0].cost == min(weight.cost for weight in thorough.values())
    for weight in quick:
        exact = thorough[weight.interval]
        assert weight.cost <= exact.cost
        if weight.is_exact:
            assert weight == exact


def test_most_keys_are_given_up_before_they_are_planned() -> None:
    scale = _scale(_score(next(p for p in SCORES if p.stem.startswith("lullaby"))))
    found = scale.weigh(scale.intervals(), all_exact=False)
    assert sum(weight.is_exact for weight in found) == 1


def test_a_signature_that_the_levers_cannot_set_is_dear() -> None:
    terms, prices = Terms(load_harp("lever-34").harp, Player()), PriceList()
    assert [reading(terms, fifths) for fifths in (-3, 0, 4)] == [0, 0, 0]
    assert reading(terms, 5) == prices.sign + prices.unset_letter
    assert reading(terms, -5) == prices.sign + 2 * prices.unset_letter


def test_signs_cost_what_the_player_does_not_read_in_the_mean_of_all_measures() -> None:
    terms, price = Terms(load_harp("lever-34").harp, Player(signs=1)), PriceList().sign
    assert [reading(terms, fifths) for fifths in (-1, 1, -3, 4)] == [0, 0, 2 * price, 3 * price]
    assert reading(terms, -2, [0, 0, -1, -1]) == price * 6 // 4


@pytest.mark.parametrize("key", range(-6, 7))
def test_a_beginner_gets_a_key_of_one_sign_at_most_where_nothing_else_counts(key: int) -> None:
    book = load_rulebook("beginner", installed())
    score = short.read(f"key={key}\nRH: C5w\nLH: rw").score()
    terms = Terms(load_harp("lever-34").harp, book.player, book.prices)
    scale = KeyScale(score, terms, Fidelity.LOSSY)
    near = [i for i in scale.intervals() if abs(i.semitones) <= 4]
    assert abs(scale.weigh(near, all_exact=True)[0].fifths) <= 1


def test_moves_beyond_the_books_caps_are_dear() -> None:
    terms = Terms(load_harp("lever-34").harp, Player(moves_in_piece=12))
    price = terms.prices.crowded
    counted = [(5, 8), (4, 8), (20, 80), (12, 80)]
    assert [beyond_the_caps(moves, measures, terms) for moves, measures in counted] == [
        price, 0, 8 * price, 0,
    ]  # fmt: skip


def test_a_pitch_that_two_strings_give_and_one_that_none_gives_are_bounded_too() -> None:
    score = short.read(
        "key=0 tempo=120\nRH: D#5q E5q D5q Eb5q | G#5q A5q Ab5q G5q | D#8w\nLH: C3w | C3w | C3w"
    ).score()
    scale = _scale(score)
    unison = scale.weigh([Interval(0, 0)], all_exact=True)
    assert scale.weigh([Interval(0, 0)], all_exact=False)[0].cost == unison[0].cost


@pytest.mark.parametrize("harp", ["lever-34", "lever-26", "lever-34-C"])
@pytest.mark.parametrize("path", SCORES[1::4], ids=lambda path: path.stem)
def test_what_a_key_costs_at_least_is_told_as_the_planner_would(path: Path, harp: str) -> None:
    """String by string and without a question put, yet neither more nor less."""
    scale = _scale(_score(path), harp)
    for interval in scale.intervals():
        key = scale._key(interval)
        scale._fold(key)
        scale._floor(key)
        told, key.cost = key.cost, 0
        scale._bound(key)
        assert told == key.cost, interval
