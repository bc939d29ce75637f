"""Which moments of the left hand are lifted for a lever, and what they are held to."""

from fractions import Fraction
from pathlib import Path

import notation as short
import pytest

from arrange.apply.transaction import Transaction
from arrange.changes import Change, ChangeLog, Fidelity
from arrange.hands.player import Player
from arrange.harp.files import load_harp
from arrange.pitch import Pitch
from arrange.rule import Rule
from arrange.score.container import read_source
from arrange.score.document import Document
from arrange.score.model import HandName, Score
from arrange.score.plucks import plucks
from arrange.score.reading.reading import Reading
from arrange.study import freeing
from arrange.study.freeing import Freed, freed
from arrange.study.levering import plan_with_repairs
from arrange.study.lifting import lifted
from arrange.study.roles import Role, roles
from arrange.study.terms import Terms
from rules.free_left_hand import FreeLeftHand
from rules.set_levers import SetLevers

CORPUS = Path(__file__).parents[2] / "corpus"
TERMS = Terms(load_harp("lever-34").harp, Player())
WALTZ = "time=3/4 tempo=100\nRH: F4q A4h | A4h. | F#4h.\n"


def _score(text: str) -> Score:
    return short.read(text).score()


def _freed(text: str, limit: Fidelity = Fidelity.LOSSY) -> tuple[Freed, ...]:
    return freed(_score(text), TERMS, limit)


def _pitches(found: tuple[Freed, ...]) -> tuple[list[str], list[str]]:
    reliefs = [relief for one in found for relief in one.reliefs]
    return (
        [str(pluck.pitch) for relief in reliefs for pluck in relief.taken],
        [str(pluck.pitch) for relief in reliefs for pluck in relief.left_out],
    )


def test_the_right_hand_takes_the_chords_before_a_lever_and_the_seconds_are_said() -> None:
    found = _freed(WALTZ + "LH: F2q A3+C4q A3+C4q | E2q A3+C4q A3+C4q | D2h.")
    assert _pitches(found) == (["A3", "C4", "A3", "C4"], [])
    assert (str(found[0].note), found[0].had, found[0].has) == ("F#4", 600_000, 1_800_000)
    assert [(option.cost, option.taken) for option in found[0].options] == [
        (TERMS.prices.open_outer, False),
        (TERMS.prices.move + 2 * TERMS.prices.right_hand, True),
    ]


def test_a_chord_out_of_the_right_hands_reach_rings_on_instead() -> None:
    found = _freed(WALTZ + "LH: F2q C3+G2q C3+G2q | E2q C3+G2q C3+G2q | D2h.")
    assert _pitches(found) == ([], ["G2", "C3", "G2", "C3"])
    assert {pluck.index for one in found for r in one.reliefs for pluck in r.left_out} == {1}


def test_no_note_is_left_out_where_that_would_go_too_far() -> None:
    text = WALTZ + "LH: F2q C3+G2q C3+G2q | E2q C3+G2q C3+G2q | D2h."
    assert _freed(text, Fidelity.IDIOMATIC) == ()


def test_the_right_hand_takes_no_more_than_four_fingers_hold() -> None:
    text = (
        "time=3/4 tempo=100\n"
        "RH: F4q A4+C5+E5h | A4+C5+E5q A4+C5+E5q A4+C5+E5q | F#4+C5h.\n"
        "LH: F2q A3q B3q | E2q D4q {}q | D2h."
    )
    assert _pitches(_freed(text.format("G4"))) == (["D4", "G4"], [])
    assert _freed(text.format("G4+B4")) == ()


def test_a_string_that_rang_out_is_struck_again() -> None:
    text = (
        "time=3/4 tempo={}\nRH: F4q A6h | A6q G6q A6q | F#4h.\n"
        "LH: F2q C3+G3q D3+A3q | E2q C3+G3q D3+A3q | D2h."
    )
    assert _pitches(_freed(text.format(73)))[1]
    assert _pitches(_freed(text.format(71)))[1] == []


FAR = "time=3/4 tempo=100\nRH: F4q A6h | A6h. | {}h.\n"


