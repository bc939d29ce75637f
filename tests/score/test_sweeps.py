import pytest
from handmade import GLISS_START, GLISS_STOP, HARP, SLIDE_START, SLIDE_STOP, Staves, score_of, sign

from arrange.harp.harp import Harp, HarpString
from arrange.pitch import Interval, Pitch, pitch_on_line
from arrange.score.model import EventId, Finding, HandName, MarkKind, Sign, StaffHand, Sweep
from arrange.score.model import SweepForm as Form
from arrange.score.reading.sweeps import sweeps, transposed
from arrange.score.swept import BEYOND, sweep_strings, tone_classes
from arrange.units import Quarters

GLISS = MarkKind.GLISSANDO_WORDS
PEDALS = MarkKind.PEDAL_WORDS


def read(*staves: Staves) -> tuple[tuple[Sweep, ...], tuple[Finding, ...]]:
    return sweeps(tuple(one.made() for one in staves), (HARP,))


def one(*staves: Staves) -> Sweep:
    (found,), findings = read(*staves)
    assert findings == ()
    return found


def tones(sweep: Sweep) -> str:
    return " ".join(
        letter + ("#" * alter if alter > 0 else "b" * -alter) for letter, alter in sweep.tones
    )


def ends(sweep: Sweep) -> tuple[str, str]:
    return str(sweep.start), str(sweep.end)


def across() -> Staves:
    """A line from the lower staff to the upper one, over the barline."""
    staves = Staves(fifths=-3).note("C3", 2, 2, GLISS_START, staff=2).measure()
    return staves.note("C6", 0, 2, GLISS_STOP)


def test_a_line_goes_from_staff_to_staff_and_over_the_barline() -> None:
    sweep = one(across())
    assert (sweep.form, *ends(sweep)) == (Form.LINE, "P1/0/n0", "P1/1/n0")
    assert (sweep.until_index, sweep.until_offset) == (1, Quarters(0))
    assert tones(sweep) == "C D Eb F G Ab Bb"
    assert not sweep.from_pedals
    assert not sweep.from_octave


def test_a_stop_that_the_document_has_before_its_start_is_found() -> None:
    staves = Staves().note("C6", 2, 2, GLISS_STOP).note("C3", 0, 2, GLISS_START, staff=2)
    assert ends(one(staves)) == ("P1/0/n1", "P1/0/n0")


def test_lines_on_the_notes_of_one_chord_are_a_sweep_each_low_to_low() -> None:
    """Double glissandi in thirds; the numbers are reused."""
    staves = Staves().note("E4", 0, 2, GLISS_START).note("C4", 0, 2, GLISS_START, with_last=True)
    staves.note("E6", 2, 2, GLISS_STOP).note("C6", 2, 2, GLISS_STOP, with_last=True)
    found, findings = read(staves)
    assert sorted(map(ends, found)) == [("P1/0/n0", "P1/0/n2"), ("P1/0/n1", "P1/0/n3")]
    assert findings == ()


def test_numbers_pair_lines_that_cross() -> None:
    first, second = (sign(Sign.GLISSANDO, "start", n) for n in "12")
    staves = Staves().note("C4", 0, 2, first).note("E4", 0, 2, second, with_last=True)
    staves.note("C6", 2, 2, sign(Sign.GLISSANDO, "stop", "2"))
    staves.note("E6", 2, 2, sign(Sign.GLISSANDO, "stop", "1"), with_last=True)
    found, _ = read(staves)
    assert sorted(map(ends, found)) == [("P1/0/n0", "P1/0/n3"), ("P1/0/n1", "P1/0/n2")]


def test_two_hands_with_the_same_number_keep_their_own_ends() -> None:
    staves = Staves().note("C5", 0, 2, GLISS_START).note("C4", 0, 2, GLISS_START, staff=2)
    staves.note("C7", 2, 2, GLISS_STOP).note("C2", 2, 2, GLISS_STOP, staff=2)
    found, _ = read(staves)
    assert sorted(map(ends, found)) == [("P1/0/n0", "P1/0/n2"), ("P1/0/n1", "P1/0/n3")]


