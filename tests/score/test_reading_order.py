"""The order of play: repeats, endings and leaps, in signs, in words, or in sounds alone."""

import pytest
from tiny_scores import (
    BACKWARD,
    FORWARD,
    START,
    TEMPO,
    back,
    bar,
    document,
    ending,
    listed,
    n,
    part,
    said,
    score,
    sign,
    texts,
)

from arrange.score.model import Score
from arrange.score.plucks import plucks
from arrange.score.reading import Reading


def piece(count: int, **signs: str) -> Score:
    """Measures 1 to *count*; ``m3`` is what stands in the third behind its note."""
    return score(
        *(
            signs.get(f"b{i}", "") + n("C4", 16) + signs.get(f"m{i}", "")
            for i in range(1, count + 1)
        )
    )


def order(found: Score) -> str:
    return " ".join(str(index + 1) for index in found.performed)


ONE_LEFT, ONE_RIGHT = ending("1")
TWO_LEFT, TWO_RIGHT = ending("2", repeats=False)


def sound(attribute: str) -> str:
    return f"<sound {attribute}/>"


@pytest.mark.parametrize(
    ("signs", "played"),
    [
        ({"m2": BACKWARD}, "1 2 1 2 3 4"),
        ({"b2": FORWARD, "m3": BACKWARD}, "1 2 3 2 3 4"),
        ({"m1": BACKWARD, "m3": BACKWARD}, "1 1 2 3 2 3 4"),
        ({"m2": bar("<repeat direction='backward' times='3'/>")}, "1 2 1 2 1 2 3 4"),
        (
            {"b1": FORWARD, "b2": FORWARD, "m3": BACKWARD, "m4": BACKWARD},
            "1 2 3 2 3 4 4",
        ),
        ({"b3": bar("<repeat direction='backward'/>", "left")}, "1 2 1 2 3 4"),
        ({"m1": bar("<repeat direction='forward'/>"), "m3": BACKWARD}, "1 2 3 2 3 4"),
        ({"b2": ONE_LEFT, "m2": ONE_RIGHT, "b3": TWO_LEFT, "m3": TWO_RIGHT}, "1 2 1 3 4"),
        ({"b2": ONE_LEFT, "m2": ONE_RIGHT}, "1 2 1 3 4"),
    ],
)
def test_repeats_and_endings_are_played(signs: dict[str, str], played: str) -> None:
    assert order(piece(4, **signs)) == played


def test_an_ending_may_serve_several_passes() -> None:
    left, right = ending("1, 2.")
    last, end = ending("3", repeats=False)
    found = piece(4, b1=FORWARD, b2=left, m2=right, b3=last, m3=end)
    assert order(found) == "1 2 1 2 1 3 4"
    assert [m.structure.endings for m in found.parts[0].measures] == [(), (1, 2), (3,), ()]


def test_an_ending_may_be_longer_than_a_measure() -> None:
    found = piece(
        6,
        b2=bar("<ending number='1' type='start'/>", "left"),
        m3=bar("<ending number='1' type='stop'/><repeat direction='backward'/>"),
        b4=bar("<ending number='2' type='start'/>", "left"),
        m5=bar("<ending number='2' type='discontinue'/>"),
    )
    assert order(found) == "1 2 3 1 4 5 6"


def test_a_bracket_drawn_short_reaches_to_its_repeat() -> None:
    short = bar("<ending number='1' type='stop'/>")
    found = piece(5, b2=ONE_LEFT, m2=short, m3=BACKWARD, b4=TWO_LEFT, m4=TWO_RIGHT)
    assert order(found) == "1 2 3 1 4 5"


@pytest.mark.parametrize("place", ["m3", "m4"])
def test_a_leap_waits_for_the_repeat_that_closes_behind_it(place: str) -> None:
    found = piece(5, b3=FORWARD, m5=BACKWARD, m2=FINE, **{place: said("D.C. al Fine")})
    rest = "3 4 5 3" if place == "m3" else "3 4 5 3 4 5"
    assert order(found) == f"1 2 {rest} 1 2"