def _given_up(found: tuple[Freed, ...]) -> list[tuple[int, Fraction, str]]:
    reliefs = [relief for one in found for relief in one.reliefs]
    return [(p.index, p.offset, str(p.pitch)) for r in reliefs for p in r.given_up]


def test_light_notes_go_for_a_note_of_the_melody() -> None:
    text = FAR.format("F#4") + "LH: F2q C3e D3e C3e D3e | E2q B2e G2e B2e G2e | D2h."
    found = _freed(text)
    assert _given_up(found) == [(1, Fraction(1), "B2"), (1, Fraction(3, 2), "G2")]
    assert sum(relief.price for one in found for relief in one.reliefs) < TERMS.prices.open_outer
    assert _freed(text, Fidelity.IDIOMATIC) == ()


def test_no_note_goes_for_an_inner_note() -> None:
    text = FAR.format("A6+F#4") + "LH: F2q C3e D3e C3e D3e | E2q B2e G2e B2e G2e | D2h."
    assert _given_up(_freed(text)) == []


def test_a_line_is_not_given_up() -> None:
    assert _freed(FAR.format("F#4") + "LH: F2q C3q D3q | E2q B2q A2q | D2h.") == ()


def test_a_light_note_goes_off_the_strong_beat_only() -> None:
    text = (
        "time=4/4 tempo=200\nRH: F4h A6h | A6w | F#4w\n"
        "LH: F2w | E2w | D2w\nLH2: C3q A2+C3q A2+C3q A2+C3q | {} | rw"
    )
    found = _freed(text.format("rq G2+B2q rh"))
    assert _given_up(found) == [(1, Fraction(1), "G2"), (1, Fraction(1), "B2")]
    assert _freed(text.format("rh G2+B2q rq")) == ()


def test_a_damped_string_is_struck_again() -> None:
    text = WALTZ + "LH: F2q C3+G2q C3+G2q | E2q C3(damp)+G2(damp)q C3+G2q | D2h."
    left_out = [p for one in _freed(text) for r in one.reliefs for p in r.left_out]
    assert {(pluck.index, pluck.offset) for pluck in left_out} == {(1, Fraction(1))}


def test_a_bass_note_is_handed_over_only_where_its_string_stays_as_it_is() -> None:
    text = (
        "time=3/4 tempo=100\nRH: F4q A4h | A4h. | F#4h. | A4h. | A4h.\n"
        "LH: F2q A2q C3q | E2q G2q B2q | G3h. | A3h. | {}h."
    )
    assert _pitches(_freed(text.format("B3"))) == (["G3"], [])
    assert _freed(text.format("G#3")) == ()


def test_nothing_is_planned_again_where_nothing_is_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: object) -> None:
        raise AssertionError("a plan without trouble was looked into")

    monkeypatch.setattr(freeing, "_RelievedHarp", never)
    assert _freed("RH: C5h E5h | G5w\nLH: C3q E3q G3q E3q | C3w") == ()


def test_a_ring_lock_is_no_want_of_a_hand() -> None:
    assert _freed("tempo=100\nRH: F4q F#4q F4q F#4q\nLH: C3q G3+C4q G3+C4q G3+C4q") == ()


def test_a_player_without_levers_for_the_left_hand_is_left_alone() -> None:
    terms = Terms(TERMS.harp, Player(left=None))
    score = _score(WALTZ + "LH: F2q A3+C4q A3+C4q | E2q A3+C4q A3+C4q | D2h.")
    assert freed(score, terms, Fidelity.LOSSY) == ()


@pytest.mark.parametrize("limit", [Fidelity.EXACT, Fidelity.LOSSY])
def test_what_is_freed_repays_its_price_and_keeps_melody_and_bass(limit: Fidelity) -> None:
    source = read_source(CORPUS / "romance-clarinet-harp.musicxml")
    score = Reading(Document.read(source.score_bytes, source.name)).score()
    found = freed(score, TERMS, limit)
    assert found
    reliefs = {relief for one in found for relief in one.reliefs}
    (before,) = plan_with_repairs(score, TERMS, limit)
    (after,) = plan_with_repairs(lifted(score, reliefs), TERMS, limit)
    assert after.cost + sum(r.price for r in reliefs) < before.cost
    named = roles(score)
    for relief in reliefs:
        assert all(pluck.pitch.line >= Pitch("C", 0, 3).line for pluck in relief.taken)
        assert not (relief.gone and limit is Fidelity.EXACT)
        assert not any(named[pluck.note].is_strong for pluck in relief.given_up)
        for role in (named[pluck.note] for pluck in relief.gone):
            assert role.role is not Role.MELODY
            assert not (role.role is Role.BASS and role.is_strong)