def test_two_voices_on_one_staff_with_the_same_number_keep_their_own_ends() -> None:
    staves = Staves().note("C4", 0, 2, GLISS_START).note("C6", 0, 2, GLISS_START, voice="2")
    staves.note("E5", 2, 2, GLISS_STOP, voice="2").note("G5", 2, 2, GLISS_STOP)
    found, _ = read(staves)
    assert sorted(map(ends, found)) == [("P1/0/n0", "P1/0/n3"), ("P1/0/n1", "P1/0/n2")]


def test_a_note_may_end_one_line_and_begin_the_next() -> None:
    staves = Staves().note("C4", 0, 1, GLISS_START).note("C6", 1, 1, GLISS_START, GLISS_STOP)
    staves.note("C4", 2, 1, GLISS_STOP)
    found, findings = read(staves)
    assert [ends(s) for s in found] == [("P1/0/n0", "P1/0/n1"), ("P1/0/n1", "P1/0/n2")]
    assert findings == ()


def test_ends_with_different_numbers_are_taken_together_and_said() -> None:
    staves = Staves().note("C4", 0, 2, GLISS_START)
    staves.note("C6", 2, 2, sign(Sign.GLISSANDO, "stop", "3"))
    (sweep,), (finding,) = read(staves)
    assert ends(sweep) == ("P1/0/n0", "P1/0/n1")
    assert "different numbers" in finding.text
    assert (finding.part, finding.index, finding.measure) == ("P1", 0, "1")


def test_a_line_without_an_end_goes_to_the_next_note_of_its_voice() -> None:
    staves = Staves().note("C4", 0, 2, GLISS_START, tied_to=True)
    staves.note("C4", 2, 1, tied_from=True).note("D5", 2, 1, staff=2).note("C6", 3, 1)
    (sweep,), (finding,) = read(staves)
    assert ends(sweep) == ("P1/0/n0", "P1/0/n3")
    assert "no end" in finding.text


def test_a_line_without_an_end_or_a_next_note_lasts_its_written_length() -> None:
    (sweep,), (finding,) = read(Staves().note("C4", 2, 4, GLISS_START).measure().measure())
    assert sweep.end is None
    assert (sweep.until_index, sweep.until_offset) == (1, Quarters(2))
    assert "written length" in finding.text


def test_a_new_start_in_the_voice_does_not_borrow_the_next_stop() -> None:
    staves = Staves().note("C4", 0, 1, GLISS_START).note("C6", 1, 1)
    staves.note("E4", 2, 1, GLISS_START).note("E6", 3, 1, GLISS_STOP)
    found, findings = read(staves)
    assert [ends(s) for s in found] == [("P1/0/n0", "P1/0/n1"), ("P1/0/n2", "P1/0/n3")]
    assert len(findings) == 1


def test_a_stop_without_a_start_is_said_and_makes_no_sweep() -> None:
    found, (finding,) = read(Staves().note("C4", 0, 2).note("C6", 2, 2, GLISS_STOP))
    assert found == ()
    assert "begins nowhere" in finding.text


def test_a_slide_over_a_fourth_or_more_is_a_sweep() -> None:
    sweep = one(Staves().note("C4", 0, 2, SLIDE_START).note("F4", 2, 2, SLIDE_STOP))
    assert sweep.form is Form.SLIDE


def test_a_slide_to_a_neighbour_is_left_unless_words_ask_for_a_glissando() -> None:
    staves = Staves().note("C4", 0, 2, SLIDE_START).note("E4", 2, 2, SLIDE_STOP)
    found, (finding,) = read(staves)
    assert found == ()
    assert "less than a fourth" in finding.text
    (sweep,), _ = read(staves.mark(GLISS, "gliss."))
    assert sweep.marks == (EventId("P1", 0, "d0"),)


