"""Marks beside the notes: what each is, where it stands, and what it says about the tempo."""

from fractions import Fraction

import pytest
from tiny_scores import (
    START,
    back,
    document,
    listed,
    measure,
    n,
    part,
    said,
    score,
    sign,
    texts,
)

from arrange.errors import LeverwrightError
from arrange.harp.harp import Position
from arrange.pitch import Pitch
from arrange.score.model import EventId, HandName, Mark, MarkKind, Score
from arrange.score.own import OwnCue, OwnNotes
from arrange.score.reading import Reading
from arrange.units import Quarters


def marks(content: str) -> list[Mark]:
    return list(measure(content + n("C4", 16)).marks)


PEDALS = "".join(
    f"<pedal-tuning><pedal-step>{step}</pedal-step><pedal-alter>{alter}</pedal-alter>"
    "</pedal-tuning>"
    for step, alter in zip("DCBEFGA", (0, 1, -1, -1, 0, 0, -1), strict=True)
)


@pytest.mark.parametrize(
    ("inside", "kind", "text"),
    [
        ("<words>dolce</words>", MarkKind.WORDS, "dolce"),
        ("<words>Andante con moto</words>", MarkKind.TEMPO, "Andante con moto"),
        ("<words>cresc. molto</words>", MarkKind.DYNAMICS, "cresc. molto"),
        ("<dynamics><mf/></dynamics>", MarkKind.DYNAMICS, "mf"),
        ("<wedge type='crescendo'/>", MarkKind.DYNAMICS, "crescendo"),
        ("<rehearsal>B</rehearsal>", MarkKind.REHEARSAL, "B"),
        ("<pedal type='start'/>", MarkKind.PIANO_PEDAL, "start"),
        ("<words>gliss.</words>", MarkKind.GLISSANDO_WORDS, "gliss."),
        ("<words>F</words><symbol>accidentalSharp</symbol><words>D</words><words>♭</words>",
         MarkKind.PEDAL_WORDS, "F♯ D♭"),
        ("<harp-pedals>" + PEDALS + "</harp-pedals>", MarkKind.HARP_PEDALS,
         "D C# Bb | Eb F G Ab"),
        ("<damp/>", MarkKind.DAMP, "damp"),
        ("<damp-all/>", MarkKind.DAMP_ALL, "damp-all"),
        ("<other-direction smufl='pluckedDampAll'/>", MarkKind.DAMP_ALL, "pluckedDampAll"),
        ("<octave-shift type='down' size='15'/>", MarkKind.OCTAVE_SHIFT, "down 15"),
        ("<words>To Coda</words>", MarkKind.WORDS, "To Coda"),
        ("<words>𝄋</words>", MarkKind.SEGNO, "𝄋"),
        ("<eyeglasses/>", MarkKind.OTHER, "eyeglasses"),
    ],
)  # fmt: skip
def test_a_direction_is_known_for_what_it_is(inside: str, kind: MarkKind, text: str) -> None:
    below = sign(inside).replace("<direction>", "<direction placement='below'>")
    (mark,) = marks(below)
    assert (mark.kind, mark.text, str(mark.id)) == (kind, text, "P1/0/d0")


def test_pedals_are_read_from_diagrams_and_words() -> None:
    diagram, words = marks(
        sign("<harp-pedals>" + PEDALS + "</harp-pedals>") + said("D C B | E F# G A")
    )
    assert dict(diagram.pedals)["C"] == 1
    assert dict(words.pedals) == dict.fromkeys("DCBEGA", 0) | {"F": 1}


def test_a_direction_of_several_kinds_gives_a_mark_for_each() -> None:
    two = "<direction-type><dynamics><p/></dynamics></direction-type>"
    direction = sign("<words>dolce</words>").replace("</direction>", two + "</direction>")
    reading = Reading(document(part(START + direction + n("C4"))))
    found = reading.score().parts[0].measures[0].marks
    assert [(m.id.key, m.text) for m in found] == [("d0.0", "dolce"), ("d0.1", "p")]
    assert reading.mark_node(found[1].id).children[0].tag == "dynamics"


