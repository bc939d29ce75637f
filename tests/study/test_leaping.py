"""Leaps that are closed up: the cheapest way of all, and nothing that leads is touched."""

from itertools import product

import notation as short
import pytest

from arrange.harp.files import load_harp
from arrange.registry import installed
from arrange.rulebook import load_rulebook
from arrange.score.model import HandName, Score
from arrange.study.leap_ways import GOES
from arrange.study.leaping import ALIKE, FURTHER, LEAP, SEAM, ClosedLeap, closed_leaps
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
    _, found = _closed("tempo=100\nRH: G5h E5h\nLH: G3q G2q C4+E4q G3q", "late-beginner")
    assert _said(found) == [("G2", 1)]


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
    """Every mixture of octaves by brute force: a broken chord over its bass."""
    text = "time=3/4 tempo=60\nRH: C6h.\nLH: C3e F4e A4e C5e A4e F4e"
    score, found = _closed(text, "late-beginner")
    notes = [n for n in score.measure("P1", 0).notes if n.staff == 2]
    moved = {note.note.id: one.octaves or 0 for one in found for note in one.notes}
    book = load_rulebook("late-beginner", installed())

    def cost(ways: tuple[int, ...]) -> int:
        lines = [note.pitch.line + 7 * way for note, way in zip(notes, ways, strict=True)]
        total = 0
        for i, way in enumerate(ways[1:], 1):
            is_alike = way == ways[i - 1]
            price = book.prices.octave if way else 0
            total += price // ALIKE if is_alike else price
            total += SEAM if ways[i - 1] and not is_alike else 0
            excess = abs(lines[i] - lines[i - 1]) + 1 - book.player.leap_strings
            total += LEAP + FURTHER * excess if excess > 0 else 0
        return total

    every = ((0, *ways) for ways in product((0, -1, 1), repeat=5))
    played = [
        w
        for w in every
        if all(n.pitch.midi + 12 * by < 84 for n, by in zip(notes, w, strict=True))
    ]
    taken = tuple(moved.get(note.id, 0) for note in notes)
    assert any(taken)
    assert cost(taken) == min(map(cost, played)) < cost((0,) * 6)


def test_each_hand_is_told_apart() -> None:
    _, found = _closed("tempo=100\nRH: G5h E5h\nLH: C3q E4+G4q C3q E4+G4q")
    assert {one.hand for one in found} == {HandName.LEFT}
