"""What folding moves, and that it is the cheapest way."""

from collections.abc import Iterator
from itertools import product

import notation as short
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from arrange.hands.player import Player
from arrange.harp.files import load_harp
from arrange.pitch import UNISON, Interval
from arrange.score.model import EventId, Note, Score
from arrange.study.compass import Folding, folding, folds
from arrange.study.prices import PriceList
from arrange.study.strands import IMPOSSIBLE, Strand, texture
from arrange.study.terms import Terms

HARP = load_harp("lever-34").harp
TERMS = Terms(HARP, Player())
LOW, HIGH = 36, 93
"""C2, and A6 with its lever up."""


def _folded(text: str, interval: Interval = UNISON) -> tuple[Score, Folding]:
    score = short.read(text).score()
    return score, folding(score, score.harps[0], TERMS, interval)


def _after(text: str, interval: Interval = UNISON) -> str:
    """The notes after folding, in order; a dropped one in brackets."""
    score, folded = _folded(text, interval)
    return " ".join(
        _said(n, folded) for part in score.parts for m in part.measures for n in m.notes
    )


def _said(note: Note, folded: Folding) -> str:
    pitch = note.pitch
    if note.id in folded.dropped:
        return f"({pitch})"
    by = folded.octaves.get(note.id, 0)
    return f"{pitch.name}{pitch.octave + by}"


def test_what_lies_in_the_compass_costs_nothing() -> None:
    _, folded = _folded("RH: A6w\nLH: C2w")
    assert folded == Folding({}, frozenset(), frozenset(), 0, 0)


def test_a_low_note_alone_goes_up_an_octave() -> None:
    assert _after("RH: E4w\nLH: A1w") == "E4 A2"


def test_a_high_note_alone_goes_down_an_octave() -> None:
    assert _after("RH: C7w\nLH: C3w") == "C6 C3"


def test_a_doubled_octave_keeps_the_note_that_fits() -> None:
    assert _after("RH: E4w\nLH: A1+A2w") == "E4 (A1) A2"
    assert _after("RH: C6+C7w\nLH: C3w") == "C6 (C7) C3"


def test_a_phrase_moves_whole_and_the_next_one_stays() -> None:
    text = "RH: E5w | E5w | E5w\nLH: C2q B1q A1q rq | C3q D3q E3q F3q | G3w"
    assert _after(text) == "E5 C3 B2 A2 E5 C3 D3 E3 F3 E5 G3"


def test_one_shift_carries_tied_notes_as_one() -> None:
    assert _after("RH: E5w | E5w\nLH: A1w~ | A1w") == "E5 A2 E5 A2"


def test_a_bass_apart_from_its_chords_moves_without_them() -> None:
    text = "key=0 time=3/4\nRH: C6h. | B5h.\nLH: C1q E3+G3q E3+G3q | G1q D3+F3q D3+F3q"
    assert _after(text) == "C6 C2 E3 G3 E3 G3 B5 G2 D3 F3 D3 F3"


def test_a_broken_chord_is_never_torn_apart_in_the_middle() -> None:
    """Each group keeps its shape: high above, so that the whole line cannot follow."""
    text = "RH: C6h E3h\nLH: A1e E2e A2e E2e C2e G2e C3e G2e"
    assert _after(text) == "C6 E3 A2 E3 A3 E3 C2 G2 C3 G2"


def test_a_seam_never_parts_a_dominant_from_its_tonic() -> None:
    """Moving G1 alone would turn the cadence upside down, so C3 goes with it."""
    text = "RH: F5+B5h E5+C6h\nLH: G1h C2h"
    assert _after(text) == "F5 B5 E5 C6 G2 C3"


def test_a_folded_note_does_not_strike_a_string_that_still_sounds() -> None:
    """A2 would be struck while the other voice holds it; so the note stays open."""
    score, folded = _folded("RH: E5w\nLH: A2w\nLH2: rh A1h")
    outside = next(n for n in score.notes_by_id.values() if str(n.pitch) == "A1")
    assert folded.octaves.get(outside.id) != 1


def test_bass_and_melody_never_cross() -> None:
    score, folded = _folded("RH: F2w\nLH: A1w")
    low = next(n for n in score.notes_by_id.values() if str(n.pitch) == "A1")
    assert folded.octaves.get(low.id, 0) <= 0
    assert low.id in folded.open


def test_a_fold_onto_a_string_struck_with_it_becomes_that_string() -> None:
    assert _after("RH: E5w\nLH: A2+C3h A2+C3h\nLH2: A1h A1h") == "E5 A2 C3 A2 C3 (A1) (A1)"