def test_words_alone_sweep_to_the_next_note() -> None:
    staves = Staves(fifths=1).note("C4", 0, 2).note("C6", 2, 2).mark(GLISS, "gliss.")
    sweep = one(staves)
    assert (sweep.form, *ends(sweep)) == (Form.WORDS, "P1/0/n0", "P1/0/n1")
    assert sweep.marks == (EventId("P1", 0, "d0"),)
    assert tones(sweep) == "C D E F# G A B"


def test_words_shortly_before_a_line_belong_to_it() -> None:
    staves = Staves().note("G4", 0, 1).note("C4", 1, 1, GLISS_START).note("C6", 2, 1, GLISS_STOP)
    sweep = one(staves.mark(GLISS, "gliss."))
    assert (*ends(sweep), len(sweep.marks)) == ("P1/0/n1", "P1/0/n2", 1)


def test_words_printed_after_a_note_begins_mean_the_note_that_sounds() -> None:
    staves = Staves().note("C4", 0, 3).note("C6", 3, 1).mark(GLISS, "gliss.", 1)
    assert ends(one(staves)) == ("P1/0/n0", "P1/0/n1")


def test_words_before_a_near_note_are_left() -> None:
    found, (finding,) = read(Staves().note("C4", 0, 2).note("D4", 2, 2).mark(GLISS, "gliss."))
    assert found == ()
    assert "leads to no note a fourth away" in finding.text


def test_words_over_chords_of_one_size_are_a_sweep_for_each_note() -> None:
    staves = Staves().note("C4", 0, 2).note("E4", 0, 2, with_last=True)
    staves.note("C6", 2, 2).note("E6", 2, 2, with_last=True).mark(GLISS, "gliss.")
    found, _ = read(staves)
    assert [ends(s) for s in found] == [("P1/0/n0", "P1/0/n2"), ("P1/0/n1", "P1/0/n3")]


def test_words_with_the_run_written_out_take_the_run_and_its_spelling() -> None:
    staves = Staves().run("C4 D4 E4 F#4 G4 A4 Bb4 C5 D5 E5", 0, "1/4").note("F#5", "5/2", 1)
    sweep = one(staves.mark(GLISS, "gliss."))
    assert (sweep.form, *ends(sweep)) == (Form.WRITTEN_OUT, "P1/0/n0", "P1/0/n10")
    assert len(sweep.notes) == 9
    assert tones(sweep) == "C D E F# G A Bb"
    assert sweep.from_octave


def test_a_line_over_the_written_run_is_written_out_too() -> None:
    staves = Staves().note("C5", 0, "1/4", GLISS_START).run("B4 A4 G4 F4", "1/4", "1/4")
    sweep = one(staves.note("E4", "5/4", 1, GLISS_STOP))
    assert (sweep.form, len(sweep.notes)) == (Form.WRITTEN_OUT, 4)


@pytest.mark.parametrize("line", [True, False])
def test_small_notes_spell_the_first_octave(line: bool) -> None:  # noqa: FBT001
    signs = ([GLISS_START], [GLISS_STOP]) if line else ([], [])
    staves = Staves(fifths=2).note("C4", 0, 3, *signs[0])
    staves.run("D#4 E4 F#4 G4 A4 B#4", "1/2", "1/4", voice="2", is_cue=True)
    staves.note("C7", 3, 1, *signs[1]).mark(GLISS, "gliss.")
    sweep = one(staves)
    assert (sweep.form, *ends(sweep)) == (Form.FIRST_OCTAVE, "P1/0/n0", "P1/0/n7")
    assert tones(sweep) == "C D# E F# G A B#"
    assert (sweep.from_octave, len(sweep.notes)) == (True, 6)


def test_graces_that_lead_into_the_line_begin_the_sweep() -> None:
    staves = Staves().run("C4 D4 Eb4 F4 G4 Ab4", 0, "0", is_grace=True)
    staves.note("B4", 0, 2, GLISS_START).note("C7", 2, 2, GLISS_STOP)
    sweep = one(staves)
    assert (sweep.form, *ends(sweep)) == (Form.FIRST_OCTAVE, "P1/0/n0", "P1/0/n7")
    assert tones(sweep) == "C D Eb F G Ab B"