def test_words_beside_a_metronome_mark_belong_to_it() -> None:
    types = "".join(
        f"<direction-type>{inside}</direction-type>"
        for inside in (
            "<words>Dreamily</words>",
            "<metronome><beat-unit>quarter</beat-unit><per-minute>66</per-minute></metronome>",
        )
    )
    (mark,) = marks(f"<direction>{types}</direction>")
    assert (mark.kind, mark.text) == (MarkKind.TEMPO, "Dreamily quarter = 66")


def test_a_mark_stands_at_its_offset_and_staff() -> None:
    shifted = said("dolce", staff=2).replace("<staff>", "<offset>-2</offset><staff>")
    (mark,) = measure(n("C4") + shifted + n("D4")).marks
    assert (mark.offset, mark.staff) == (Quarters(1, 2), 2)


def metronome(unit: str, rate: str, dots: int = 0) -> str:
    return sign(
        f"<metronome><beat-unit>{unit}</beat-unit>{'<beat-unit-dot/>' * dots}"
        f"<per-minute>{rate}</per-minute></metronome>"
    )


def paced(*measures: str) -> Score:
    """Without a tempo of its own."""
    first, *others = measures
    return Reading(document(part(START + first, *others))).score()


def tempo(found: Score) -> list[tuple[int, str, str]]:
    return [(t.index, str(t.offset), str(t.quarters_per_minute)) for t in found.tempo]


@pytest.mark.parametrize(
    ("mark", "quarters"),
    [
        (metronome("quarter", "72"), "72"),
        (metronome("quarter", "60", 1), "90"),
        (metronome("half", "50", 2), "175"),
        (metronome("eighth", "c. 100"), "50"),
        (metronome("quarter", "72-80"), "76"),
        ("<sound tempo='81.5'/>", "163/2"),
        (said("Adagio"), "56"),
        (said("Mässig"), "96"),
        (metronome("quarter", "72") + "<sound tempo='71.99'/>", "72"),
    ],
)
def test_a_tempo_is_read_from_marks_sounds_and_words(mark: str, quarters: str) -> None:
    found = paced(mark + n("C4", 16))
    assert tempo(found) == [(0, "0", quarters)]
    assert not texts(found)


@pytest.mark.parametrize(
    ("offset", "inside", "place"),
    [
        ("", "", "0"),
        ("<offset>4</offset>", "", "0"),
        ("<offset sound='yes'>4</offset>", "", "1"),
        ("<offset sound='yes'>4</offset>", "<offset>8</offset>", "2"),
    ],
)
def test_an_offset_moves_a_tempo_where_it_is_meant_to_be_heard(
    offset: str, inside: str, place: str
) -> None:
    sound = f"<sound tempo='50'>{inside}</sound>"
    kind = "<direction-type><words>so</words></direction-type>"
    found = score(n("C4", 8) + f"<direction>{kind}{offset}{sound}</direction>" + n("D4", 8))
    assert tempo(found)[-1] == (0, str(Fraction(place) + 2), "50")


def test_tempo_words_count_the_felt_beat() -> None:
    meter = "<attributes><time><beats>6</beats><beat-type>8</beat-type></time></attributes>"
    assert tempo(paced(meter + said("Andante") + n("C4", 12))) == [(0, "0", "114")]


def test_sound_wins_over_a_contradicting_mark_and_the_contradiction_is_noted() -> None:
    found = paced(metronome("quarter", "72") + "<sound tempo='144'/>" + n("C4", 16))
    assert tempo(found) == [(0, "0", "144")]
    assert any("disagree" in text for text in texts(found))


def test_a_score_without_a_tempo_gets_the_default_and_a_note() -> None:
    found = paced(n("C4", 16))
    assert tempo(found) == [(0, "0", "92")]
    assert any("No tempo" in text for text in texts(found))