def test_a_glissando_is_left_to_its_own_rule() -> None:
    _, folded = _folded("RH: C6h(gliss) C7h(gliss-end)\nLH: C3w")
    assert not folded.octaves
    assert not folded.dropped


def test_a_transposition_is_weighed_without_a_transposed_score() -> None:
    text = "RH: E4w | F4w\nLH: D2w | C2w"
    assert _folded(text)[1].cost == 0
    down = _folded(text, Interval(-1, -2))[1]
    assert down.cost > 0
    moved = short.read("RH: D4w | Eb4w\nLH: C2w | Bb1w").score()
    stands = folding(moved, moved.harps[0], TERMS, UNISON)
    assert down == stands


def test_the_order_of_play_of_phrases_is_deterministic() -> None:
    text = "RH: C7q B6q A6q G6q | C7w\nLH: A1w | B1w"
    one, other = _folded(text)[1], _folded(text)[1]
    assert list(one.octaves) == list(other.octaves)
    assert one == other


LINES = st.lists(
    st.sampled_from(["G1", "A1", "B1", "C2", "D2", "E2", "G2", "C3"]), min_size=4, max_size=8
)


@settings(max_examples=60, deadline=None)
@given(LINES)
def test_the_fold_of_a_single_line_is_the_cheapest_of_all(line: list[str]) -> None:
    score = short.read(_in_measures(line)).score()
    staves = score.harps[0]
    cost = sum(fold.cost for fold in folds(score, staves, TERMS, UNISON))
    wanted = sum(
        min(sum(_cheapest(strand) for strand in way) for way in movable.ways)
        for movable in texture(score, staves).movables
    )
    assert cost == wanted


def _cheapest(strand: Strand) -> int:
    return min(_price(strand, octaves) for octaves in product((0, 1), repeat=len(strand.units)))


def _price(strand: Strand, octaves: tuple[int, ...]) -> int:
    """What one way to fold a line of single notes costs, counted without the recurrence.

    Alone in its register, a line meets nothing.
    """
    prices = PriceList()
    total = 0
    for i, by in enumerate(octaves):
        inside = LOW <= strand.units[i][0].midi + 12 * by <= HIGH
        total += 0 if inside else prices.open_outer
        if i and by != octaves[i - 1]:
            total += min(strand.seams[i], IMPOSSIBLE)
    for length in _runs(octaves):
        total += prices.octave if length == 1 else prices.phrase
    return total


def _runs(octaves: tuple[int, ...]) -> Iterator[int]:
    length = 0
    for by in (*octaves, 0):
        if by:
            length += 1
        elif length:
            yield length
            length = 0


def _in_measures(line: list[str]) -> str:
    rows = [line[i : i + 4] for i in range(0, len(line), 4)]
    shown = [" ".join([f"{p}q" for p in row] + ["rq"] * (4 - len(row))) for row in rows]
    return f"LH: {' | '.join(shown)}"


@settings(max_examples=40, deadline=None)
@given(LINES, LINES)
def test_folding_keeps_tones_and_reaches_every_string_or_says_that_it_does_not(
    left: list[str], right: list[str]
) -> None:
    high = [f"{pitch[0]}{int(pitch[1]) + 4}" for pitch in right]
    count = max(len(left), len(right))
    text = f"RH: {_row(high, count)}\n{_in_measures((left * 2)[:count])}"
    score, folded = _folded(text)
    for note in score.notes_by_id.values():
        if note.id in folded.dropped:
            continue
        midi = note.pitch.midi + 12 * folded.octaves.get(note.id, 0)
        assert (LOW <= midi <= HIGH) is (note.id not in folded.open)
    assert not set(folded.octaves) & folded.dropped
    assert folded.altered == len(folded.octaves) + len(folded.dropped)


def _row(line: list[str], count: int) -> str:
    return _in_measures((line * 2)[:count]).removeprefix("LH: ")


@pytest.mark.parametrize("semitones", range(-6, 7))
def test_every_transposition_of_a_chorale_reaches_its_strings(semitones: int) -> None:
    text = "RH: E5+G5+C6h D5+F5+B5h | E5+G5+C6w\nLH: C2+C3h G1+G2h | C1+C2w"
    score, folded = _folded(text, Interval(round(semitones * 7 / 12), semitones))
    assert not folded.open
    kept: dict[EventId, int] = {
        note.id: note.pitch.midi + semitones + 12 * folded.octaves.get(note.id, 0)
        for note in score.notes_by_id.values()
        if note.id not in folded.dropped
    }
    assert all(LOW <= midi <= HIGH for midi in kept.values())
