"""The form: strains, the order of play, what differs in a return."""

from lessons import lesson_of, piece_in_short, short_lesson

from arrange.teach.form import Form, form
from arrange.teach.setting import key_of
from arrange.teach.words import DASH

TUNE = "C5q D5q E5q F5q | G5q F5q E5q D5q | E5q G5q C6q G5q | F5q D5q B4q G4q"
OTHER = "A4q A4q B4q C5q | D5q B4q A4q G4q | A4h B4h | A4q F4q E4q D4q"

FAR = " | ".join(f"{a}5q {b}5q {a}5h" for a, b in ("CA", "GB", "FC", "ED", "AE", "BF", "DG", "CB"))


def named(found: Form) -> list[tuple[str, str]]:
    return [(section.name, section.where.removeprefix("m. ")) for section in found.sections]


def test_a_minuet_with_trio_has_four_strains_and_goes_back() -> None:
    found = lesson_of("minuet-da-capo").form
    dash = "\N{EN DASH}"
    assert named(found) == [
        ("A", f"1{dash}8"),
        ("B", f"9{dash}16"),
        ("C", f"17{dash}24"),
        ("D", f"25{dash}32"),
    ]
    assert "".join(found.order) == "AABBCCDDAB"
    assert found.jumps == (
        "Fine at the end of m. 16",
        "D.C. at the end of m. 32: back to the beginning",
    )


def test_an_upbeat_and_both_endings_belong_to_their_strain() -> None:
    found = lesson_of("march-tin-lanterns").form
    assert [(s.name, s.strain.first, s.strain.last) for s in found.sections] == [
        ("A", 0, 9),
        ("B", 10, 17),
        ("Lead-in", 18, 19),
        ("C", 20, 35),
    ]
    assert found.order == ("A", "A", "B", "Lead-in", "C", "C", "A", "B")
    assert "m. 8 the 1st time, m. 9 the 2nd time" in found.jumps


def test_a_return_without_any_sign_is_heard_where_the_melody_comes_back() -> None:
    found = lesson_of("nocturne-d-flat").form
    last = found.sections[-1]
    assert (last.name[0], last.of, last.strain.first) == ("A", "A", 26)
    assert last.differences[0].startswith("It begins as A does (m. 27")


def test_variations_are_known_by_their_harmony() -> None:
    sections = lesson_of("air-variations-c-flat").form.sections
    assert [section.name[0] for section in sections] == list("AAABA")
    assert sections[1].differences[0].startswith("A variation: the same harmony")
    assert "The melody is otherwise in m. 63, 64." in sections[-1].differences


def test_what_is_the_same_note_for_note_keeps_its_name() -> None:
    found = form(piece_in_short(f"key=0 tempo=90 | {TUNE} | {OTHER} | {TUNE}"))
    assert [(s.name, s.strain.first) for s in found.sections] == [("A", 0), ("B", 4), ("A", 8)]
    assert found.sections[-1].differences == ()


def test_a_new_ending_is_told_from_where_it_begins() -> None:
    twice = f"{TUNE} | {OTHER}"
    changed = twice.replace("A4h B4h | A4q F4q E4q D4q", "E5h D5h | C5w")
    found = form(piece_in_short(f"key=0 tempo=90 | {twice} | {FAR} | {changed}"))
    last = found.sections[-1]
    assert (last.name, last.of, last.strain.first) == ("A\N{PRIME}", "A", 16)
    assert last.differences[0] == "A new ending from m. 23 on."
    assert last.differences[-1] == "It is eight measures shorter."


def test_an_upbeat_makes_a_strain_no_longer() -> None:
    made = lesson_of("chorale-evening-bell")
    first, second = made.form.sections
    assert (first.where, second.where) == (f"m. 1{DASH}8 with upbeat", f"m. 9{DASH}16")
    assert not any("shorter" in text for text in second.differences)
    assert "eight measures more to play" in made.repeats[0].text


def test_a_figure_that_only_goes_on_is_no_return() -> None:
    same = " | ".join(["C5q E5q G5q E5q"] * 12)
    assert [s.name for s in form(piece_in_short(f"key=0 tempo=90 | {same}")).sections] == ["A"]


def test_the_key_has_its_relative_and_the_last_chord_tells_minor_from_major() -> None:
    ending = "RH: A4+C5+E5w\nLH: A2w"
    key = key_of(piece_in_short(f"key=0 tempo=60\n{ending}"))
    assert key is not None
    assert (key.name, key.relative, key.tonic) == ("A minor", "C major", 9)
    trio = lesson_of("minuet-da-capo").key
    assert trio is not None
    assert (trio.name, trio.relative, trio.later) == (
        "C major",
        "A minor",
        ("F major from m. 17",),
    )


def test_a_strain_that_closes_on_the_tonic_may_be_played_again() -> None:
    ideas = lesson_of("nocturne-d-flat").repeats
    assert len(ideas) == 1
    assert "first set back" in ideas[0].text
    assert not short_lesson(f"key=0 tempo=90 | {TUNE}").repeats
