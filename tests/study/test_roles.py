"""What each note is, on music short enough to judge by ear."""

import notation as short
import pytest

from arrange.score.model import Note, Score
from arrange.study.prices import PriceList
from arrange.study.roles import NoteRole, Role, in_doubt, omission_price, roles


def _heard(text: str, melody: tuple[tuple[int, str], ...] = ()) -> dict[str, list[NoteRole]]:
    """Roles by pitch, in order."""
    score = short.read(text).score()
    named = roles(score, melody)
    found: dict[str, list[NoteRole]] = {}
    for note in _notes(score):
        found.setdefault(str(note.pitch), []).append(named[note.id])
    return found


def _notes(score: Score) -> list[Note]:
    return [note for part in score.parts for m in part.measures for note in m.notes]


def _names(text: str) -> dict[str, set[Role]]:
    return {pitch: {r.role for r in row} for pitch, row in _heard(text).items()}


def test_the_top_of_the_right_hand_is_melody_and_the_lowest_of_the_left_is_bass() -> None:
    names = _names("RH: E4+G4+C5h D4+G4+B4h\nLH: C3+G3h G2+F3h")
    assert names["C5"] == names["B4"] == {Role.MELODY}
    assert names["C3"] == names["G2"] == {Role.BASS}
    assert names["E4"] == names["F3"] == {Role.INNER}


def test_octaves_of_melody_and_bass_are_doublings() -> None:
    names = _names("RH: C5+C6w\nLH: C2+C3w")
    assert names["C6"] == {Role.MELODY}
    assert names["C2"] == {Role.BASS}
    assert names["C5"] == names["C3"] == {Role.DOUBLING}


def test_every_note_has_a_role_and_tied_notes_share_one() -> None:
    score = short.read("RH: E4+C5h~ E4+C5h | D4+B4w\nLH: C3w~ | C3h G2h").score()
    named = roles(score)
    assert set(named) == set(score.notes_by_id)
    low = [n for n in _notes(score) if str(n.pitch) == "C3"]
    assert named[low[0].id] is named[low[1].id]


def test_a_lower_voice_is_not_melody_even_where_it_moves_alone() -> None:
    names = _names("RH: C5h D5h\nRH2: E4q F4q G4q F4q\nLH: C3w")
    assert names["C5"] == names["D5"] == {Role.MELODY}
    assert names["E4"] == names["F4"] == {Role.INNER}
    assert Role.MELODY not in names["G4"]


def test_notes_under_a_held_one_are_not_melody() -> None:
    names = _names("RH: G5w\nRH2: rq C5q D5q E5q\nLH: C3w")
    assert names["G5"] == {Role.MELODY}
    assert Role.MELODY not in names["C5"] | names["D5"] | names["E5"]


def test_in_broken_chords_the_top_line_is_not_the_melody() -> None:
    names = _names(
        "RH: rs G4s C5s E5s G4s C5s E5s G4s rs A4s D5s F5s A4s D5s F5s A4s\nLH: C4h D4h"
    )
    assert Role.MELODY not in names["E5"] | names["F5"] | names["C5"]
    assert names["C4"] == names["D4"] == {Role.BASS}


def test_a_figure_that_falls_from_a_top_on_the_beat_sings_that_top() -> None:
    named = _heard("RH: G5s E5s C5s G4s A5s F5s C5s A4s G5s E5s C5s G4s G5s D5s B4s G4s\nLH: C3w")
    assert named["A5"][0].role is Role.MELODY
    assert {r.role for r in named["E5"]} <= {Role.INNER, Role.DOUBLING}


def test_a_scale_is_a_melody_though_it_is_even_and_fast() -> None:
    names = _names("RH: C5s D5s E5s F5s G5s A5s B5s C6s C6s B5s A5s G5s F5s E5s D5s C5s\nLH: C3w")
    assert set().union(*(roles for pitch, roles in names.items() if pitch != "C3")) == {
        Role.MELODY
    }


def test_a_melody_above_a_figure_of_the_same_hand_is_found_in_its_own_voice() -> None:
    names = _names("RH: G5h E5h\nRH2: C5e E5e G4e C5e G4e C5e E4e G4e\nLH: C3w")
    assert names["G5"] == {Role.MELODY}
    assert Role.MELODY not in names["C5"]


def test_a_walking_bass_is_bass_between_the_strong_beats_too() -> None:
    names = _names("RH: E5w\nLH: C3q D3q E3q F3q")
    assert all(names[p] == {Role.BASS} for p in ("C3", "D3", "E3", "F3"))


