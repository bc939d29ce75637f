"""Signs that scores seldom have are told in a musician's words, and follow a transposition."""

import pytest
from compared_sheets import ATTRIBUTES, direction, note, sheet, transposed

from arrange.report.compare import Aspect, compare

BODY = note("C4") + note("E4") + note("G4") + note("B4")
FIGURES = (
    "<figured-bass><figure><prefix>{}</prefix><figure-number>{}</figure-number></figure>"
    "</figured-bass>"
)
TRIPLET = (
    "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes>"
    "</time-modification>"
)
SYMBOL = (
    "<harmony><root><root-step>E</root-step><root-alter>-1</root-alter></root>"
    "<kind text='maj7'>major-seventh</kind><bass><bass-step>G</bass-step></bass>"
    "<degree><degree-value>9</degree-value><degree-alter>1</degree-alter>"
    "<degree-type>add</degree-type></degree></harmony>"
)
PEDALS = (
    "<harp-pedals><pedal-tuning><pedal-step>D</pedal-step><pedal-alter>{}</pedal-alter>"
    "</pedal-tuning></harp-pedals>"
)
INTO = "<attributes>{}</attributes>"
LETTERS = "<key><key-step>{}</key-step><key-alter>{}</key-alter></key>"
DIRECTIONS = [
    ("<octave-shift type='down' size='8'/>", Aspect.MARKS,
     "octave line “read an octave higher begins (8)”"),
    ("<octave-shift type='stop' size='8'/>", Aspect.MARKS, "octave line “ends (8)”"),
    (PEDALS.format(-1), Aspect.MARKS, "harp pedals “Db”"),
    (PEDALS.format(1), Aspect.MARKS, "harp pedals “D#”"),
    ("<other-direction smufl='pluckedDamp'/>", Aspect.MARKS, "sign “pluckedDamp”"),
    ("<dynamics><other-dynamics>sub. p</other-dynamics></dynamics>", Aspect.MARKS,
     "dynamic “sub. p”"),
    ("<rehearsal>B</rehearsal>", Aspect.MARKS, "rehearsal mark “B”"),
    ("<segno/>", Aspect.STRUCTURE, "segno sign"),
    ("<metronome><beat-unit>quarter</beat-unit><per-minute>72</per-minute></metronome>",
     Aspect.STRUCTURE, "metronome mark “quarter = 72”"),
    ("<words id='leverwright.legend'>Levers: strings</words>", Aspect.MARKS,
     "lever mark “Levers: strings”"),
    ("<words> </words>", Aspect.LAYOUT, "words without text"),
]  # fmt: skip
BESIDE = [
    ("<sound tempo='90.00'/>", Aspect.STRUCTURE, "playback tempo “90”"),
    ("<sound dynamics='40'/>", Aspect.MARKS, "playback of dynamics “40”"),
    (FIGURES.format("flat", 6), Aspect.MARKS, "figured bass “flat 6”"),
    ("<barline><fermata/></barline>", Aspect.STRUCTURE, "fermata “at the barline”"),
    ("<barline><bar-style>light-light</bar-style></barline>", Aspect.STRUCTURE,
     "barline “double bar”"),
    ("<barline><repeat direction='backward' times='3' after-jump='yes'/></barline>",
     Aspect.STRUCTURE, "repeat “ends, 3 times (also after a jump)”"),
    ("<print new-system='yes'/>", Aspect.LAYOUT, "system break"),
    ("<grouping type='start'/>", Aspect.LAYOUT, "grouping “start”"),
    (INTO.format("<transpose><chromatic>-2</chromatic></transpose>"), Aspect.STRUCTURE,
     "transposition “sounds -M2 from here”"),
    (INTO.format(LETTERS.format("F", 1)), Aspect.STRUCTURE, "key signature “F#”"),
    (INTO.format("<time><senza-misura/></time>"), Aspect.STRUCTURE, "time signature “free time”"),
    (INTO.format("<clef><sign>G</sign><line>2</line><clef-octave-change>-1</clef-octave-change>"
                 "</clef>"), Aspect.STRUCTURE, "clef “treble clef, an octave lower”"),
    (INTO.format("<measure-style><multiple-rest>4</multiple-rest></measure-style>"),
     Aspect.LAYOUT, "measure style “multiple rest 4”"),
    (INTO.format("<measure-style><slash type='start'/></measure-style>"),
     Aspect.STRUCTURE, "measure style “slash start”"),
    (INTO.format("<key><fifths>0</fifths></key>"), Aspect.LAYOUT,
     "key signature stated again “no sharps or flats”"),
]  # fmt: skip
ADDED = [(direction(text), aspect, name) for text, aspect, name in DIRECTIONS] + BESIDE


@pytest.mark.parametrize(("new", "aspect", "name"), ADDED, ids=[a[2] for a in ADDED])
def test_a_sign_beside_the_notes(new: str, aspect: Aspect, name: str) -> None:
    found = compare(sheet(BODY, BODY), sheet(BODY, BODY + new), ("a", "b")).differences
    assert [(d.aspect, d.sentence) for d in found] == [(aspect, f"Added: {name}.")]


ON_NOTES = [
    ("<notations><fermata type='inverted'/></notations>", Aspect.MARKS, "fermata"),
    ("<notations><arpeggiate direction='up'/></notations>", Aspect.MARKS, "roll “up”"),
    ("<notations><slur type='start' number='3'/></notations>", Aspect.MARKS, "slur “begins”"),
    ("<notations><tied type='let-ring'/></notations>", Aspect.MARKS, "tie “let-ring”"),
    ("<notations><tuplet type='start'/></notations>", Aspect.LAYOUT, "tuplet bracket “begins”"),
    ("<lyric number='2'><syllabic>begin</syllabic><text>sun</text></lyric>", Aspect.MARKS,
     "lyric of verse 2 “sun-”"),
    ("<lyric><syllabic>end</syllabic><text>set</text><extend/></lyric>", Aspect.MARKS,
     "lyric “-set_”"),
]  # fmt: skip


