"""When notes sound: exact, whatever the file does with divisions, voices and backups."""

import pytest
from tiny_scores import (
    START,
    TEMPO,
    TWO_STAVES,
    back,
    chord,
    document,
    listed,
    measure,
    n,
    part,
    played,
    rest,
    said,
    score,
    texts,
)

from arrange.errors import BadInput
from arrange.score.reading import Reading
from arrange.units import Quarters


def divisions(count: int | str) -> str:
    return f"<attributes><divisions>{count}</divisions></attributes>"


def triplet(kind: str = "eighth") -> str:
    return (
        f"<type>{kind}</type><time-modification><actual-notes>3</actual-notes>"
        "<normal-notes>2</normal-notes></time-modification>"
    )


def test_divisions_may_change_inside_a_measure() -> None:
    found = measure(n("C4", 4) + divisions(6) + n("D4", 3) + back(3) + n("E4", 6))
    assert played(found) == [("C4", "0", "1"), ("D4", "1", "1/2"), ("E4", "1", "1")]
    assert found.length == 2


def test_divisions_may_be_decimals() -> None:
    found = measure(divisions("0.5") + n("C4", "0.25") + n("D4", "1.5"))
    assert played(found) == [("C4", "0", "1/2"), ("D4", "1/2", "3")]


def test_a_triplet_that_divisions_round_is_exact_and_so_is_what_stands_beside_it() -> None:
    rounded = [n(p, d, triplet()) for p, d in (("C4", 85), ("D4", 86), ("E4", 85))]
    content = rounded[0] + said("dolce") + "".join(rounded[1:]) + n("F4", 256)
    second = "".join(n(p, d, triplet()) for p, d in (("C3", 86), ("D3", 85), ("E3", 85)))
    found = measure(divisions(256) + content + back(512) + second + n("F3", 256))
    assert played(found)[:4] == [
        ("C4", "0", "1/3"),
        ("D4", "1/3", "1/3"),
        ("E4", "2/3", "1/3"),
        ("F4", "1", "1"),
    ]
    assert [offset for _, offset, _ in played(found)[4:]] == ["0", "1/3", "2/3", "1"]
    assert found.marks[0].offset == Quarters(1, 3)
    assert found.length == 2


def test_a_triplet_cut_down_by_rounding_does_not_push_what_follows() -> None:
    cut = "".join(n(p, 85, triplet()) for p in ("C4", "D4", "E4"))
    found = measure(divisions(256) + cut + n("F4", 256) + back(511) + n("C3", 512))
    assert played(found)[3:] == [("F4", "1", "1"), ("C3", "0", "2")]


def test_coarse_values_that_do_not_come_out_even_are_taken_as_they_are() -> None:
    found = measure(divisions(1) + "".join(n("C4", 1, triplet()) for _ in range(3)))
    assert [offset for _, offset, _ in played(found)] == ["0", "1", "2"]


def test_a_backup_before_the_measure_stops_at_its_start_and_is_noted() -> None:
    found = score(n("C4") + back(400) + n("E4"))
    assert played(found.parts[0].measures[0])[1] == ("E4", "0", "1")
    assert any("backup" in text for text in texts(found))


def test_chord_notes_share_the_start_of_their_first_note() -> None:
    found = measure(n("C4", 8) + said("dolce") + chord("E4", 8) + back(8) + chord("G4", 4))
    assert played(found) == [("C4", "0", "2"), ("E4", "0", "2"), ("G4", "0", "1")]
    assert {str(note.chord) for note in found.notes} == {"P1/0/n0"}


def test_a_chord_note_with_nothing_before_it_stands_alone() -> None:
    found = score(chord("C4") + n("D4"))
    assert played(found.parts[0].measures[0]) == [("C4", "0", "1"), ("D4", "1", "1")]
    assert any("chord note" in text for text in texts(found))


def test_grace_notes_stand_where_their_main_note_does() -> None:
    graces = n("D5", before="<grace/>") + n("E5", before="<grace/>")
    found = measure(n("C4") + graces + n("C5") + n("D5", before="<grace/>"))
    assert [str(g.offset) for g in found.notes if g.is_grace] == ["1", "1", "2"]
    assert all(g.duration == 0 for g in found.notes if g.is_grace)


def test_small_notes_are_cues_by_either_sign() -> None:
    small = "<type size='cue'>quarter</type>"
    found = measure(n("C4", before="<cue/>") + n("D4", 4, small) + n("E4"))
    assert [note.is_cue for note in found.notes] == [True, True, False]


