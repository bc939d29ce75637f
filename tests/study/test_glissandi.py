"""Glissandi on a lever harp: what they ask of the strings, and what becomes of them."""

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import notation as short
import pytest

from arrange import registry
from arrange.changes import Fidelity
from arrange.hands.player import Player
from arrange.harp.files import load_harp
from arrange.harp.harp import Position
from arrange.pipeline import Conversion, Settings, convert
from arrange.pitch import UNISON, Interval
from arrange.rulebook import load_rulebook
from arrange.score.container import read_source
from arrange.score.document import Document
from arrange.score.model import HandName, MarkKind, Score
from arrange.score.reading.reading import Reading
from arrange.study.glissandi import (
    StandingSweep,
    standing_sweeps,
    sweep_outlook,
    swept_strings,
)
from arrange.study.levering import plan_as_it_stands
from arrange.study.sweep_choice import Decision, decisions
from arrange.study.sweep_ways import Way, WayKind
from arrange.study.terms import Terms

HARP = load_harp("lever-34").harp
TERMS = Terms(HARP, Player())
DIM7 = '"D# C B# | Eb F# Gb A"'
"""C, E flat, G flat and A: five letters at most are right on levers in E flat."""


def read(text: str) -> Score:
    return Reading(Document.read(short.to_musicxml(text), "example.musicxml")).score()


def standing(text: str) -> StandingSweep:
    score = read(text)
    (found,) = standing_sweeps(score, HARP, score.harps[0])
    return found


def decided(text: str) -> Decision:
    (found,) = decisions(read(text), TERMS, Fidelity.LOSSY)
    return found


def kinds(decision: Decision) -> set[WayKind]:
    return {weighed.way.kind for weighed in decision.weighed}


def names(strings: tuple[int, ...]) -> str:
    return " ".join(HARP.strings[s].name for s in strings)


def converted(text: str, tmp_path: Path, key: str = "keep") -> Conversion:
    path = tmp_path / "example.musicxml"
    path.write_bytes(short.to_musicxml(text))
    book = load_rulebook("concert", registry.installed(), {})
    return convert(read_source(path), Settings(HARP, book, key=key))


# What a glissando asks


def test_a_glissando_asks_each_swept_string_for_the_tone_of_its_letter() -> None:
    sweep = standing("key=-3 tempo=60 | rh E4q(gliss) B4q(gliss-end)")
    assert names(sweep.strings) == "E4 F4 G4 A4 B4"
    up = {HARP.strings[s].name for s, position in sweep.demands if position is Position.UP}
    assert up == {"E4", "B4"}
    assert len(sweep.demands) == 5
    assert (sweep.begin.index, sweep.begin.offset) == (0, Fraction(2))
    assert (sweep.end.index, sweep.end.offset) == (0, Fraction(3))
    assert sweep.hand is HandName.RIGHT
    assert sweep.strings_per_s == 4


def test_downwards_the_strings_come_in_the_order_of_the_hand() -> None:
    sweep = standing("key=-3 RH: rw\nLH: C4h(gliss) F3h(gliss-end)")
    assert names(sweep.strings) == "C4 B3 A3 G3 F3"
    assert sweep.hand is HandName.LEFT


def test_our_own_marks_say_what_the_strings_sound() -> None:
    sweep = standing(
        'key=-3 tempo=60 | "D# C B# | Eb F# Gb A" "C D E F G A B"#leverwright.tones.1.'
        'C4-D4-E4-F4-G4-A4-B4 "(passing: F)"#leverwright.foreign.2.F4 '
        '"étouffez D4 (L.H.)"#leverwright.held.3.D4 C4w(gliss) | C5w(gliss-end)'
    )
    assert {alter for _, alter in sweep.sweep.tones} == {0}
    assert (names(sweep.foreign), names(sweep.held)) == ("F4", "D4")
    assert names(tuple(s for s, _ in sweep.demands)) == "C4 E4 G4 A4 B4 C5"