def test_a_line_between_two_graces_is_found() -> None:
    staves = Staves().note("C4", 0, 0, GLISS_START, is_grace=True)
    staves.note("C6", 0, 0, GLISS_STOP, is_grace=True).note("E6", 0, 4)
    assert ends(one(staves)) == ("P1/0/n0", "P1/0/n1")


def test_a_melody_before_a_line_is_no_written_octave() -> None:
    staves = Staves().run("C4 D4 E4 F4", 0, "1/2").note("G4", 2, 1, GLISS_START)
    sweep = one(staves.note("G6", 3, 1, GLISS_STOP))
    assert (sweep.form, sweep.notes) == (Form.LINE, ())


def test_pedal_marks_in_force_give_the_tones_and_partial_ones_merge() -> None:
    staves = Staves().mark(PEDALS, "D# C B# | Eb F# Gb A").note("E5", 0, 4).measure()
    staves.mark(PEDALS, "E♮", staff=2).note("C4", 0, 2, GLISS_START).note("C6", 2, 2, GLISS_STOP)
    sweep = one(staves)
    assert tones(sweep) == "C D# E F# Gb A B#"
    assert sweep.from_pedals


def test_a_pedal_mark_gives_way_to_a_note_played_after_it() -> None:
    staves = Staves().mark(PEDALS, "D C B | E F# G A").note("F4", 2, 2).measure()
    staves.note("C4", 0, 2, GLISS_START).note("C6", 2, 2, GLISS_STOP)
    (sweep,), (finding,) = read(staves)
    assert tones(sweep) == "C D E F G A B"
    assert "about F in a glissando" in finding.text


def test_a_pedal_mark_that_is_renewed_rules_again() -> None:
    staves = Staves().mark(PEDALS, "F#").note("F4", 1, 1).mark(PEDALS, "F#", 2)
    staves.note("C4", 2, 1, GLISS_START).note("C6", 3, 1, GLISS_STOP)
    assert tones(one(staves)) == "C D E F# G A B"


def test_a_pedal_mark_gives_way_to_a_key_signature_only_where_that_changes_the_letter() -> None:
    staves = Staves(fifths=-3).mark(PEDALS, "D C B♭ | E♭ F G# A♭").measure(fifths=0)
    staves.note("C4", 0, 2, GLISS_START).note("C6", 2, 2, GLISS_STOP)
    (sweep,), _ = read(staves)
    assert tones(sweep) == "C D E F G# A B"


def test_a_pedal_mark_at_the_line_rules_the_notes_there() -> None:
    staves = Staves().mark(PEDALS, "F#").note("C4", 0, 2, GLISS_START).note("F3", 0, 2, staff=2)
    assert tones(one(staves.note("C6", 2, 2, GLISS_STOP))) == "C D E F# G A B"


@pytest.mark.parametrize(("kind", "offset"), [(PEDALS, 1), (GLISS, 0)])
def test_a_scale_spelled_in_words_under_the_line_gives_the_tones(
    kind: MarkKind, offset: int
) -> None:
    staves = Staves().note("C4", 0, 2, GLISS_START).note("C6", 2, 2, GLISS_STOP)
    sweep = one(staves.mark(kind, "gliss. C D E♭ F♯ G A♭ B", offset))
    assert tones(sweep) == "C D Eb F# G Ab B"
    assert sweep.from_pedals


def test_without_pedals_the_accidentals_so_far_and_the_end_count() -> None:
    staves = Staves(fifths=1).note("A4", 0, 4).measure()
    staves.note("Bb3", 0, 1, staff=2).note("C#4", 1, 1, GLISS_START)
    staves.note("G#6", 2, 1, GLISS_STOP).note("D#5", 3, 1)
    assert tones(one(staves)) == "C# D E F# G# A Bb"


def test_notes_of_another_measure_are_no_evidence_without_pedal_marks() -> None:
    staves = Staves().note("F#4", 0, 4).measure().note("C4", 0, 2, GLISS_START)
    assert tones(one(staves.note("C6", 2, 2, GLISS_STOP))) == "C D E F G A B"