def test_a_tempo_returns_after_a_ritardando() -> None:
    found = paced(
        metronome("quarter", "80") + n("C4", 16),
        n("C4", 8) + said("rit.", sound="<sound tempo='50'/>") + n("C4", 8),
        said("a tempo") + n("C4", 16),
        metronome("quarter", "120") + n("C4", 16),
        said("Tempo I") + n("C4", 16),
    )
    assert tempo(found) == [
        (0, "0", "80"),
        (1, "2", "50"),
        (2, "0", "80"),
        (3, "0", "120"),
        (4, "0", "80"),
    ]


def test_one_note_value_for_another_changes_the_tempo_by_their_ratio() -> None:
    equation = sign(
        "<metronome><beat-unit>quarter</beat-unit><beat-unit>quarter</beat-unit>"
        "<beat-unit-dot/></metronome>"
    )
    found = paced(metronome("quarter", "60") + n("C4", 16), equation + n("C4", 16))
    assert tempo(found)[1] == (1, "0", "90")


def test_a_change_without_a_number_is_noted() -> None:
    found = paced(metronome("quarter", "60") + n("C4", 16), said("più mosso") + n("C4", 16))
    assert tempo(found) == [(0, "0", "60")]
    assert any("how fast" in text for text in texts(found))


def test_a_tempo_on_another_part_counts_and_the_users_replaces_all() -> None:
    parts = part(START + n("C4")) + part(START + "<sound tempo='66'/>" + n("C4"), name="P2")
    made = document(parts, listed("Harp") + listed("Flute", "P2"))
    assert tempo(Reading(made).score()) == [(0, "0", "66")]
    assert tempo(Reading(made, tempo=Fraction(101, 2)).score()) == [(0, "0", "101/2")]


def own(own_id: str) -> str:
    return said("F# (LH)").replace("<direction ", f"<direction id='{own_id}' ")


def test_our_own_cues_are_known_by_their_ids() -> None:
    cue = OwnCue(3, "F4", Position.UP, HandName.LEFT, 1, Quarters(3, 2))
    (mark,) = marks(own(cue.id))
    assert (mark.kind, OwnCue.parse(mark.own)) == (MarkKind.OWN, cue)


def test_our_own_marks_name_notes_that_another_hand_takes_or_that_stay_open() -> None:
    taken = OwnNotes("take-left", 1, (Pitch("C", 0, 4),)).id
    left = OwnNotes("open", 2, (Pitch("E", 0, 4),)).id
    chord = n("C4") + n("E4", before="<chord/>") + n("C4")
    found = score(own(taken) + own(left) + chord)
    assert found.reassigned == ((EventId("P1", 0, "n0"), HandName.LEFT),)
    assert found.left_open == (EventId("P1", 0, "n1"),)


def test_fields_that_this_toolkit_wrote_are_read() -> None:
    head = (
        "<identification><miscellaneous><miscellaneous-field name='leverwright-book'>concert"
        "</miscellaneous-field><miscellaneous-field name='other'>x</miscellaneous-field>"
        "</miscellaneous></identification>"
    )
    found = Reading(document(part(START + n("C4")), head=head)).score()
    assert found.own == {"leverwright-book": "concert"}


def test_nodes_are_found_by_id_and_what_is_not_there_is_an_error() -> None:
    made = document(
        part(START + n("C4") + back(4) + n("E4", 4, "<notations><fermata/></notations>"))
    )
    reading = Reading(made)
    reading.score()
    note = EventId("P1", 0, "n1")
    assert reading.note_node(note).child_text("duration") == "4"
    assert reading.notation_node(note, "fermata.0").tag == "fermata"
    assert reading.measure_node("P1", 0).tag == "measure"
    with pytest.raises(LeverwrightError, match="n9"):
        reading.note_node(EventId("P1", 0, "n9"))
    with pytest.raises(LeverwrightError, match="d0"):
        reading.mark_node(EventId("P1", 0, "d0.1"))
    with pytest.raises(LeverwrightError, match="P1/4"):
        reading.measure_node("P1", 4)
    with pytest.raises(LeverwrightError, match=r"fermata\.1"):
        reading.notation_node(note, "fermata.1")
