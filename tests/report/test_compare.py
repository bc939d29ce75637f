"""What changed between two scores is found, in its class, and nothing else is."""

import json

import pytest
from compared_sheets import (
    ATTRIBUTES,
    direction,
    measures,
    note,
    public_score,
    rest,
    sheet,
    transposed,
    with_measures,
)

from arrange.report.compare import (
    Aspect,
    Comparison,
    Difference,
    Kind,
    Verdict,
    as_json,
    as_markdown,
    as_text,
    compare,
)
from arrange.score.document import Document, element

PIECE = "schumann_clara/polonaise_op1n1.mxl"
CHORALE = "bach/bwv66.6.mxl"
LEAD_SHEET = "leadSheet/fosterBrownHair.mxl"
TRANSPOSED = [
    (PIECE, "m3", "up a minor third"),
    (PIECE, "-d5", "down a diminished fifth"),
    ("joplin/maple_leaf_rag.mxl", "A4", "up an augmented fourth"),
    (LEAD_SHEET, "-M2", "down a major second"),
    (CHORALE, "P8", "up an octave"),
]
BODY = note("C4") + note("E4") + note("G4") + note("B4")


def compared(before: bytes, after: bytes) -> Comparison:
    return compare(before, after, ("before.musicxml", "after.musicxml"))


def only(comparison: Comparison) -> Difference:
    assert [d.sentence for d in comparison.differences] == [comparison.differences[0].sentence]
    return comparison.differences[0]


class TestEqualScores:
    def test_the_same_bytes_are_identical(self) -> None:
        found = compared(public_score(PIECE), public_score(PIECE))
        assert found.verdict is Verdict.IDENTICAL
        assert found.differences == ()
        assert found.measures[:2] == ((0, 0), (1, 1))

    def test_another_spelling_of_the_file_is_no_difference(self) -> None:
        raw = public_score(CHORALE)
        other = raw.decode().replace('encoding="UTF-8"', 'encoding="UTF-16"', 1)
        other = other.replace("\n", "\r\n").replace('="', "=  '").replace('"', "'")
        found = compared(raw, other.replace("=  '", "='").encode("utf-16"))
        assert (found.verdict, found.differences) == (Verdict.SAME, ())

    def test_finer_divisions_and_voices_with_other_numbers_are_no_music(self) -> None:
        two = "<attributes><divisions>8</divisions></attributes>"
        finer = ATTRIBUTES.replace("<divisions>4<", "<divisions>8<")
        content = "".join(note(p, duration=8) for p in ("C4", "E4", "G4", "B4"))
        other = sheet(content.replace("<voice>1<", "<voice>5<"), two + content, first=finer)
        found = compared(sheet(BODY, BODY), other)
        assert found.is_equal_music
        assert [d.kind for d in found.differences] == [Kind.RENUMBERED]

    def test_only_layout_differs(self) -> None:
        raw = public_score(PIECE)
        other = raw.replace(b"<stem>up</stem>", b"<stem>down</stem>", 1)
        other = other.replace(b'default-x="', b'default-x="1', 5)
        found = compared(raw, other)
        assert found.verdict is Verdict.LAYOUT
        assert found.is_equal_music
        assert {d.aspect for d in found.differences} == {Aspect.LAYOUT}
        assert any("stem down in place of up" in d.sentence for d in found.differences)

    def test_timewise_is_as_good_as_partwise(self) -> None:
        timewise = (
            sheet("X", "Y")
            .replace(b"<score-partwise", b"<score-timewise")
            .replace(b"</score-partwise", b"</score-timewise")
            .replace(b"<part id='P1'><measure number='1'>", b"<measure number='1'><part id='P1'>")
            .replace(b"</measure><measure number='2'>", b"</part></measure><measure number='2'>")
            .replace(
                b"number='2'>Y</measure></part>", b"number='2'><part id='P1'>Y</part></measure>"
            )
            .replace(b"X", BODY.encode())
            .replace(b"Y", note("D4", duration=16).encode())
        )
        found = compared(sheet(BODY, note("D4", duration=16)), timewise)
        assert (found.verdict, found.differences) == (Verdict.SAME, ())


