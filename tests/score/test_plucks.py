from dataclasses import replace
from itertools import pairwise

import pytest
from handmade import HARP, Staves, score_of, sign

from arrange.score.model import EventId, HandName, MarkKind, Score, Sign, StaffHand
from arrange.score.performed import Clock
from arrange.score.plucks import Pluck, PluckKind, locked_until, plucks, strikes
from arrange.units import SECOND, Quarters


def printed(staves: Staves) -> tuple[Pluck, ...]:
    return plucks(score_of(staves), HARP)


def shown(found: tuple[Pluck, ...]) -> list[str]:
    return [f"{p.pitch}@{p.index}:{p.offset} {p.kind.value}" for p in found]


def test_a_tied_group_is_one_pluck_that_lasts_through_its_ties() -> None:
    staves = Staves().note("C4", 3, 1, tied_to=True).measure().note("E4", 0, 1)
    staves.note("C4", 0, 2, tied_from=True, voice="2")
    (first, _) = printed(staves)
    assert first.tied == (EventId("P1", 0, "n0"), EventId("P1", 1, "n1"))
    assert (first.length, first.end_index, first.end_offset) == (Quarters(3), 1, Quarters(2))


def test_a_tie_crosses_to_another_voice_and_staff_but_not_to_another_pitch() -> None:
    staves = Staves().note("C4", 0, 4, tied_to=True, staff=2).measure()
    staves.note("C4", 0, 1, tied_from=True).note("D4", 0, 1, tied_from=True, staff=2)
    found = printed(staves)
    assert shown(found) == ["C4@0:0 plain", "D4@1:0 plain"]
    assert found[0].hand is HandName.LEFT


def test_a_tie_that_nothing_meets_within_the_next_measure_joins_nothing_later() -> None:
    staves = Staves().note("C4", 0, 4, tied_to=True).measure().note("E4", 0, 4).measure()
    staves.note("C4", 0, 4, tied_from=True)
    assert [len(p.tied) for p in printed(staves)] == [1, 1, 1]


def test_a_tie_whose_partner_starts_late_is_still_a_tie() -> None:
    staves = Staves().note("C4", 0, 1, tied_to=True).note("C4", 2, 1, tied_from=True)
    (only,) = printed(staves)
    assert (only.length, only.end_offset) == (Quarters(3), Quarters(3))


def test_an_end_at_a_barline_lies_in_the_measure_that_ends() -> None:
    (only,) = printed(Staves().note("C4", 2, 2).measure())
    assert (only.end_index, only.end_offset) == (0, Quarters(4))


def test_a_tie_that_fills_the_next_measure_ends_in_it() -> None:
    staves = Staves().note("C4", 2, 2, tied_to=True).measure()
    (only,) = printed(staves.note("C4", 0, 4, tied_from=True).measure())
    assert (only.end_index, only.end_offset) == (1, Quarters(4))


def test_equal_pitches_struck_together_are_one_pluck_of_the_longer_length() -> None:
    staves = Staves().note("C#4", 0, 1).note("Db4", 0, 2, staff=2).note("C#4", 2, 1)
    first, second = printed(staves)
    assert first.note == EventId("P1", 0, "n1")
    assert first.doubles == (EventId("P1", 0, "n0"),)
    assert (first.length, first.hand) == (Quarters(2), HandName.LEFT)
    assert second.doubles == ()


def test_a_note_that_is_left_open_later_parts_from_the_one_that_is_not() -> None:
    score = score_of(Staves().note("C4", 0, 1).note("C4", 0, 2, staff=2).note("E4", 2, 1))
    together = plucks(score, HARP)
    apart = plucks(replace(score, left_open=(EventId("P1", 0, "n0"),)), HARP)
    assert [len(p.doubles) for p in together] == [1, 0]
    assert [p.note.key for p in apart] == ["n0", "n1", "n2"]
    assert apart[2] is together[1]
    assert plucks(replace(score), HARP) == together


def test_a_note_that_changes_hands_is_plucked_by_the_other_one() -> None:
    score = score_of(Staves().note("C4", 0, 1).note("E4", 2, 1))
    handed = replace(score, reassigned=((EventId("P1", 0, "n1"), HandName.LEFT),))
    assert [p.hand for p in plucks(score, HARP)] == [HandName.RIGHT, HandName.RIGHT]
    assert [p.hand for p in plucks(handed, HARP)] == [HandName.RIGHT, HandName.LEFT]


