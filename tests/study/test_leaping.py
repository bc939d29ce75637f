"""Leaps that are closed up: the cheapest way of all, and nothing that leads is touched."""

from itertools import product

import notation as short
import pytest

from arrange.harp.files import load_harp
from arrange.rulebook import load_rulebook
from arrange.registry import installed
from arrange.score.model import HandName, Score
from arrange.study.leap_ways import GOES
from arrange.study.leaping import ClosedLeap, closed_leaps
from arrange.study.roles import Role, roles

STRINGS = frozenset(string.open.line for string in load_harp("lever-34").harp.strings)


def _closed(text: str, level: str = "beginner") -> tuple[Score, list[ClosedLeap]]:
    score, book = short.read(text).score(), load_rulebook(level, installed())
    found = closed_leaps(score, score.harps[0], book.player, book.prices, STRINGS)
    return score, list(found)


def _said(found: list[ClosedLeap]) -> list[tuple[str, int | None]]:
    return [(str(note.note.pitch), one.octaves) for one in found for note in one.notes]


def test_nothing_below_c3_is_moved_down_to_close_a_leap() -> None:
    _, found = _closed("tempo=100\nRH: G5h E5h\nLH: C2q B3+D4q C2q B3+D4q")
    assert found == []


def test_the_weak_bass_comes_up_where_the_chord_cannot_come_down() -> None:
    _, found = _closed("tempo=100\nRH: G5h E5h\nLH: G3q A2q C4+E4q G3q", "late-beginner")
    assert _said(found) == [("A2", 1)]


@pytest.mark.parametrize("level", ["beginner", "late-beginner", "intermediate"])
def test_melody_and_strong_basses_never_move_however_far_they_leap(level: str) -> None:
    text = (
        "tempo=90\nRH: C4e C6e D4e E6e C4q G5q | C6q C4q G5h\n"
        "LH: C3e G4e E3e C5e G2e D5e C3e E5e | C3q G4+B4q C2q G4q"
    )
    score, found = _closed(text, level)
    named = roles(score)
    assert found
    for one in found:
        for note in one.notes:
            role = named[note.note.id]
            assert role.role is not Role.MELODY
            assert not (role.role is Role.BASS and role.is_strong)


def test_a_moved_note_takes_no_string_that_sounds_and_passes_no_melody() -> None:
    score, found = _closed(
        "tempo=60\nRH: F4w\nRH2: D4w\nLH: C3e D5e C3e G5e C3e D5e C3e G5e", "late-beginner"
    )
    taken = {(n.pitch.line) for n in score.measure("P1", 0).notes if n.staff == 1}
    for one in found:
        for note in one.notes:
            if one.octaves is not GOES:
                assert note.line + 7 * one.octaves not in taken


def test_the_way_that_is_taken_costs_least_of_all() -> None:
    """Every mixture of octaves by brute force: a row of single notes between two fixed basses."""
    names = ["C3", "E4", "G4", "C5", "G4", "E4"]
    row = " ".join(f"{name}e" for name in names)
    _, found = _closed(f"time=3/4 tempo=60\nRH: C6h.\nLH: {row}", "late-beginner")
    moved = {note.start: one.octaves or 0 for one in found for note in one.notes}
    assert found
    starts = [i * 24 for i in range(len(names))]
    book = load_rulebook("late-beginner", installed())
    lines = [short.read(f"LH: {n}w").score() for n in names]
    places = [next(n for n in s.measure("P1", 0).notes if n.staff == 2).pitch for s in lines]

    def cost(ways: tuple[int, ...]) -> int:
        total = 0
        for i, way in enumerate(ways):
            alike = i and way == ways[i - 1]
            price = book.prices.octave if way else 0
            total += price // 10 if alike else price
            total += 60 if i and ways[i - 1] and not alike else 0
            if i:
                gap = abs(places[i].line + 7 * way - places[i - 1].line - 7 * ways[i - 1]) + 1
                more = max(gap - book.player.leap_strings, 0)
                total += 250 + 20 * more if more else 0
        return total

    allowed = [
        [by for by in (0, -1, 1) if not by or (i and 48 < p.midi + 12 * by < 84)]
        for i, p in enumerate(places)
    ]
    best = min(cost(ways) for ways in product(*allowed))
    quarter = min(moved) // (names.index("E4")) if moved else 24
    assert cost(tuple(moved.get(i * quarter, 0) for i in range(len(starts)))) == best


def test_each_hand_is_told_apart() -> None:
    _, found = _closed("tempo=100\nRH: G5h E5h\nLH: C3q E4+G4q C3q E4+G4q")
    assert {one.hand for one in found} == {HandName.LEFT}