class TestTransposition:
    @pytest.mark.parametrize(("name", "interval", "words"), TRANSPOSED)
    def test_is_told_once_and_nothing_else_is(self, name: str, interval: str, words: str) -> None:
        raw = public_score(name)
        found = compared(raw, transposed(raw, interval))
        assert [str(t.interval) for t in found.transpositions] == [interval]
        assert found.transpositions[0].sentence == f"Everything is transposed {words}."
        assert found.differences == ()
        assert found.verdict is Verdict.TRANSPOSED
        assert not found.is_equal_music

    def test_leaves_other_changes_to_be_told(self) -> None:
        raw = public_score(PIECE)
        moved = transposed(raw, "M2")
        place = moved.index(b"<octave>5</octave>", len(moved) // 2)
        other = moved[:place] + b"<octave>4</octave>" + moved[place + len(b"<octave>5</octave>") :]
        found = compared(raw, other)
        assert [str(t.interval) for t in found.transpositions] == ["M2"]
        assert found.transpositions[0].notes - found.transpositions[0].explained == 1
        assert only(found).kind is Kind.OCTAVE

    def test_names_the_parts_that_moved_where_others_stay(self) -> None:
        raw = public_score(CHORALE)
        document = Document.read(raw, "x")
        for pitch in document.root.find_all("part")[3].iter("octave"):
            document.set_text(pitch, str(int(pitch.text) - 1))
        found = compared(raw, document.to_bytes())
        assert [(t.sentence, t.parts) for t in found.transpositions] == [
            ("Bass is transposed down an octave.", ("P4",))
        ]
        assert found.differences == ()

    def test_takes_along_a_part_that_only_rests(self) -> None:
        raw = public_score(CHORALE)
        document = Document.read(raw, "x")
        for tone in document.root.find_all("part")[1].iter("note"):
            pitch = tone.find("pitch")
            if pitch is not None:
                document.insert(tone, element("rest"), before=pitch)
                document.remove(pitch)
                for shown in tone.find_all("accidental"):
                    document.remove(shown)
        silent = document.to_bytes()
        found = compared(silent, transposed(silent, "-m3"))
        assert [t.sentence for t in found.transpositions] == [
            "Everything is transposed down a minor third."
        ]
        assert found.differences == ()

    def test_a_new_key_for_the_same_sound_is_told_once(self) -> None:
        key = ATTRIBUTES.replace("<fifths>0<", "<fifths>{}<")
        flat = "".join(map(note, ("Cb4", "Db4", "Eb4", "Gb4")))
        sharp = "".join(map(note, ("B3", "C#4", "D#4", "F#4")))
        found = compared(sheet(flat, first=key.format(-7)), sheet(sharp, first=key.format(5)))
        assert [t.sentence for t in found.transpositions] == [
            "Everything is spelled anew (down a diminished second) and sounds the same."
        ]
        assert found.differences == ()
        same_key = compared(sheet(flat, first=key.format(-7)), sheet(sharp, first=key.format(-7)))
        assert same_key.transpositions == ()
        assert {d.kind for d in same_key.differences} == {Kind.RESPELLED}


class TestMeasures:
    @pytest.mark.parametrize("at", [1, 9, 24, 39])
    def test_one_left_out_is_found(self, at: int) -> None:
        raw = public_score(PIECE)
        spelled = measures(raw)
        found = only(compared(raw, with_measures(raw, spelled[:at] + spelled[at + 1 :])))
        assert (found.aspect, found.kind) == (Aspect.STRUCTURE, Kind.REMOVED)
        assert found.place_before is not None
        assert (found.place_before.index, found.place_after) == (at, None)

    @pytest.mark.parametrize("at", [1, 9, 24, 40])
    def test_one_put_in_is_found(self, at: int) -> None:
        raw = public_score(PIECE)
        spelled = measures(raw)
        new = b'<measure number="X1">' + note("F#2", duration=64).encode() + b"</measure>\n"
        comparison = compared(raw, with_measures(raw, [*spelled[:at], new, *spelled[at:]]))
        found = only(comparison)
        assert (found.aspect, found.kind, found.after) == (
            Aspect.STRUCTURE,
            Kind.INSERTED,
            "measure X1",
        )
        assert found.place_after is not None
        assert (found.place_before, found.place_after.index) == (None, at)
        assert comparison.measures[at] == (None, at)

    def test_some_played_again_are_called_a_repetition(self) -> None:
        raw = public_score(PIECE)
        spelled = measures(raw)
        again = [m.replace(b'number="', b'number="X') for m in spelled[8:12]]
        found = only(compared(raw, with_measures(raw, [*spelled[:12], *again, *spelled[12:]])))
        assert found.kind is Kind.REPEATED
        assert found.sentence.startswith("Measures X9 to X12 (")
        assert found.sentence.endswith("are inserted; they repeat measures 9 to 12.")

    def test_later_ones_numbered_anew_are_told_once(self) -> None:
        before = sheet(*(note(p, duration=16) for p in ("C4", "D4", "E4", "F4")))
        after = sheet(*(note(p, duration=16) for p in ("C4", "A5", "D4", "E4", "F4")))
        found = compared(before, after).differences
        assert [d.sentence for d in found] == [
            "Measure 2 (1 note) is inserted.",
            "Measures 2 to 4 are now numbered 3 to 5.",
        ]

    def test_one_that_was_written_anew_is_no_insertion(self) -> None:
        contents = [note(p, duration=16) for p in ("C4", "D4", "E4", "F4", "G4")]
        other = [*contents[:2], BODY, *contents[3:]]
        found = compared(sheet(*contents), sheet(*other))
        assert {d.place_after.index for d in found.differences if d.place_after} == {2}
        assert all(pair[0] == pair[1] for pair in found.measures)

    def test_a_part_more_is_found_and_its_notes_are_not_listed(self) -> None:
        raw = public_score(CHORALE)
        document = Document.read(raw, "x")
        document.remove(document.root.find_all("part")[1])
        found = compared(document.to_bytes(), raw)
        assert [d.sentence for d in found.differences] == [
            "Added: the whole part Alto (42 notes)."
        ]


MARKED = note("C4", "<notations><technical><fingering>2</fingering></technical></notations>")
CHANGES = [
    ("a moved octave", BODY, BODY.replace("B</step><octave>4", "B</step><octave>3"),
     Aspect.NOTES, Kind.OCTAVE, "B4 is moved down an octave to B3."),
    ("another note", BODY, BODY.replace("<step>G", "<step>A"),
     Aspect.NOTES, Kind.CHANGED, "G4 becomes A4 (up a major second)."),
    ("a respelled note", BODY + note("C#5"), BODY + note("Db5"),
     Aspect.NOTES, Kind.RESPELLED, "C#5 is spelled as Db5."),
    ("a note left out", BODY, note("C4") + note("E4") + rest() + note("B4"),
     Aspect.NOTES, Kind.REMOVED, "Left out: G4, a quarter; a rest takes its place."),
    ("a note less in a chord", note("C3") + note("E3", before="<chord/>"), note("C3"),
     Aspect.NOTES, Kind.REMOVED, "Left out: E3, a quarter."),
    ("a note more", note("C4") + rest() + note("G4"), note("C4") + note("D4") + note("G4"),
     Aspect.NOTES, Kind.ADDED, "Added: D4, a quarter, in place of a rest."),
    ("a longer note", note("C4") + rest(), note("C4", duration=8),
     Aspect.RHYTHM, Kind.CHANGED, "C4 lasts a half note in place of a quarter."),
    ("a later note", rest(2) + note("C4") + rest(2) + note("E4"), rest() + note("C4") + note("E4"),
     Aspect.RHYTHM, Kind.MOVED, "C4 begins on beat 2 in place of beat 1 1/2."),
    ("another voice", BODY + note("C3"), BODY + note("C3").replace("voice>1", "voice>2"),
     Aspect.RHYTHM, Kind.MOVED, "C3 is in voice 2 in place of voice 1."),
    ("a tie", note("C4") + note("C4"), note("C4", "<tie type='start'/>") + note("C4"),
     Aspect.RHYTHM, Kind.CHANGED, "C4 is now tied on."),
    ("words", direction("<words>dolce</words>") + BODY, direction("<words>ruvido</words>") + BODY,
     Aspect.MARKS, Kind.CHANGED, "Words: “ruvido” in place of “dolce”."),
    ("a dynamic", BODY, direction("<dynamics><mf/></dynamics>") + BODY,
     Aspect.MARKS, Kind.ADDED, "Added: dynamic “mf”."),
    ("a pedal", direction("<pedal type='start'/>") + BODY, BODY,
     Aspect.MARKS, Kind.REMOVED, "Left out: pedal sign “begins”."),
    ("a hairpin", direction("<wedge type='crescendo'/>") + BODY,
     BODY[: len(note())] + direction("<wedge type='crescendo'/>") + BODY[len(note()) :],
     Aspect.MARKS, Kind.MOVED, "Hairpin “crescendo begins”: on beat 2 in place of beat 1."),
    ("a fingering", MARKED, MARKED.replace(">2<", ">3<"),
     Aspect.MARKS, Kind.CHANGED, "Fingering on C4: “3” in place of “2”."),
    ("an articulation", MARKED,
     MARKED.replace("</technical>", "</technical><articulations><accent/></articulations>"),
     Aspect.MARKS, Kind.ADDED, "Added: accent on C4."),
    ("a lyric", note("C4", "<lyric><text>sun</text></lyric>"),
     note("C4", "<lyric><text>moon</text></lyric>"),
     Aspect.MARKS, Kind.CHANGED, "Lyric on C4: “moon” in place of “sun”."),
    ("a chord symbol", "<harmony><root><root-step>G</root-step></root><kind>major</kind></harmony>"
     + BODY,
     "<harmony><root><root-step>G</root-step></root><kind>minor</kind></harmony>" + BODY,
     Aspect.MARKS, Kind.CHANGED, "Chord symbol: “G minor” in place of “G major”."),
    ("a repeat", BODY, BODY + "<barline><repeat direction='backward'/></barline>",
     Aspect.STRUCTURE, Kind.ADDED, "Added: repeat “ends”."),
    ("an ending", "<barline location='left'><ending number='1' type='start'/></barline>" + BODY,
     "<barline location='left'><ending number='1, 2' type='start'/></barline>" + BODY,
     Aspect.STRUCTURE, Kind.CHANGED, "Ending: “1, 2 begins” in place of “1 begins”."),
    ("a jump", BODY, BODY + direction("<words>D.C. al Fine</words>"),
     Aspect.STRUCTURE, Kind.ADDED, "Added: words about the order of play “D.C. al Fine”."),
    ("a tempo", direction("<words>Adagio</words>") + BODY,
     direction("<words>Presto</words>") + BODY,
     Aspect.STRUCTURE, Kind.CHANGED, "Tempo words: “Presto” in place of “Adagio”."),
    ("a page break", BODY, "<print new-page='yes'/>" + BODY,
     Aspect.LAYOUT, Kind.ADDED, "Added: page break."),
    ("a font", direction("<words>dolce</words>") + BODY,
     direction("<words font-style='italic'>dolce</words>") + BODY,
     Aspect.LAYOUT, Kind.CHANGED, "Words “dolce”: font-style italic (new)."),
    ("a beam", BODY, BODY.replace("</voice>", "</voice><beam>begin</beam>", 1),
     Aspect.LAYOUT, Kind.ADDED, "C4: beam 1 begin (new)."),
    ("an accidental shown", note(), note("C4", "<accidental>natural</accidental>"),
     Aspect.LAYOUT, Kind.ADDED, "C4: accidental shown natural (new)."),
]  # fmt: skip


@pytest.mark.parametrize(
    ("before", "after", "aspect", "kind", "sentence"),
    [change[1:] for change in CHANGES],
    ids=[change[0] for change in CHANGES],
)
def test_one_change_is_one_difference(
    before: str, after: str, aspect: Aspect, kind: Kind, sentence: str
) -> None:
    found = only(compared(sheet(BODY, before), sheet(BODY, after)))
    assert (found.aspect, found.kind, found.sentence) == (aspect, kind, sentence)
    assert found.place_after is not None
    assert (found.part, found.place_after.index, found.place_after.number) == ("P1", 1, "2")


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("<fifths>0<", "<fifths>-3<",
         "Key signature: “3 flats” in place of “no sharps or flats”."),
        ("<beats>4<", "<beats>3<", "Time signature: “3/4” in place of “4/4”."),
        ("<sign>G</sign><line>2<", "<sign>F</sign><line>4<",
         "Clef: “bass clef” in place of “treble clef”."),
    ],
)  # fmt: skip
def test_a_signature_is_told_where_it_changes_and_not_in_every_measure(
    old: str, new: str, sentence: str
) -> None:
    found = only(
        compared(sheet(BODY, BODY), sheet(BODY, BODY, first=ATTRIBUTES.replace(old, new)))
    )
    assert (found.aspect, found.sentence) == (Aspect.STRUCTURE, sentence)


