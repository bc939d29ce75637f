"""What notes sound, and what the source leaves in doubt about it."""

import pytest
from tiny_scores import TWO_STAVES, back, chord, measure, n, score, sign, texts

from arrange.pitch import Interval
from arrange.score.model import Sign


def key(inside: str, number: str = "") -> str:
    attribute = f" number='{number}'" if number else ""
    return f"<attributes><key{attribute}>{inside}</key></attributes>"


def fifths(count: int) -> str:
    return key(f"<fifths>{count}</fifths>")


def transpose(inside: str) -> str:
    return f"<attributes><transpose>{inside}</transpose></attributes>"


def ornament(inside: str) -> str:
    return f"<notations><ornaments>{inside}</ornaments></notations>"


def shown(place: str, accidental: str) -> str:
    return f"<accidental-mark placement='{place}'>{accidental}</accidental-mark>"


def altered(alter: str) -> str:
    plain = n("E4")
    return plain.replace("</step>", f"</step><alter>{alter}</alter>")


@pytest.mark.parametrize(
    ("inside", "sounds"),
    [
        ("<diatonic>-1</diatonic><chromatic>-2</chromatic>", "Bb3"),
        ("<chromatic>-2</chromatic>", "Bb3"),
        ("<chromatic>3</chromatic><octave-change>-1</octave-change>", "Eb3"),
        ("<diatonic>-5</diatonic><chromatic>-9</chromatic>", "Eb3"),
    ],
)
def test_a_transposing_part_is_read_as_it_sounds(inside: str, sounds: str) -> None:
    found = measure(transpose(inside) + n("C4"))
    assert str(found.notes[0].pitch) == sounds
    assert found.transposition.move(found.notes[0].pitch) != found.notes[0].pitch


def test_a_transposition_may_change_inside_a_measure() -> None:
    second = transpose("<diatonic>1</diatonic><chromatic>2</chromatic>")
    found = measure(n("C4") + second + n("C4"))
    assert [str(note.pitch) for note in found.notes] == ["C4", "D4"]
    assert found.transposition == Interval(0, 0)


def test_notes_under_an_octave_line_sound_as_the_file_has_them() -> None:
    line = sign("<octave-shift type='down' size='8'/>") + n("C6")
    closed = score(line + sign("<octave-shift type='stop'/>"))
    assert str(closed.parts[0].measures[0].notes[0].pitch) == "C6"
    assert not texts(closed)
    assert any("never closed" in text for text in texts(score(line, n("C5"))))


@pytest.mark.parametrize(
    ("alter", "nearest"),
    [("-0.25", "E4"), ("0.75", "E#4"), ("9", "E######4"), ("flat", "E4"), ("-1.0", "Eb4")],
)
def test_an_alteration_that_is_no_semitone_is_left_open_and_noted(
    alter: str, nearest: str
) -> None:
    found = score(altered(alter))
    note = found.parts[0].measures[0].notes[0]
    assert str(note.pitch) == nearest
    assert note.microtone is bool(texts(found)) is (alter != "-1.0")


def test_an_accidental_that_contradicts_the_pitch_is_noted() -> None:
    found = score(n("C#4", 4, "<accidental>natural</accidental>"))
    assert any("contradicts" in text for text in texts(found))
    assert str(found.parts[0].measures[0].notes[0].pitch) == "C#4"
    assert not texts(score(n("C#4", 4, "<accidental>sharp</accidental>")))


def test_keys_may_differ_by_staff_and_come_after_a_backup() -> None:
    second = key("<fifths>-3</fifths>", "2") + n("E3", 4, "<staff>2</staff>")
    found = measure(TWO_STAVES + key("<fifths>2</fifths>", "1") + n("C4") + back(4) + second)
    assert found.fifths == (2, -3)


def test_a_key_change_inside_a_measure_counts_for_the_next() -> None:
    found = score(fifths(1) + n("C4") + fifths(-2) + n("D4"), n("E4")).parts[0].measures
    assert [m.fifths for m in found] == [(1,), (-2,)]


def test_a_key_that_lists_its_letters_is_a_usual_one_where_it_can_be() -> None:
    usual = "".join(f"<key-step>{step}</key-step><key-alter>-1</key-alter>" for step in ("B", "E"))
    assert measure(key(usual) + n("C4")).fifths == (-2,)
    odd = score(key("<key-step>E</key-step><key-alter>-1</key-alter>") + n("C4"))
    assert odd.parts[0].measures[0].fifths == (0,)
    assert any("no usual key" in text for text in texts(odd))