def test_a_foreign_string_is_plucked_all_the_same_and_a_held_one_is_not() -> None:
    score = read(
        'key=-3 | "C D E F G A B"#leverwright.tones.1.C4-D4-E4-F4-G4-A4-B4 '
        '"(passing: F)"#leverwright.foreign.2.F4 "étouffez"#leverwright.held.3.D4 '
        "C4w(gliss) | C5w(gliss-end)"
    )
    (swept,) = swept_strings(score, HARP, score.harps[0])
    assert names(tuple(s for s, _ in swept.demands)) == "C4 E4 F4 G4 A4 B4 C5"


def test_tones_that_no_lever_gives_leave_the_glissando_open() -> None:
    score = read(f"key=-3 | {DIM7} C4h(gliss) C5h(gliss-end)")
    (sweep,) = standing_sweeps(score, HARP, score.harps[0])
    assert set(sweep.missing) == {"G4", "B4"}
    (swept,) = swept_strings(score, HARP, score.harps[0])
    assert not swept.is_possible
    (plan,) = plan_as_it_stands(score, TERMS)
    assert plan.open_sweeps == (sweep.sweep.start,)


def test_a_glissando_left_to_the_editor_asks_for_nothing() -> None:
    score = read('key=-3 | "? C4"#leverwright.open.1.C4 C4h(gliss) C5h(gliss-end)')
    assert score.sweeps
    assert standing_sweeps(score, HARP, score.harps[0]) == ()


def test_keys_are_told_apart_by_the_strings_that_would_be_foreign() -> None:
    score = read(f"key=-3 | {DIM7} C4h(gliss) C6h(gliss-end)")
    staves = score.harps[0]
    semitones = {i.semitones: sweep_outlook(score, staves, TERMS, i) for i in _intervals()}
    # G4 B4 G5 B5 are foreign, D4 F4 A4 D5 F5 A5 apart from the key.
    assert semitones[0] == 4 * 50 + 6 * 10
    assert semitones[1] > semitones[0]
    assert sweep_outlook(read("key=-3 | C4h C6h"), staves, TERMS, UNISON) == 0


def _intervals() -> tuple[Interval, ...]:
    return UNISON, Interval.parse("m2")


# Which way is taken


def test_the_levers_are_set_where_they_can_be_and_that_is_exact() -> None:
    taken = _taken('key=-3 tempo=60 | "D C B | E F# G A" C4q(gliss) C6q(gliss-end) rh')
    assert taken.kind is WayKind.LEVERS
    assert taken.fidelity is Fidelity.EXACT
    assert dict(taken.tones)["F"] == 1


@pytest.mark.parametrize(
    ("tempo", "is_heard"), [(44, True), (52, False), (120, False)], ids=["10", "12", "28 a second"]
)
def test_foreign_strings_pass_by_only_in_a_fast_sweep(tempo: int, *, is_heard: bool) -> None:
    decision = decided(
        f'key=-3 tempo={tempo} | F#4e F4e "D C B | E F# G A" C4q(gliss) C6q(gliss-end) F4q'
    )
    assert (WayKind.OTHER_TONES in kinds(decision)) is not is_heard


def test_two_letters_are_foreign_only_above_twenty_strings_a_second() -> None:
    row = '"D C B | E F# G# A" C4q(gliss) C6q(gliss-end) rh'
    for tempo, most in ((72, 1), (120, 2)):
        found = {
            len({HARP.strings[s].letter for s in w.way.foreign})
            for w in decided(f"key=0 tempo={tempo} | {row}").weighed
            if w.way.kind is WayKind.OTHER_TONES
        }
        assert max(found) == most


def test_no_string_is_foreign_among_the_first_or_last_three() -> None:
    for first in "CDEFGAB":
        text = f'key=-3 tempo=72 | "D C B | E F# G A" {first}4q(gliss) {first}6q(gliss-end) rh'
        for weighed in decided(text).weighed:
            strings = weighed.way.course.strings
            assert not set(weighed.way.foreign) & {*strings[:3], *strings[-3:]}


SLOW = '"D C B# | E Fb G A" C4w(gliss) | C5w(gliss-end)'


def test_in_a_slow_sweep_over_an_octave_the_other_hand_holds_two_strings() -> None:
    taken = _taken(f"key=-3 tempo=60 | {SLOW}")
    assert taken.kind is WayKind.DAMPED
    assert names(taken.held) == "F4 B4"