def test_a_line_between_the_parts_of_the_two_hands_is_one_sweep() -> None:
    harp = (StaffHand("P1", 1, HandName.RIGHT), StaffHand("P2", 1, HandName.LEFT))
    right, left = Staves("P1").note("C6", 2, 2, GLISS_STOP), Staves("P2")
    left.note("C3", 0, 2, GLISS_START)
    (sweep,), _ = sweeps((right.made(), left.made()), (harp,))
    assert ends(sweep) == ("P2/0/n0", "P1/0/n0")


def test_other_instruments_are_not_read() -> None:
    flute = Staves("P2").note("C5", 0, 2, GLISS_START).note("C6", 2, 2, GLISS_STOP)
    assert read(Staves().note("C4", 0), flute) == ((), ())


def test_tones_move_with_the_letters_and_are_never_respelled() -> None:
    sweep = one(across())
    up = transposed(sweep, Interval.parse("M2"))
    assert tones(up) == "C D E F G A Bb"
    assert dict(up.tones)["F"] == 0
    assert transposed(up, Interval.parse("-M2")) == sweep
    assert tones(transposed(sweep, Interval.parse("A1"))) == "C# D# E F# G# A B"


@pytest.mark.parametrize(
    ("setting", "classes"),
    [
        ("D# C B# | Eb F# Gb A", {0, 3, 6, 9}),
        ("D C B# | E Fb G A", {0, 2, 4, 7, 9}),
        ("D C Bb | E F# G# A#", {0, 2, 4, 6, 8, 10}),
        ("Db C# Bb | E Fb G# A#", {1, 4, 8, 10}),
        ("Db C# B | E# F# G Ab", {1, 11, 5, 6, 7, 8}),
    ],
)
def test_pedal_settings_sound_the_sets_that_handbooks_give(
    setting: str, classes: set[int]
) -> None:
    """Diminished, pentatonic, whole-tone, half-diminished (computed)."""
    staves = Staves().mark(PEDALS, setting).note("C4", 0, 2, GLISS_START)
    (sweep,), _ = read(staves.note("C6", 2, 2, GLISS_STOP))
    assert tone_classes(sweep) == classes


def small_harp() -> Harp:
    """C4 to C6, each lever a semitone, tuned in C."""
    names = [pitch_on_line(line) for line in range(28, 43)]
    strings = tuple(
        HarpString(p.step, p.octave, p, Pitch(p.step, p.alter + 1, p.octave)) for p in names
    )
    return Harp("small", "C", strings)


def test_three_octaves_pass_twenty_two_strings_and_those_beyond_are_named() -> None:
    staves = Staves().note("C4", 0, 1, GLISS_START).note("C7", 1, 1, GLISS_STOP)
    score = score_of(staves)
    passed = sweep_strings(one(staves), score, small_harp())
    assert len(passed) == 22
    assert [s.string for s in passed[:15]] == list(range(15))
    assert {s.string for s in passed[15:]} == {BEYOND}
    assert (passed[-1].name, passed[-1].midi) == ("C7", 96)


def test_a_sweep_down_passes_the_strings_downward_and_each_sounds_its_tone() -> None:
    staves = Staves(fifths=2).note("C#5", 0, 1, GLISS_START).note("G4", 1, 1, GLISS_STOP)
    passed = sweep_strings(one(staves), score_of(staves), small_harp())
    assert [str(s.pitch) for s in passed] == ["C#5", "B4", "A4", "G4"]
    assert [s.string for s in passed] == [7, 6, 5, 4]


def test_a_string_is_counted_by_its_letter_not_by_its_sound() -> None:
    """B sharp 3 sounds as C4 but is the B string, below this harp."""
    staves = Staves().note("B#3", 0, 1, GLISS_START).note("Fb4", 1, 1, GLISS_STOP)
    passed = sweep_strings(one(staves), score_of(staves), small_harp())
    assert [s.string for s in passed] == [BEYOND, 0, 1, 2, 3]
    assert [s.midi for s in passed] == [60, 60, 62, 64, 64]