def test_a_moment_that_serves_two_levers_changes_hands_once() -> None:
    score = _score(
        "time=3/4 tempo=100\nRH: F4e G4e A4h | A4h. | F#4e G#4e A4h\n"
        "LH: F2q A3+C4q A3+C4q | E2q A3+C4q A3+C4q | D2h."
    )
    found = freed(score, TERMS, Fidelity.LOSSY)
    assert [str(one.note) for one in found] == ["F#4", "G#4"]
    assert found[0].reliefs == found[1].reliefs
    places = [(change.where.index, change.where.offset) for change in _changes(score)]
    assert places == [(1, Fraction(1)), (1, Fraction(2))]


def test_a_hand_that_need_not_come_back_has_all_the_time_it_needs() -> None:
    score = _score(WALTZ + "LH: F2q A3+C4q A3+C4q | E2q A3+C4q A3+C4q | D3h.")
    (change,) = _changes(score)
    assert change.reason == (
        "The right hand takes D3, so that the left hand has all the time it needs "
        "to set middle F sharp."
    )


def test_what_depends_on_an_earlier_moment_names_it() -> None:
    first, second = _changes(_score(WALTZ + "LH: F2q A3q C4q | E2q A3q C4q | D2h."))
    assert (first.depends_on, second.depends_on) == ((), (first.id,))


def _changes(score: Score) -> list[Change]:
    proposals = FreeLeftHand().propose(score, TERMS.harp, TERMS.player)
    return [proposal for proposal in proposals if isinstance(proposal, Change)]


def test_the_score_then_has_the_plan_that_was_promised() -> None:
    text = WALTZ + "LH: F2q A3+C4q A3+C4q | E2q C3+G2q C3+G2q | D2h."
    document = Document.read(short.to_musicxml(text), "example.musicxml")
    reading = Reading(document)
    before = reading.score()
    reliefs = [relief for one in freed(before, TERMS, Fidelity.LOSSY) for relief in one.reliefs]
    assert reliefs
    (promised,) = plan_with_repairs(lifted(before, reliefs), TERMS, Fidelity.LOSSY)
    _carry_out(FreeLeftHand(), document, reading)
    (real,) = plan_with_repairs(reading.score(), TERMS, Fidelity.LOSSY)
    assert (real.cost, real.moves) == (promised.cost, promised.moves)


def test_a_note_that_changed_hands_is_known_by_its_new_name_too() -> None:
    source = short.to_musicxml(
        "key=-3 time=3/4 tempo=100\nRH: F4q Ab4h | Ab4h. | F#4h.\n"
        "LH: F2q Ab3+D#4q Ab3+D#4q | G2q Ab3+D#4q Ab3+D#4q | D2h."
    )
    document = Document.read(source, "example.musicxml")
    reading = Reading(document)
    for rule in (FreeLeftHand(), SetLevers()):
        _carry_out(rule, document, reading)
    score = Reading(Document.read(document.to_bytes(), "example.musicxml")).score()
    taken = [p for p in plucks(score, score.harps[0]) if p.staff == 2 and p.hand is HandName.RIGHT]
    assert [str(pluck.pitch) for pluck in taken] == ["Ab3", "Eb4", "Ab3", "Eb4"]
    assert [(p.index, p.offset) for p in taken[::2]] == [(1, Fraction(1)), (1, Fraction(2))]


def _carry_out(rule: Rule, document: Document, reading: Reading) -> None:
    log = ChangeLog()
    with Transaction(document, reading, log) as transaction:
        for proposal in rule.propose(reading.score(), TERMS.harp, TERMS.player):
            assert isinstance(proposal, Change)
            transaction.offer(proposal)
    assert len(log.applied()) == len(log.entries)
