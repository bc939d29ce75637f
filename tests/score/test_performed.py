"""The clock: exact over tempo changes and repeats, rounded once."""

from fractions import Fraction

from tiny_scores import BACKWARD, START, TEMPO, document, listed, n, part, score

from arrange.score.model import Score, Tempo
from arrange.score.performed import Clock
from arrange.score.reading import Reading
from arrange.units import Quarters


def at_thirds() -> Score:
    """At 7 quarters in 11 minutes nothing comes out even."""
    music = part(START + n("C4", 16), n("D4", 12) + BACKWARD, n("E4", 16))
    return Reading(document(music), tempo=Fraction(7, 11)).score()


def test_passes_come_in_playing_order_with_their_starts() -> None:
    clock = Clock(score(n("C4", 16), n("D4", 8) + BACKWARD, n("E4", 16)))
    assert clock.passes == (
        (0, 1, 0),
        (1, 1, 4_000_000),
        (0, 2, 6_000_000),
        (1, 2, 10_000_000),
        (2, 1, 12_000_000),
    )
    assert clock.end == 16_000_000
    assert clock.occurrences(1) == (1, 3)
    assert clock.occurrences(2) == (4,)
    assert clock.time(3, Quarters(1, 2)) == 10_500_000


def test_a_tempo_change_inside_a_measure_counts_from_its_place() -> None:
    slower = "<sound tempo='30'/>"
    clock = Clock(score(n("C4", 8) + slower + n("C4", 8), TEMPO + n("D4", 16)))
    assert [clock.time(0, Quarters(q)) for q in (0, 1, 2, 3)] == [
        0,
        1_000_000,
        2_000_000,
        4_000_000,
    ]
    assert clock.passes[1] == (1, 1, 6_000_000)
    assert clock.time(1, Quarters(3)) == 9_000_000


def test_the_last_tempo_in_print_is_in_force_on_every_pass() -> None:
    found = score(n("C4", 16), "<sound tempo='120'/>" + n("D4", 16) + BACKWARD)
    clock = Clock(found)
    assert [start for _, _, start in clock.passes] == [0, 4_000_000, 6_000_000, 10_000_000]


def test_times_are_exact_and_rounded_once() -> None:
    found = at_thirds()
    clock = Clock(found)
    quarter = Fraction(60_000_000) / Fraction(7, 11)
    before = Fraction(0)
    for place, index in enumerate(found.performed):
        for offset in (Quarters(0), Quarters(1, 3), Quarters(5, 7)):
            assert clock.time(place, offset) == round((before + offset) * quarter)
        before += found.parts[0].measures[index].length
    assert clock.end == round(before * quarter)


def test_a_measure_lasts_as_long_as_its_longest_part() -> None:
    parts = part(START + TEMPO + n("C4", 8), n("C4")) + part(
        START + n("C4", 12), n("C4"), name="P2"
    )
    found = Reading(document(parts, listed("Harp") + listed("Flute", "P2"))).score()
    assert Clock(found).passes[1] == (1, 1, 3_000_000)


def test_a_tempo_behind_the_end_of_a_measure_does_not_stretch_it() -> None:
    found = score(n("C4", 16), n("D4", 16))
    late = Score(
        found.title,
        found.parts,
        found.harps,
        found.performed,
        (Tempo(0, Quarters(0), Quarters(60)), Tempo(0, Quarters(6), Quarters(30))),
    )
    assert Clock(late).passes[1] == (1, 1, 4_000_000)
    assert Clock(late).time(1, Quarters(1)) == 6_000_000