def test_unpitched_notes_take_time_but_are_none() -> None:
    drum = "<note><unpitched/><duration>4</duration></note>"
    found = measure(drum + n("C4") + drum)
    assert played(found) == [("C4", "1", "1")]
    assert found.length == 3
    assert found.notes[0].id.key == "n1"


def test_voices_and_staves_have_defaults_and_a_voice_may_change_staff() -> None:
    second = "<voice>2</voice><staff>2</staff>"
    found = measure(TWO_STAVES + n("C4") + n("C3", 4, second) + n("D4", 4, "<voice>2</voice>"))
    assert [(note.voice, note.staff) for note in found.notes] == [("1", 1), ("2", 2), ("2", 1)]


@pytest.mark.parametrize(
    ("content", "length"),
    [
        (n("C4") + n("D4"), "2"),
        ("".join(n("C4") for _ in range(6)), "6"),
        (rest(16, whole=True), "4"),
        (rest(6, whole=True), "4"),
        (rest(32, whole=True) + back(32) + n("C4"), "4"),
        ("", "4"),
        (n("C4") + "<forward><duration>8</duration></forward>", "3"),
    ],
)
def test_a_measure_is_as_long_as_its_voices_and_a_full_rest_as_the_meter(
    content: str, length: str
) -> None:
    assert str(measure(content).length) == length


def test_a_silent_measure_is_as_long_as_the_others_play() -> None:
    upbeat = Reading(
        document(
            part(START + TEMPO + n("C4")) + part(START + rest(16, whole=True), name="P2"),
            listed("Harp") + listed("Flute", "P2"),
        )
    ).score()
    assert upbeat.parts[1].measures[0].length == 1


def test_measure_numbers_are_kept_as_printed_and_counted_by_place() -> None:
    numbers = ("X1", "7", "7", "7a")
    measures = [START + n("C4"), n("D4"), n("E4"), n("F4")]
    found = Reading(document(part(*measures, numbers=numbers))).score().parts[0]
    assert [(m.index, m.number) for m in found.measures] == list(enumerate(numbers))


def test_parts_of_different_length_are_noted() -> None:
    parts = part(START + n("C4"), n("D4")) + part(START + n("C4"), name="P2")
    found = Reading(document(parts, listed("Harp") + listed("Flute", "P2"))).score()
    assert any("different numbers of measures" in text for text in texts(found))


@pytest.mark.parametrize(
    ("bad", "named"),
    [
        (divisions("x"), "divisions"),
        (divisions(0), "divisions"),
        (n("C4", "long"), "duration"),
        (n("C4", 4, "<staff>low</staff>"), "staff"),
        ("<attributes><key><fifths>many</fifths></key></attributes>", "key"),
        ("<attributes><time><beats>C</beats><beat-type>4</beat-type></time></attributes>", "time"),
        (n("H4"), "pitch"),
        (n("CX"), "pitch"),
        ("<sound tempo='fast'/>", "tempo"),
    ],
)
def test_a_number_that_cannot_be_read_is_an_error_with_its_place(bad: str, named: str) -> None:
    with pytest.raises(BadInput, match=named) as caught:
        score(n("C4"), bad)
    fault = caught.value
    assert (fault.file, fault.part, fault.measure) == ("tiny.musicxml", "P1", "2")


def test_a_timewise_score_reads_like_the_same_score_partwise() -> None:
    notes = [START + TEMPO + n("C4"), n("D4")]
    inner = "".join(
        f"<measure number='{i}'><part id='P1'>{content}</part></measure>"
        for i, content in enumerate(notes)
    )
    partwise = document(part(*notes, numbers=("0", "1")))
    timewise = partwise.to_bytes().decode().replace("partwise", "timewise")
    start, end = timewise.index("<part id"), timewise.index("</score-timewise>")
    text = timewise[:start] + inner + timewise[end:]
    other = Reading(type(partwise).read(text.encode(), "tiny.musicxml")).score()
    assert other.parts == Reading(partwise).score().parts


def test_a_note_without_a_duration_is_refused_by_its_measure() -> None:
    bare = "<note><pitch><step>C</step><octave>4</octave></pitch><type>quarter</type></note>"
    with pytest.raises(BadInput, match="measure 1: a note has no duration"):
        measure(bare)