def test_a_new_note_beside_a_tied_one_of_the_same_pitch_is_plucked() -> None:
    staves = Staves().note("C4", 0, 2, tied_to=True).note("C4", 2, 2, tied_from=True)
    staves.note("C4", 2, 1, staff=2)
    assert shown(printed(staves)) == ["C4@0:0 plain", "C4@0:2 plain"]


def test_cue_notes_are_silent_and_graces_come_before_their_main_note() -> None:
    staves = Staves().note("E4", 1, 1).note("D4", 1, 0, is_grace=True)
    staves.note("G4", 1, 1, is_cue=True)
    found = printed(staves)
    assert shown(found) == ["D4@0:1 grace", "E4@0:1 plain"]
    assert found[0].length == 0
    assert (found[0].end_index, found[0].end_offset) == (0, Quarters(1))


def test_plucks_come_by_place_then_low_to_high() -> None:
    staves = Staves().note("G5", 1, 1).note("C5", 1, 1, with_last=True).note("E3", 0, 1, staff=2)
    assert shown(printed(staves)) == ["E3@0:0 plain", "C5@0:1 plain", "G5@0:1 plain"]


def test_a_trill_needs_both_strings_from_start_to_end_and_keeps_the_hand_busy() -> None:
    trill = sign(Sign.TRILL)
    found = printed(Staves().note("D5", 0, 4, trill, auxiliaries=("E5",)))
    upper = [p for p in found if p.kind is PluckKind.AUXILIARY]
    assert {str(p.pitch) for p in upper} == {"E5"}
    assert [p.offset for p in upper] == [Quarters(1, 4) + Quarters(i, 2) for i in range(8)]
    gaps = [b.offset - a.offset for a, b in pairwise(found)]
    assert set(gaps) == {Quarters(1, 4)}
    assert all((p.end_index, p.end_offset) == (0, Quarters(4)) for p in found)
    assert all(p.offset + p.length == 4 for p in found)


def test_a_trill_through_a_tie_goes_on_in_the_next_measure() -> None:
    staves = Staves().note("D5", 3, 1, sign(Sign.TRILL), auxiliaries=("Eb5",), tied_to=True)
    staves.measure().note("D5", 0, 1, tied_from=True)
    later = [p for p in printed(staves) if p.index == 1]
    assert {str(p.pitch) for p in later} == {"D5", "Eb5"}
    assert {p.note for p in later} == {EventId("P1", 0, "n0")}


def test_a_turn_takes_its_neighbours_once_and_comes_back() -> None:
    found = printed(Staves().note("D5", 0, 1, sign(Sign.TURN), auxiliaries=("E5", "C5")))
    assert [str(p.pitch) for p in found] == ["D5", "E5", "D5", "C5", "D5"]
    assert found[-1].offset < 1


@pytest.mark.parametrize(
    ("marks", "duration", "last"),
    [("1", 1, "1/2"), ("2", 2, "7/4"), ("3", 4, "31/8"), ("1", "1/2", "1/4"), ("0", 1, "7/8")],
)
def test_a_tremolo_repeats_its_note_to_the_end(marks: str, duration: int, last: str) -> None:
    found = printed(Staves().note("C4", 0, duration, sign(Sign.TREMOLO, "single", text=marks)))
    assert {p.kind for p in found[1:]} == {PluckKind.REPEAT}
    assert found[-1].offset == Quarters(last)
    gaps = [b.offset - a.offset for a, b in pairwise(found)]
    assert max(gaps) <= Quarters(1, 2)


def test_a_tremolo_of_a_chord_repeats_all_of_it() -> None:
    staves = Staves().note("C4", 0, 1, sign(Sign.TREMOLO, "single", text="1"))
    staves.note("E4", 0, 1, with_last=True)
    assert shown(printed(staves))[2:] == ["C4@0:1/2 repeat", "E4@0:1/2 repeat"]


def test_a_tremolo_between_two_chords_sounds_both_through_the_time_of_both() -> None:
    staves = Staves().note("C4", 0, 1, sign(Sign.TREMOLO, "start", text="3"), auxiliaries=("E4",))
    staves.note("E4", 1, 1, sign(Sign.TREMOLO, "stop", text="3"), auxiliaries=("C4",))
    found = printed(staves)
    assert PluckKind.AUXILIARY not in {p.kind for p in found}
    low = [p.offset for p in found if str(p.pitch) == "C4"]
    high = [p.offset for p in found if str(p.pitch) == "E4"]
    assert low == [0, Quarters(1, 2), 1, Quarters(3, 2), Quarters(7, 4)]
    assert high == [Quarters(n, 8) for n in (2, 6, 8, 10, 14, 15)]
    assert {(p.end_index, p.end_offset) for p in found} == {(0, Quarters(2))}