def test_two_repeats_with_endings_follow_each_other() -> None:
    found = piece(
        6,
        b2=ONE_LEFT, m2=ONE_RIGHT, b3=TWO_LEFT, m3=TWO_RIGHT,
        b5=ONE_LEFT, m5=ONE_RIGHT, b6=TWO_LEFT, m6=TWO_RIGHT,
    )  # fmt: skip
    assert order(found) == "1 2 1 3 4 5 4 6"


def test_an_ending_that_lacks_its_repeat_sign_is_repeated_and_noted() -> None:
    plain = bar("<ending number='1' type='stop'/>")
    found = piece(4, b2=ONE_LEFT, m2=plain, b3=TWO_LEFT, m3=TWO_RIGHT)
    assert order(found) == "1 2 1 3 4"
    assert any("no repeat sign" in text for text in texts(found))


def test_a_repeat_that_is_never_closed_is_noted() -> None:
    found = piece(4, b1=FORWARD, b2=FORWARD, m3=BACKWARD)
    assert order(found) == "1 2 3 2 3 4"
    assert any("never closed" in text for text in texts(found))


FINE = said("Fine")


@pytest.mark.parametrize("leap", ["D.C. al Fine", "Da Capo al Fine", "D. C.", "DC al Fine"])
def test_a_da_capo_goes_back_and_ends_at_the_fine(leap: str) -> None:
    assert order(piece(4, m2=FINE, m4=said(leap))) == "1 2 3 4 1 2"


@pytest.mark.parametrize(
    "row", ["D C B | E F G A", "D.C.B. E.F.G.A.", "D C# Bb", "D S", "Finezza"]
)
def test_a_row_of_pedals_is_no_da_capo(row: str) -> None:
    assert order(piece(3, m2=said(row))) == "1 2 3"


def test_leaps_that_only_sound_says_are_taken_once() -> None:
    found = piece(4, m2=sign("<words/>", sound("fine='yes'")), m4=sound("dacapo='yes'"))
    assert order(found) == "1 2 3 4 1 2"
    both = piece(4, m2=FINE, m4=said("D.C. al Fine", sound=sound("dacapo='yes'")))
    assert order(both) == "1 2 3 4 1 2"


def test_after_a_leap_repeats_are_not_taken_again_and_the_last_ending_is() -> None:
    found = piece(
        5, b2=ONE_LEFT, m2=ONE_RIGHT, b3=TWO_LEFT, m3=TWO_RIGHT, m4=FINE, m5=said("D.C. al Fine")
    )
    assert order(found) == "1 2 1 3 4 5 1 3 4"


@pytest.mark.parametrize(
    "mark", [sign("<segno/>"), said("Segno"), said("𝄋"), sound("segno='s'"), said("\ue047")]
)
def test_a_dal_segno_finds_a_sign_in_any_form(mark: str) -> None:
    assert order(piece(4, b2=mark, m3=FINE, m4=said("D.S. al Fine"))) == "1 2 3 4 2 3"


def test_a_dal_segno_goes_to_the_sign_that_it_names() -> None:
    found = piece(
        4, b1=sound("segno='first'"), b2=sound("segno='second'"), m4=sound("dalsegno='first'")
    )
    assert order(found) == "1 2 3 4 1 2 3 4"


def test_a_dal_segno_without_a_sign_is_noted_and_left_out() -> None:
    found = piece(3, m2=said("D.S."))
    assert order(found) == "1 2 3"
    assert any("no sign" in text for text in texts(found))


@pytest.mark.parametrize(
    ("leave", "arrive"),
    [
        (said("To Coda"), said("Coda")),
        (said("To Coda"), sign("<coda/>")),
        (sign("<coda/>"), sign("<coda/>")),
        (said("To 𝄌"), said("𝄌 Coda")),
        (said("al Coda"), sign("<coda/>", sound("coda='c'"))),
        (sign("<coda/>", sound("tocoda='c'")), sign("<coda/>", sound("coda='c'"))),
        (sound("tocoda='c'"), sound("coda='c'")),
    ],
)
def test_the_coda_is_reached_after_the_leap_only(leave: str, arrive: str) -> None:
    found = piece(5, m2=leave, m4=said("D.C. al Coda"), b5=arrive)
    assert order(found) == "1 2 3 4 1 2 5"


