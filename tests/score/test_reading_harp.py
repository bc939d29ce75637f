"""Which part is the harp's, and which hand reads which staff."""

import pytest
from tiny_scores import START, TEMPO, TWO_STAVES, document, listed, n, part, rest, said, texts

from arrange.errors import BadInput
from arrange.score.model import HandName, Score
from arrange.score.reading import Reading

LOW = "<staff>2</staff>"
GRAND = START + TEMPO + TWO_STAVES + n("C4") + n("C3", 4, LOW)
SINGLE = START + TEMPO + n("C4")
SILENT = START + TEMPO + TWO_STAVES + rest(16, whole=True)


def read(*parts: tuple[str, str], choose: tuple[str, ...] = (), inside: str = "") -> Score:
    """Parts as (name, content), with ids P1, P2 and so on."""
    entries = "".join(listed(name, f"P{i + 1}", inside) for i, (name, _) in enumerate(parts))
    music = "".join(part(content, name=f"P{i + 1}") for i, (_, content) in enumerate(parts))
    return Reading(document(music, entries), parts=choose).score()


def instrument(name: str, inside: str = "") -> str:
    return (
        f"<score-instrument id='{name}'><instrument-name>{name}</instrument-name>{inside}"
        "</score-instrument>"
    )


def hands(found: Score) -> str:
    return " / ".join(
        " ".join(f"{h.part}.{h.staff}{h.hand.value[0].upper()}" for h in harp)
        for harp in found.harps
    )


@pytest.mark.parametrize(
    "name", ["Harp", "Harps", "Harpe", "Arpa", "Harfe", "Arpa I", "Hp.", "Hrp.", "Piano (or Harp)"]
)
def test_a_harp_is_known_by_its_name(name: str) -> None:
    found = read(("Piano", GRAND), (name, GRAND), ("Harpsichord", GRAND))
    assert hands(found) == "P2.1R P2.2L"


@pytest.mark.parametrize("name", ["Harpsichord", "Mouth harp", "Jew's harp"])
def test_what_only_sounds_like_one_is_none(name: str) -> None:
    assert hands(read((name, SINGLE), ("Piano", GRAND))) == "P2.1R P2.2L"


@pytest.mark.parametrize(
    "inside",
    [
        instrument("x", "<instrument-sound>pluck.harp</instrument-sound>"),
        "<midi-instrument id='I1'><midi-program>47</midi-program></midi-instrument>",
        instrument("Concert Harp"),
    ],
)
def test_a_harp_is_known_by_its_sound_where_the_name_is_none(inside: str) -> None:
    assert hands(read(("Part", SINGLE), inside=inside)) == "P1.1R"


def test_a_keyboard_part_takes_the_place_of_a_harp_and_that_is_noted() -> None:
    found = read(("Voice", SINGLE), ("Klavier", GRAND))
    assert hands(found) == "P2.1R P2.2L"
    assert any("Klavier" in text for text in texts(found))
    assert hands(read(("", GRAND))) == "P1.1R P1.2L"


def test_without_harp_or_keyboard_the_error_lists_the_parts() -> None:
    with pytest.raises(BadInput, match=r"--part: P1 \(Flute\), P2 \(Oboe\)"):
        read(("Flute", SINGLE), ("Oboe", SINGLE))


@pytest.mark.parametrize("choice", ["P2", "Oboe", "oboe"])
def test_the_user_chooses_by_id_or_name(choice: str) -> None:
    assert hands(read(("Harp", GRAND), ("Oboe", SINGLE), choose=(choice,))) == "P2.1R"


def test_a_choice_that_is_not_there_is_an_error() -> None:
    with pytest.raises(BadInput, match="no part is called 'Viol'"):
        read(("Harp", GRAND), choose=("Viol",))


@pytest.mark.parametrize(
    ("names", "found"),
    [
        (("Harp RH", "Harp LH"), "P1.1R P2.1L"),
        (("Harp (left hand)", "Harp (right hand)"), "P1.1L P2.1R"),
        (("Harp", "Harp"), "P1.1R P2.1L"),
        (("Harp 1", "Harp 2"), "P1.1R / P2.1R"),
        (("Piano m.d.", "Piano m.g."), "P1.1R P2.1L"),
    ],
)
def test_hands_in_parts_of_their_own_are_one_harp_numbers_are_two(
    names: tuple[str, str], found: str
) -> None:
    assert hands(read((names[0], SINGLE), (names[1], SINGLE))) == found


def test_two_harps_have_their_staves_each() -> None:
    assert hands(read(("Harp I", GRAND), ("Harp II", GRAND))) == "P1.1R P1.2L / P2.1R P2.2L"


def test_of_three_staves_the_clefs_tell_the_hands() -> None:
    clefs = "".join(
        f"<clef number='{i}'><sign>{sign}</sign><line>2</line></clef>"
        for i, sign in ((1, "G"), (2, "F"), (3, "F"))
    )
    three = START + TEMPO + f"<attributes><staves>3</staves>{clefs}</attributes>" + n("C4")
    found = read(("Harp", three))
    assert [h.hand for h in found.harps[0]] == [HandName.RIGHT, HandName.LEFT, HandName.LEFT]
    assert hands(read(("Harp", three.replace(">F<", ">G<", 1)))) == "P1.1R P1.2R P1.3L"


def test_a_harp_of_rests_gives_way_to_one_that_plays() -> None:
    assert hands(read(("Harp 1", SILENT), ("Harp 2", GRAND))) == "P2.1R P2.2L"
    assert hands(read(("Harp", SILENT), ("Piano", GRAND))) == "P2.1R P2.2L"
    assert hands(read(("Harp", SILENT), ("Flute", SINGLE))) == "P1.1R P1.2L"


def test_a_listed_harp_without_music_is_noted() -> None:
    entries = listed("Harp", "P1") + listed("Piano", "P2")
    found = Reading(document(part(GRAND, name="P2"), entries)).score()
    assert hands(found) == "P2.1R P2.2L"
    assert any("no such part" in text for text in texts(found))


def test_a_piano_that_turns_into_a_harp_is_taken_whole_and_noted() -> None:
    found = read(("Piano", GRAND), inside=instrument("Piano") + instrument("Harp"))
    assert hands(found) == "P1.1R P1.2L"
    assert any("some places only" in text for text in texts(found))


def test_words_that_call_for_a_harp_in_a_piano_part_are_noted() -> None:
    found = read(("Piano", GRAND + said("to Harp")))
    assert any("ask for a harp" in text for text in texts(found))


def test_words_are_judged_as_the_harps_only_in_its_part() -> None:
    words = (
        "<direction placement='below'><direction-type><words>F#</words></direction-type>"
        "</direction>"
    )
    found = read(("Harp", words + GRAND), ("Flute", words + SINGLE))
    kinds = [p.measures[0].marks[0].kind.value for p in found.parts]
    assert kinds == ["pedal-words", "words"]