def test_chords_after_a_low_bass_note_are_not_bass() -> None:
    names = _names("key=0 time=3/4\nRH: E5h.\nLH: C2q E3+G3q E3+G3q")
    assert names["C2"] == {Role.BASS}
    assert Role.BASS not in names["E3"] | names["G3"]


def test_the_left_hand_alone_has_the_melody_where_it_moves_by_step() -> None:
    names = _names("RH: rw\nLH: C3q D3q E3q D3q")
    assert set().union(*names.values()) == {Role.MELODY}


def test_the_user_overrules_where_the_melody_is() -> None:
    text = "RH: G4q B4q D5q B4q\nLH: G3h A3h"
    named = _heard(text, melody=((2, ""),))
    assert {r.role for r in named["G3"] + named["A3"]} == {Role.MELODY}
    assert Role.MELODY not in {r.role for r in named["D5"]}
    only = _heard("RH: G5h A5h\nRH2: E5q D5q C5q D5q\nLH: C3w", melody=((1, "2"),))
    assert {r.role for r in only["E5"] + only["C5"]} == {Role.MELODY}
    assert only["G5"][0].role is not Role.MELODY


def test_degrees_are_those_of_the_chord_on_the_beat() -> None:
    named = _heard("RH: B4+D5+F5w\nLH: G2w")
    found = {pitch: row[0].degree for pitch, row in named.items()}
    assert found == {"G2": "root", "B4": "third", "D5": "fifth", "F5": "seventh"}


def test_a_passing_note_is_foreign_off_the_beat_and_between_steps() -> None:
    named = _heard("RH: C5w\nRH2: E4q F4q G4h\nLH: C3+G3w")
    assert named["F4"][0].is_passing
    assert not named["E4"][0].is_passing
    assert not named["G4"][0].is_passing


def test_third_and_leading_note_of_a_cadence_are_never_left_out() -> None:
    named = _heard("RH: F4+G4+D5h F4+B4+D5h | G4+C5w\nLH: G2w | C3+E3w")
    leading, third = named["B4"][0], named["E3"][0]
    assert leading.is_cadential
    assert third.is_cadential
    assert omission_price(leading, PriceList()) is None
    assert omission_price(third, PriceList()) is None


@pytest.mark.parametrize(
    ("text", "is_kept"),
    [
        ("RH: G4+B4+D5+E5h E4+G#4+E5h | A4+C5+F5w\nLH: E3h E2h | F2w", True),
        ("RH: F4+G4+D5h F4+B4+D5h | E4+A4+C5w\nLH: G2w | A2w", True),
        ("RH: F4+A4+C5h F4+A4+C5h | G4+B4+D5w\nLH: F2w | G2w", False),
    ],
)
def test_a_leading_note_stays_where_the_cadence_deceives(text: str, *, is_kept: bool) -> None:
    named = _heard(text)
    third = next(named[name][-1] for name in ("G#4", "B4", "A4") if name in named)
    assert third.is_cadential is is_kept


def test_what_may_be_left_out_has_the_price_of_its_place() -> None:
    prices = PriceList()
    named = _heard("RH: E4+G4+C5h E4+A4+C5h\nLH: C3+C4h A2h")
    assert omission_price(named["C5"][0], prices) is None
    assert omission_price(named["C3"][0], prices) is None
    assert omission_price(named["C4"][0], prices) == prices.doubling
    assert omission_price(named["E4"][0], prices) == prices.third


def test_broken_chords_without_a_melody_are_named_for_the_user_to_decide() -> None:
    score = short.read(
        "RH: C5w | rs G4s C5s E5s G4s C5s E5s G4s rs A4s D5s F5s A4s D5s F5s A4s | D5w\n"
        "LH: C3w | C3h D3h | G2w"
    ).score()
    assert [(a.number, b.number) for a, b in in_doubt(score, score.harps[0])] == [("2", "2")]


def test_the_ends_of_a_glissando_are_never_left_out() -> None:
    named = _heard("RH: C4+C5q(gliss) E5+C6q(gliss-end) G5h\nLH: C3w")
    plain = _heard("RH: C4+C5q E5+C6q G5h\nLH: C3w")
    ends = [r for row in named.values() for r in row if r.is_swept]
    assert len(ends) >= 2
    assert all(omission_price(role, PriceList()) is None for role in ends)
    assert plain["C4"][0].role is Role.DOUBLING
    assert named["C4"][0].role is not Role.DOUBLING