def test_a_leap_that_names_its_end_passes_by_the_other() -> None:
    found = piece(6, m1=FINE, m2=said("To Coda"), m4=said("D.C. al Coda"), b5=said("Coda"))
    assert order(found) == "1 2 3 4 1 2 5 6"


def test_a_coda_that_is_not_found_is_noted() -> None:
    found = piece(4, m2=said("To Coda"), m4=said("D.C. al Coda"))
    assert order(found) == "1 2 3 4 1 2 3 4"
    assert any("Coda is not found" in text for text in texts(found))


def test_music_that_is_new_after_the_leap_has_its_repeats() -> None:
    found = piece(
        6, m2=said("To Coda"), m4=said("D.C. al Coda"), b5=said("Coda") + FORWARD, m6=BACKWARD
    )
    assert order(found) == "1 2 3 4 1 2 5 6 5 6"


def test_signs_on_one_part_count_for_all() -> None:
    parts = part(START + TEMPO + n("C4"), n("D4")) + part(
        START + n("C4") + BACKWARD, n("D4"), name="P2"
    )
    found = Reading(document(parts, listed("Harp") + listed("Flute", "P2"))).score()
    assert found.performed == (0, 0, 1)
    assert found.parts[0].measures[0].structure.backward


def test_repeats_without_end_are_cut_short_and_noted() -> None:
    found = piece(2, m2=bar("<repeat direction='backward' times='99999'/>"))
    assert len(found.performed) < 200
    assert any("never end" in text for text in texts(found))


def test_measures_that_are_never_played_are_noted() -> None:
    three, _ = ending("5", repeats=False)
    found = piece(
        4, b2=ONE_LEFT, m2=ONE_RIGHT, b3=three, m3=bar("<ending number='5' type='stop'/>")
    )
    assert any("never played: 3" in text for text in texts(found))


def style(inside: str) -> str:
    return f"<attributes><measure-style>{inside}</measure-style></attributes>"


def test_a_measure_repeat_stands_for_the_measures_before_it() -> None:
    start = style("<measure-repeat type='start' slashes='1'>1</measure-repeat>")
    stop = style("<measure-repeat type='stop'/>")
    found = score(n("C4", 16), start, "", stop + n("D4", 16)).parts[0].measures
    assert [m.stands_for for m in found] == [-1, 0, 0, -1]
    assert [str(m.length) for m in found] == ["4", "4", "4", "4"]


def test_a_repeat_of_two_measures_goes_on_in_pairs() -> None:
    start = style("<measure-repeat type='start' slashes='2'>2</measure-repeat>")
    found = score(n("C4", 16), n("D4", 16), start, "", "", "").parts[0].measures
    assert [m.stands_for for m in found] == [-1, -1, 0, 1, 0, 1]


def test_a_measure_repeat_on_one_staff_leaves_the_other() -> None:
    two = "<attributes><staves>2</staves></attributes>"
    low = "<staff>2</staff>"
    start = "<attributes><measure-style number='2'>"
    start += "<measure-repeat type='start'>1</measure-repeat></measure-style></attributes>"
    stop = start.replace("'start'>1<", "'stop'><")
    whole = score(
        two + n("C4", 16) + back(16) + n("C3", 16, low),
        start + n("E4", 16),
        n("F4", 16),
        stop + n("G4", 16),
    )
    struck = plucks(whole, whole.harps[0])
    assert sorted((p.index, str(p.pitch)) for p in struck) == [
        (0, "C3"), (0, "C4"), (1, "C3"), (1, "E4"), (2, "C3"), (2, "F4"), (3, "G4"),
    ]  # fmt: skip
    repeats = [(m.stands_for, m.repeated_staves) for m in whole.parts[0].measures]
    assert repeats == [(-1, ()), (0, (2,)), (0, (2,)), (-1, ())]


def test_a_measure_repeat_that_cannot_be_read_is_noted() -> None:
    start = style("<measure-repeat type='start'>1</measure-repeat>")
    found = score(start, n("C4", 16))
    assert found.parts[0].measures[0].stands_for == -1
    assert any("no measure before" in text for text in texts(found))
    slashes = score(style("<slash type='start'/>") + n("C4", 16))
    assert any("Slashes" in text for text in texts(slashes))