@pytest.mark.parametrize(("sign", "aspect", "name"), ON_NOTES, ids=[s[2] for s in ON_NOTES])
def test_a_sign_on_a_note(sign: str, aspect: Aspect, name: str) -> None:
    found = compare(sheet(note("C4")), sheet(note("C4", sign)), ("a", "b")).differences
    assert [(d.aspect, d.sentence) for d in found] == [(aspect, f"Added: {name} on C4.")]


ENGRAVED = [
    ("<notehead>diamond</notehead>", Aspect.MARKS, "notehead diamond (new)."),
    ("<stem>up</stem>", Aspect.LAYOUT, "stem up (new)."),
    ("<play><mute>on</mute></play>", Aspect.MARKS, "playback mute on (new)."),
    ("<notehead-text><display-text>C</display-text></notehead-text>", Aspect.LAYOUT,
     "notehead text display text C (new)."),
]  # fmt: skip


@pytest.mark.parametrize(("new", "aspect", "words"), ENGRAVED)
def test_how_a_note_is_drawn_and_played(new: str, aspect: Aspect, words: str) -> None:
    found = compare(sheet(note("C4")), sheet(note("C4", new)), ("a", "b")).differences
    assert [(d.aspect, d.sentence) for d in found] == [(aspect, f"C4: {words}")]


VALUES = [
    ("<type>quarter</type>", "<type>quarter</type><dot/>",
     "C4 is written as dotted quarter in place of quarter."),
    ("<type>quarter</type>", "<type>quarter</type>" + TRIPLET,
     "C4 is written as quarter 3:2 in place of quarter."),
    ("", "<type>quarter</type>", "C4 is now written as quarter."),
]  # fmt: skip


@pytest.mark.parametrize(("before", "after", "sentence"), VALUES)
def test_the_written_value_of_a_note(before: str, after: str, sentence: str) -> None:
    found = compare(sheet(note("C4", before)), sheet(note("C4", after)), ("a", "b")).differences
    assert [(d.aspect, d.sentence) for d in found] == [(Aspect.RHYTHM, sentence)]


def test_grace_and_cue_notes_are_told_from_others() -> None:
    grace = note("C4", before="<grace slash='yes'/>").replace("<duration>4</duration>", "")
    found = compare(sheet(BODY), sheet(grace + BODY), ("a", "b")).differences
    assert [d.sentence for d in found] == ["Added: grace note C4."]
    cue = compare(sheet(note("C4")), sheet(note("C4", before="<cue/>")), ("a", "b")).differences
    assert [d.sentence for d in cue] == ["C4 is now a cue note."]


@pytest.mark.parametrize(
    "content",
    [
        SYMBOL,
        FIGURES.format("natural", 6),
        INTO.format(LETTERS.format("F", 1)),
        INTO.format("<key><fifths>-2</fifths><mode>minor</mode></key>"),
    ],
)
def test_what_names_pitches_follows_a_transposition(content: str) -> None:
    raw = sheet(BODY, content + BODY)
    found = compare(raw, transposed(raw, "M2"), ("a", "b"))
    assert [str(t.interval) for t in found.transpositions] == ["M2"]
    assert found.differences == ()


def test_a_transposing_part_that_sounds_the_same_has_the_same_notes() -> None:
    clarinet = (
        "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>"
    )
    written = "".join(map(note, ("D4", "F#4", "A4", "C#5")))
    other = sheet(written, first=ATTRIBUTES.replace("</attributes>", clarinet))
    found = compare(sheet(BODY), other, ("a", "b"))
    assert [d.sentence for d in found.differences] == [
        "Added: transposition “sounds -M2 from here”."
    ]


def test_parts_are_paired_by_what_they_play_where_their_names_are_new() -> None:
    def score(first: tuple[str, str], second: tuple[str, str]) -> bytes:
        listed = "".join(
            f"<score-part id='{i}'><part-name>{name}</part-name></score-part>"
            for i, (name, _) in zip("AB", (first, second), strict=True)
        )
        parts = "".join(
            f"<part id='{i}'><measure number='1'>{ATTRIBUTES}{content}</measure></part>"
            for i, (_, content) in zip("AB", (first, second), strict=True)
        )
        text = f"<score-partwise><part-list>{listed}</part-list>{parts}</score-partwise>"
        return text.encode()

    low = note("C3", duration=16)
    before = score(("", BODY), ("", low)).replace(b"'A'", b"'X'").replace(b"'B'", b"'Y'")
    found = compare(before, score(("Bass", low), ("Top", BODY)), ("a", "b"))
    assert [(p.before, p.after) for p in found.parts] == [("Y", "A"), ("X", "B")]
    assert {d.aspect for d in found.differences} == {Aspect.HEAD}


def test_a_measure_that_only_one_part_has_is_told() -> None:
    one = sheet(BODY, BODY)
    extra = f"<part id='P2'><measure number='1'>{ATTRIBUTES}{BODY}</measure>{{}}</part>"
    listed = b"<score-part id='P2'><part-name>Oboe</part-name></score-part></part-list>"
    one = one.replace(b"</part-list>", listed)
    both = extra.format(f"<measure number='2'>{BODY}</measure>")
    before = one.replace(b"</score-partwise>", f"{extra.format('')}</score-partwise>".encode())
    after = one.replace(b"</score-partwise>", f"{both}</score-partwise>".encode())
    found = compare(before, after, ("a", "b")).differences
    assert [(d.part, d.sentence) for d in found] == [("P2", "Measure 2 of Oboe is inserted.")]