@pytest.mark.parametrize(
    ("before", "main", "signs", "sounds"),
    [
        ("", "E4", "<trill-mark/>", ["F4"]),
        (fifths(1), "E4", "<trill-mark/>", ["F#4"]),
        ("", "E4", "<trill-mark/><accidental-mark>sharp</accidental-mark>", ["F#4"]),
        (fifths(-1), "A4", "<mordent/>", ["G4"]),
        (fifths(-1), "A4", "<inverted-mordent/>", ["Bb4"]),
        ("", "G4", "<turn/>", ["A4", "F4"]),
        ("", "G4", "<inverted-turn/>", ["F4", "A4"]),
        ("", "G4", "<turn/>" + shown("above", "flat") + shown("below", "sharp"), ["Ab4", "F#4"]),
        ("", "B4", "<turn/><accidental-mark>sharp</accidental-mark>", ["C#5", "A4"]),
        (
            transpose("<diatonic>-1</diatonic><chromatic>-2</chromatic>") + fifths(2),
            "E4",
            "<trill-mark/>",
            ["E4"],
        ),
    ],
)
def test_ornaments_add_their_neighbours_in_the_key(
    before: str, main: str, signs: str, sounds: list[str]
) -> None:
    note = measure(before + n(main, 16, ornament(signs))).notes[0]
    assert [str(pitch) for pitch in note.auxiliaries] == sounds


def test_signs_are_numbered_through_several_notations() -> None:
    first = "<notations><technical><fingering>1</fingering><fingering>3</fingering></technical>"
    second = "<notations><technical><fingering>2</fingering><open-string/></technical>"
    lines = "<slur type='start' number='2'/><tied type='let-ring'/></notations>"
    note = measure(n("C4", 4, first + "</notations>" + second + lines)).notes[0]
    shown = [(s.sign, s.key, s.text or s.type + s.number) for s in note.notations]
    assert shown == [
        (Sign.FINGERING, "fingering.0", "1"),
        (Sign.FINGERING, "fingering.1", "3"),
        (Sign.FINGERING, "fingering.2", "2"),
        (Sign.HARMONIC, "harmonic.0", "open-string"),
        (Sign.SLUR, "slur.0", "start2"),
        (Sign.LET_RING, "let-ring.0", "let-ring"),
    ]


def tied(*kinds: str) -> str:
    return "".join(f"<tie type='{kind}'/>" for kind in kinds)


def drawn(kind: str) -> str:
    return f"<notations><tied type='{kind}'/></notations>"


def test_ties_are_read_where_both_notes_are_there() -> None:
    found = score(n("C4", 16, tied("start")), n("C4", 8, drawn("stop")) + n("C4", 8)).parts[0]
    ties = [(n.tied_from, n.tied_to) for m in found.measures for n in m.notes]
    assert ties == [(False, True), (True, False), (False, False)]


def test_a_tie_without_a_partner_is_none_and_noted() -> None:
    found = score(n("C4", 16, tied("start")), n("D4", 16, tied("stop")))
    notes = [n for m in found.parts[0].measures for n in m.notes]
    assert not any(note.tied_from or note.tied_to for note in notes)
    assert len([text for text in texts(found) if "no partner" in text]) == 2


def test_a_tie_into_a_second_ending_is_believed() -> None:
    one = "<barline location='left'><ending number='1' type='start'/></barline>"
    end = "<barline><ending number='1' type='stop'/><repeat direction='backward'/></barline>"
    two = "<barline location='left'><ending number='2' type='start'/></barline>"
    found = score(
        n("C4", 16, tied("start")),
        one + n("C4", 16, tied("stop")) + end,
        two + n("C4", 16, tied("stop")),
    )
    assert found.parts[0].measures[2].notes[0].tied_from
    assert not any("partner" in text for text in texts(found))


def test_lyrics_and_chords_are_known_by_their_notes() -> None:
    found = measure(n("C4", 4, "<lyric><text>la</text></lyric>") + chord("E4"))
    assert [note.has_lyric for note in found.notes] == [True, False]
    assert found.notes[1].chord == found.notes[0].id