@pytest.mark.parametrize(
    "text",
    [
        f"tempo=60 RH: {SLOW}\nLH: rh C3h | rw",
        f"tempo=60 RH: {SLOW}\nRH2: F4w | rw",
        f"tempo=60 RH: {SLOW}".replace("C5w", "C6w"),
        f"tempo=480 RH: {SLOW}",
    ],
    ids=["the other hand plays", "a string rings", "two octaves", "14 strings a second"],
)
def test_nothing_is_damped_where_no_hand_could(text: str) -> None:
    assert WayKind.DAMPED not in kinds(decided(f"key=-3 {text}"))


def test_a_run_fills_the_time_of_the_sweep_at_a_pace_that_fingers_have() -> None:
    for tempo in (40, 60, 90, 132):
        text = f"key=-3 tempo={tempo} | {DIM7} C4h(gliss) C6h(gliss-end)"
        runs = [w.way.run for w in decided(text).weighed if w.way.run is not None]
        assert runs
        for run in runs:
            lengths = [value.duration for value in run.after]
            assert sum(lengths, Fraction(0)) == 2
            assert all(length * 60 / Fraction(tempo) >= Fraction(1, 10) for length in lengths)
            assert {v.pitch.pitch_class for v in run.after} <= {0, 3, 6, 9}
            pitches = [v.pitch.midi for v in run.after]
            assert pitches == sorted(set(pitches))


def test_a_run_written_out_beyond_the_strings_is_not_bent_back() -> None:
    row = " ".join(f"{letter}6t" for letter in "CDEFGAB")
    decision = decided(f'key=0 tempo=60 | "gliss." C5t D5t E5t F5t G5t A5t B5t {row} C7e re. rq')
    split = [
        w.way.kind
        for w in decision.weighed
        if w.way.course.start_octaves != w.way.course.end_octaves
    ]
    assert set(split) <= {WayKind.WRITTEN}


def test_every_way_has_a_real_cost_and_the_cheapest_is_taken() -> None:
    decision = decided(
        'key=-3 tempo=72 | F#4e F4e "D C B | E F# G A" C4q(gliss) C6q(gliss-end) F4q'
    )
    costs = [w.cost for w in decision.weighed if w.cost is not None]
    assert costs == sorted(costs)
    assert decision.taken == decision.weighed[0].way
    by_kind = {w.way.kind: w.cost for w in decision.weighed}
    levers, other = by_kind[WayKind.LEVERS], by_kind[WayKind.OTHER_TONES]
    assert levers is not None and other is not None  # noqa: PT018 - for the type checker
    assert levers > other + TERMS.prices.open


def test_nothing_goes_further_than_it_may() -> None:
    score = read(f"key=-3 | {DIM7} C4h(gliss) C6h(gliss-end)")
    (decision,) = decisions(score, TERMS, Fidelity.EXACT)
    assert decision.taken is None


def test_a_price_decides_between_ways() -> None:
    text = f"key=-3 tempo=60 | {DIM7} C4h(gliss) C6h(gliss-end)"
    dear = replace(TERMS.prices, sweep_rewritten=40_000)
    (decision,) = decisions(read(text), replace(TERMS, prices=dear), Fidelity.LOSSY)
    assert decision.weighed[0].cost is not None
    assert decision.weighed[0].cost >= 40_000


# The whole way


EXAMPLES = [
    f"key=-3 tempo=60 | {DIM7} C4h(gliss) C6h(gliss-end)",
    'key=-3 tempo=60 | "D C Bb | E F G A" C4q(gliss) C6q(gliss-end) rh',
    'key=-3 tempo=72 | F#4e F4e "D C B | E F# G A" C4q(gliss) C6q(gliss-end) F4q',
    'key=-3 tempo=60 | "D C B# | E Fb G A" C4w(gliss) | C5w(gliss-end)',
    "key=0 tempo=60 | C5h(gliss) C7h(gliss-end)",
    "key=-4 tempo=60 | Db4q(gliss) Db6q(gliss-end) rh",
    'key=-3 tempo=60 | "D C B | E F G A" C4+E4h(gliss) C6+E6h(gliss-end)',
]