def test_titles_names_and_parts_are_the_head() -> None:
    head = "<work><work-title>{}</work-title></work>"
    before = sheet(BODY, head=head.format("Dawn"), name="Flute")
    after = sheet(BODY, head=head.format("Dusk"), name="Oboe")
    found = compared(before, after)
    assert found.verdict is Verdict.HEAD
    assert [(d.aspect, d.sentence) for d in found.differences] == [
        (Aspect.HEAD, "Title of the work: “Dusk” in place of “Dawn”."),
        (Aspect.HEAD, "Part name: “Oboe” in place of “Flute”."),
    ]


def test_a_note_in_a_long_piece_is_found_exactly() -> None:
    raw = public_score(PIECE)
    document = Document.read(raw, "x")
    notes = [n for n in document.root.iter("note") if n.find("pitch") is not None]
    for chosen in notes[5::97]:
        mark = document.mark()
        octave = next(chosen.iter("octave"))
        document.set_text(octave, str(int(octave.text) + 1))
        found = only(compared(raw, document.to_bytes()))
        document.rollback(mark)
        measure = chosen.parent
        assert measure is not None
        key = f"n{measure.find_all('note').index(chosen)}"
        assert (found.kind, found.sentence.split(" is moved ")[1][:12]) == (
            Kind.OCTAVE,
            "up an octave",
        )
        assert found.notes_before == found.notes_after
        assert [str(n) for n in found.notes_after] == [
            f"P1/{int(measure.attrs['number']) - 1}/{key}"
        ]