def test_a_measure_repeat_plucks_the_notes_of_the_measure_that_it_stands_for() -> None:
    staves = Staves().note("C4", 1, 1).measure(stands_for=0).measure(stands_for=1)
    found = printed(staves)
    assert shown(found) == ["C4@0:1 plain", "C4@1:1 plain", "C4@2:1 plain"]
    assert {p.note for p in found} == {EventId("P1", 0, "n0")}
    assert [p.end_index for p in found] == [0, 1, 2]


def test_a_note_given_to_the_other_hand_keeps_its_staff() -> None:
    given = ((EventId("P1", 0, "n0"), HandName.LEFT),)
    (only,) = plucks(score_of(Staves().note("C4", 0), reassigned=given), HARP)
    assert (only.staff, only.hand) == (1, HandName.LEFT)


def test_two_parts_are_one_harp_and_share_their_strings() -> None:
    harp = (StaffHand("P1", 1, HandName.RIGHT), StaffHand("P2", 1, HandName.LEFT))
    score = score_of(Staves("P1").note("C4", 0, 1), Staves("P2").note("C4", 0, 2), harp=harp)
    (only,) = plucks(score, harp)
    assert (only.part, only.doubles) == ("P2", (EventId("P1", 0, "n0"),))


def test_triplets_and_sevenths_keep_exact_places() -> None:
    staves = Staves().note("C4", "1/3", "1/3").note("D4", "4/7", "3/7", tied_to=True)
    staves.note("D4", 1, "1/5", tied_from=True)
    first, second = printed(staves)
    assert (first.offset, first.end_offset) == (Quarters(1, 3), Quarters(2, 3))
    assert (second.length, second.end_offset) == (Quarters(22, 35), Quarters(6, 5))


@pytest.mark.parametrize("how", ["sign", "words"])
def test_a_note_marked_to_be_damped_is_locked_until_its_written_end(how: str) -> None:
    staves = Staves().note("C4", 0, 1, *([sign(Sign.DAMP)] if how == "sign" else []))
    if how == "words":
        staves.mark(MarkKind.DAMP, "étouffez")
    staves.note("C3", 0, 1, staff=2)
    low, high = printed(staves)
    strike = strikes((low, high), Clock(score_of(staves)))[1]
    assert (high.is_damped, low.is_damped) == (True, False)
    assert locked_until(strike, high, 3 * SECOND) == SECOND


@pytest.mark.parametrize(("length", "until"), [(1, 2), (3, 3), (8, 4)])
def test_a_string_is_locked_to_its_written_end_within_one_and_two_locks(
    length: int, until: int
) -> None:
    staves = Staves().note("C4", 0, length).measure().measure()
    score = score_of(staves)
    found = plucks(score, HARP)
    (strike,) = strikes(found, Clock(score))
    assert locked_until(strike, found[0], 2 * SECOND) == until * SECOND


def seconds_of(score: Score) -> list[tuple[int, float, float]]:
    found = strikes(plucks(score, HARP), Clock(score))
    return [(s.pass_index, s.time / SECOND, s.end / SECOND) for s in found]


def test_every_pass_through_a_repeat_is_a_strike_of_its_own() -> None:
    staves = Staves().note("C4", 1, 1).measure().note("D4", 0, 4)
    assert seconds_of(score_of(staves, performed=(0, 1, 0, 1))) == [
        (0, 1, 2), (1, 4, 8), (2, 9, 10), (3, 12, 16),
    ]  # fmt: skip


def test_a_tie_that_the_order_of_play_does_not_follow_ends_at_the_jump() -> None:
    staves = Staves().note("C4", 0, 4, tied_to=True).measure().note("C4", 0, 2, tied_from=True)
    assert seconds_of(score_of(staves, performed=(0, 0, 1))) == [(0, 0, 4), (1, 4, 10)]


def test_a_tie_over_the_last_performed_measure_ends_with_it() -> None:
    staves = Staves().note("C4", 0, 4, tied_to=True).measure().note("C4", 0, 2, tied_from=True)
    assert seconds_of(score_of(staves, performed=(0,))) == [(0, 0, 4)]


def test_a_tremolo_on_a_tied_note_begins_there_with_the_hand_of_its_staff() -> None:
    staves = Staves().note("C4", 0, 2, tied_to=True)
    again = sign(Sign.TREMOLO, "single", text="1")
    staves.note("C4", 2, 1, again, tied_from=True, staff=2)
    found = printed(staves)
    assert shown(found) == ["C4@0:0 plain", "C4@0:5/2 repeat"]
    assert [p.hand for p in found] == [HandName.RIGHT, HandName.LEFT]