@pytest.mark.parametrize("text", EXAMPLES)
def test_a_conversion_with_glissandi_passes_its_own_check_and_audit(
    text: str, tmp_path: Path
) -> None:
    conversion = converted(text, tmp_path)
    assert conversion.violations == ()
    assert conversion.unlogged == ()
    again = tmp_path / "again.musicxml"
    again.write_bytes(conversion.result)
    assert convert(read_source(again), conversion.settings).result == conversion.result


def test_the_tones_of_removed_pedal_marks_stay_on_the_page(tmp_path: Path) -> None:
    conversion = converted(EXAMPLES[1], tmp_path)
    marks = conversion.score.parts[0].measures[0].marks
    assert not any(m.kind is MarkKind.PEDAL_WORDS for m in marks)
    assert "gliss. C D E F G A B♭" in [m.text for m in marks]
    (sweep,) = standing_sweeps(conversion.score, HARP, conversion.score.harps[0])
    assert dict(sweep.sweep.tones)["B"] == -1


def test_words_that_two_glissandi_share_go_once(tmp_path: Path) -> None:
    text = f'key=-3 tempo=60 | {DIM7} "gliss." C4+E4h(gliss) C6+E6h(gliss-end)'
    conversion = converted(text, tmp_path)
    assert conversion.violations == ()
    assert conversion.unlogged == ()
    assert all(entry.outcome == "APPLIED" for entry in conversion.log.entries)


def test_a_glissando_in_the_key_is_not_touched(tmp_path: Path) -> None:
    text = 'key=-3 tempo=60 | "gliss." C4q(gliss) C6q(gliss-end) rh'
    conversion = converted(text, tmp_path)
    assert all(entry.change.rule != "resolve-glissandi" for entry in conversion.log.entries)


def _taken(text: str) -> Way:
    taken = decided(text).taken
    assert taken is not None
    return taken


# What other notes have to do with it


def test_no_run_is_written_where_the_hand_cannot_hold_it_beside_its_other_notes() -> None:
    low = "tempo=60 key=-3\nRH: C4h(gliss) C6h(gliss-end)\nLH: rw"
    assert WayKind.WRITTEN in kinds(decided(f"{low}"))
    beside = "tempo=60 key=-3\nRH: C4h(gliss) C6h(gliss-end)\nRH2: A6e G6e A6e G6e rh\nLH: rw"
    assert WayKind.WRITTEN not in kinds(decided(beside))


def test_tones_are_named_where_a_note_of_another_key_stands_before(tmp_path: Path) -> None:
    plain = converted("key=-3 tempo=60 | Eb4h C4q(gliss) C6q(gliss-end)", tmp_path)
    assert not any("gliss" in m.text for m in plain.score.parts[0].measures[0].marks)
    beside = converted("key=-3 tempo=60 | F#4h C4q(gliss) C6q(gliss-end)", tmp_path)
    texts = [m.text for m in beside.score.parts[0].measures[0].marks]
    assert any(text.startswith("gliss. C D E") for text in texts)


def test_the_note_that_a_line_leaves_is_spelled_anew_with_what_it_is_tied_to(
    tmp_path: Path,
) -> None:
    text = "key=0 tempo=60 | A#3h~ A#3q(gliss) A#4q(gliss-end) | A#3w"
    conversion = converted(text, tmp_path)
    assert conversion.is_sound
    assert all(e.outcome == "APPLIED" for e in conversion.log.entries)
    spelled = {str(n.pitch) for n in conversion.score.parts[0].measures[0].notes}
    assert "A#3" not in spelled


HELD = 'RH: "étouffez E4 (L.H.)"#leverwright.held.1.E4 C4h(gliss) G4h(gliss-end)'


@pytest.mark.parametrize(
    ("text", "is_possible"),
    [
        (f"tempo=60\n{HELD}", True),
        (f"tempo=300\n{HELD}", False),
        (f"tempo=60\n{HELD}\nLH: rq C3q rh", False),
        (f"tempo=60\n{HELD}\nRH2: E4w", False),
    ],
    ids=["in peace", "too fast", "the hand plucks", "the string sounds"],
)
def test_strings_are_damped_only_in_peace(text: str, *, is_possible: bool) -> None:
    score = read(text)
    (found,) = swept_strings(score, HARP, score.harps[0])
    assert found.is_possible is is_possible
