"""What runs with spoiled scores have found: small cases, one for each kind of fault."""

import io
import zipfile

import pytest

from arrange.errors import BadInput
from arrange.score.container import read_source_bytes, write_result
from arrange.score.document import Document
from arrange.score.own import PREFIX, OwnCue, OwnNotes
from arrange.score.reading import Reading

NOTE = "<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration></note>"


def _score(note: str, head: str = "") -> bytes:
    measure = f'<measure number="7">{head}{NOTE}{note}</measure>'
    return f"<score-partwise><part id='P1'>{measure}</part></score-partwise>".encode()


def _archive(*members: str) -> bytes:
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w") as packed:
        for member in members:
            packed.writestr(zipfile.ZipInfo(member), _score(NOTE))
    return written.getvalue()


def _read(raw: bytes) -> None:
    Reading(Document.read(raw, "x.musicxml"), parts=None).score()


UNMEANT = {
    "two pitches": (
        NOTE.replace("<duration>", "<pitch><step>D</step><octave>5</octave></pitch><duration>"),
        "a note has <pitch> twice",
    ),
    "an empty pitch and another": (NOTE.replace("<pitch>", "<pitch/><pitch>"), "<pitch> twice"),
    "two durations": (
        NOTE.replace("</note>", "<duration>2</duration></note>"),
        "<duration> twice",
    ),
    "two alterations": (
        NOTE.replace("<octave>", "<alter>-1</alter><alter>1</alter><octave>"),
        "the pitch of a note says the same twice",
    ),
    "two letters": (NOTE.replace("<octave>", "<step>D</step><octave>"), "says the same twice"),
    "more decimals than are read": (
        NOTE.replace("<duration>1<", "<duration>0.3333333333333333333333333333<"),
        "a duration has too many decimals",
    ),
    "a pitch and a rest": (NOTE.replace("<pitch>", "<rest/><pitch>"), "is a rest at once"),
}


@pytest.mark.parametrize("title", UNMEANT)
def test_a_note_that_cannot_be_meant_is_refused(title: str) -> None:
    note, sentence = UNMEANT[title]
    _read(_score(NOTE))
    with pytest.raises(BadInput, match=f"part P1, measure 7: .*{sentence}"):
        _read(_score(note))


@pytest.mark.parametrize("mark", [b"\xef\xbb\xbf", b"\n"])
def test_two_bytes_a_sign_behind_the_mark_of_another_encoding_are_refused(mark: bytes) -> None:
    with pytest.raises(BadInput, match="zero bytes"):
        _read(mark + _score(NOTE).decode().encode("utf-16-le"))


def test_a_length_with_the_decimals_of_a_floating_number_is_read() -> None:
    _read(_score(NOTE.replace("<duration>1<", "<duration>0.33333333333333331<")))
    _read(_score(NOTE.replace("<duration>1<", f"<duration>1.5{'0' * 40}<")))


def test_a_note_may_have_several_dots_beams_and_notations() -> None:
    several = "<dot/><dot/><beam>begin</beam><beam>begin</beam><notations/><notations/></note>"
    _read(_score(NOTE.replace("</note>", several)))


@pytest.mark.parametrize(
    "own",
    [
        *("cue.x.C4.up.left.0.1.all", "cue.1.C4.high.left.0.1.all", "cue.1.C4.up.foot.0.1.all"),
        *("cue.1.C4.up.left.0.1_0.all", "cue.1.C4.up.left.0.1e999999999.all", "cue.1.C4.up"),
        *("cue.1.C4.up.left.0.1.0-x", "cue.1.C4.up.left.-9.1.all", "open.x.C4", "open.1.Q"),
        *(
            "open.1.C4-",
            "open.1.-C4",
            "take-right.3.Cs",
            "tones.1.Csssssss4",
            "open.1." + "C4-" * 99,
        ),
    ],
)
def test_an_id_of_ours_that_was_spoiled_says_nothing(own: str) -> None:
    assert OwnCue.parse(PREFIX + own) is None
    assert OwnNotes.parse(PREFIX + own) is None
    words = "<direction-type><words>F\u266f</words></direction-type>"
    _read(_score(f"<direction id='{PREFIX}{own}'>{words}</direction>"))


def test_a_measure_that_moves_up_is_read_again() -> None:
    measures = "".join(f'<measure number="{n}">{NOTE * n}</measure>' for n in (1, 2, 3))
    raw = f"<score-partwise><part id='P1'>{measures}</part></score-partwise>".encode()
    document = Document.read(raw, "x.musicxml")
    reading = Reading(document, parts=None)
    reading.score()
    mark = document.mark()
    document.remove(reading.measure_node("P1", 1))
    read = [(m.number, len(m.notes)) for m in reading.score().parts[0].measures]
    assert read == [("1", 1), ("3", 3)]
    document.rollback(mark)
    assert [len(m.notes) for m in reading.score().parts[0].measures] == [1, 2, 3]


@pytest.mark.parametrize("name", ["", ".", "/"])
def test_members_without_a_name_are_left_alone(name: str) -> None:
    raw = _archive(name, "score.xml")
    source = read_source_bytes(raw, "x.mxl")
    assert source.score_bytes == _score(NOTE)
    changed = write_result(source, _score(""))
    assert read_source_bytes(changed, "x.mxl").score_bytes == _score("")