def test_a_chord_that_loses_its_first_note_keeps_its_signs() -> None:
    sign = "<notations><fermata/></notations>"
    before = note("C4", sign) + note("E4", before="<chord/>")
    found = only(compared(sheet(before), sheet(note("E4", sign))))
    assert found.sentence == "Left out: C4, a quarter."


def test_drums_are_compared_by_their_lines() -> None:
    stroke = (
        "<note><unpitched><display-step>E</display-step><display-octave>{}</display-octave>"
        "</unpitched><duration>4</duration><voice>1</voice></note>"
    )
    low, high = stroke.format(4), stroke.format(5)
    found = only(compared(sheet(low + low + low), sheet(low + high + low)))
    assert (found.aspect, found.beat) == (Aspect.NOTES, "beat 2")
    removed = only(compared(sheet(low + low + low), sheet(low + low)))
    assert (removed.aspect, removed.kind, removed.beat) == (Aspect.NOTES, Kind.REMOVED, "beat 3")


HOSTILE = "<script>alert(1)</script><img src=x onerror=alert(2)>|`*[x](javascript:alert(3))"
ESCAPED = HOSTILE.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


class TestForms:
    def hostile(self) -> Comparison:
        lyric = f"<lyric><text>{ESCAPED}</text></lyric>"
        words = direction(f"<words>{ESCAPED}\u009b31m\u202e</words>")
        head = f"<work><work-title>{ESCAPED}</work-title></work>"
        after = sheet(words + note("C4", lyric), head=head, name=ESCAPED)
        return compare(sheet(note("C4")), after, (f"{HOSTILE}.xml", "</title>b.xml"))

    def test_hostile_text_stays_text_in_markdown(self) -> None:
        text = as_markdown(self.hostile())
        assert r"\<script\>alert\(1\)" in text
        rows = [line for line in text.splitlines() if line.startswith("|")]
        assert rows
        assert all(row.replace(r"\|", "").count("|") == 3 for row in rows)

    def test_nothing_steers_the_screen(self) -> None:
        assert all(c.isprintable() or c == "\n" for c in as_text(self.hostile()))

    def test_the_record_names_place_and_notes(self) -> None:
        found = as_json(compared(sheet(BODY), sheet(BODY.replace("<step>G", "<step>A"))))
        assert json.loads(json.dumps(found)) == found
        assert (found["format"], found["version"]) == ("leverwright-comparison", 1)
        assert found["verdict"] == "different"
        assert found["counts"]["notes"] == 1
        assert found["differences"] == [
            {
                "class": "notes",
                "kind": "changed",
                "part": "P1",
                "also": [],
                "place_before": {"index": 0, "measure": "1"},
                "place_after": {"index": 0, "measure": "1"},
                "offset": "2",
                "beat": "beat 3",
                "staff": 1,
                "voice": "1",
                "before": "G4",
                "after": "A4",
                "sentence": "G4 becomes A4 (up a major second).",
                "notes_before": ["P1/0/n2"],
                "notes_after": ["P1/0/n2"],
            }
        ]

    def test_equal_scores_say_so_in_every_form(self) -> None:
        found = compared(sheet(BODY), sheet(BODY))
        for text in (as_text(found), as_markdown(found)):
            assert "The two files are identical, byte for byte." in text
