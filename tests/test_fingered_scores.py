"""Whole conversions with fingering: everything that is promised without it holds with it."""

import hashlib
import json
from pathlib import Path

import notation as short
import pytest
from referee import judge
from schema import schema_faults

from arrange.apply.transaction import Transaction
from arrange.audit import audit
from arrange.changes import Change, ChangeLog, Fidelity, Outcome, Where, from_lines, to_lines
from arrange.edits import AddBracket, AddFingering, Edit, MarkValue
from arrange.harp.files import load_harp
from arrange.pipeline import Conversion, Settings, convert
from arrange.pitch import UNISON
from arrange.registry import installed
from arrange.report.summary import summary
from arrange.rulebook import load_rulebook
from arrange.score.container import Source, read_source, read_source_bytes
from arrange.score.document import Document
from arrange.score.model import Score, Sign
from arrange.score.reading import Reading
from arrange.units import Quarters

CORPUS = Path(__file__).parents[1] / "corpus"
NAMES = (
    "bells-three-staves.mxl",  # staves that share a hand
    "chorale-evening-bell.musicxml",  # two voices a staff
    "etude-staircase.musicxml",  # scales
    "march-tin-lanterns.musicxml",  # measures that repeat others
    "nocturne-d-flat.musicxml",  # runs in place of glissandi
    "siciliana-flute-harp.musicxml",  # another instrument
    "skylight-piano.musicxml",  # a pianist's fingers
    "waltz-slow-afternoon.musicxml",  # figures that come back
)
SCORES = [CORPUS / name for name in NAMES]


def _settings(book: str = "concert", *, is_asked: bool = True, harp: str = "lever-34") -> Settings:
    asked = ("write-fingering",) if is_asked else ()
    return Settings(load_harp(harp).harp, load_rulebook(book, installed(), asked=asked))


def _source(conversion: Conversion, name: str) -> Source:
    return read_source_bytes(conversion.result, name)


@pytest.fixture(scope="module", params=SCORES, ids=[path.stem for path in SCORES])
def fingered(request: pytest.FixtureRequest) -> tuple[Path, Conversion]:
    path: Path = request.param
    return path, convert(read_source(path), _settings())


def test_a_fingered_result_is_sound_and_valid(fingered: tuple[Path, Conversion]) -> None:
    path, conversion = fingered
    assert conversion.violations == ()
    assert conversion.unlogged == ()
    assert schema_faults(_source(conversion, path.name).score_bytes) == []
    written = [c for c in conversion.log.applied() if c.rule == "write-fingering"]
    assert written
    assert {e.outcome for e in conversion.log.entries if e.change.rule == "write-fingering"} == {
        Outcome.APPLIED
    }


def test_a_fingered_result_satisfies_the_referee(
    fingered: tuple[Path, Conversion], tmp_path: Path
) -> None:
    path, conversion = fingered
    result, told = tmp_path / path.name, tmp_path / "told.json"
    result.write_bytes(conversion.result)
    source_sha = hashlib.sha256(path.read_bytes()).hexdigest()
    record = summary(conversion, result_name=path.name, source_sha256=source_sha)
    told.write_text(json.dumps(record), encoding="utf-8")
    assert judge(path, result, told) == []


def test_a_second_conversion_writes_the_same_bytes(fingered: tuple[Path, Conversion]) -> None:
    path, conversion = fingered
    again = convert(_source(conversion, path.name), _settings())
    assert again.is_again
    assert again.log.entries == []
    assert again.result == conversion.result


def test_fingering_that_is_asked_for_later_is_the_same() -> None:
    path = CORPUS / "nocturne-d-flat.musicxml"
    plain = convert(read_source(path), _settings(is_asked=False))
    later = convert(_source(plain, path.name), _settings())
    assert later.is_sound
    assert later.result == convert(read_source(path), _settings()).result
    assert b"<fingering" not in plain.result


def test_the_log_comes_back_from_its_lines(fingered: tuple[Path, Conversion]) -> None:
    _, conversion = fingered
    assert from_lines(to_lines(conversion.log, {})).entries == conversion.log.entries


def _fingers(score: Score) -> dict[str, list[str]]:
    """Pitch to the fingers that stand at it, in order."""
    found: dict[str, list[str]] = {}
    for part in score.parts:
        for measure in part.measures:
            for note in measure.notes:
                signs = [sign.text for sign in note.signs(Sign.FINGERING)]
                found.setdefault(str(note.pitch), []).extend(signs)
    return found


def _converted(text: str, book: str = "concert", harp: str = "lever-34") -> Conversion:
    source = read_source_bytes(short.to_musicxml(text), "example.musicxml")
    return convert(source, _settings(book, harp=harp))


def test_a_harpists_fingers_stay_where_the_notes_stay() -> None:
    result = _converted("key=0 tempo=60 | C5(4)h E5h | G5q F5q E5(1)h").score
    fingers = _fingers(result)
    assert fingers["C5"] == ["4"]
    assert "1" in fingers["E5"]


def test_a_pianists_fingers_go_and_ours_take_their_place_and_stay() -> None:
    text = "key=0 tempo=60 name=Piano | C5(1)q E5(2)q G5(3)h | C5(1)+E5(3)+G5(5)w"
    once = _converted(text)
    assert _fingers(once.score) == {"C5": ["3", "3"], "E5": ["2", "2"], "G5": ["1", "1"]}
    source = read_source_bytes(once.result, "example.musicxml")
    other = convert(source, _settings(harp="lever-36"))
    assert _fingers(other.score) == _fingers(once.score)


def test_a_finger_goes_with_the_string_that_it_was_written_for() -> None:
    """The bass note has no string and moves up: the finger that it had is no longer right."""
    moved = _converted("key=0 tempo=60\nRH: C5w\nLH: A1(2)h E3h", harp="lever-34")
    low = {pitch: row for pitch, row in _fingers(moved.score).items() if pitch == "A2"}
    rules = {c.rule for c in moved.log.applied()}
    assert "fold-into-compass" in rules
    assert low in ({"A2": ["3"]}, {"A2": ["2"]})


def test_a_book_that_changes_nothing_can_still_be_fingered() -> None:
    result = _converted("key=0 tempo=60 | C5+E5+G5w", book="none")
    assert _fingers(result.score) == {"C5": ["3"], "E5": ["2"], "G5": ["1"]}
    assert result.is_sound


TWO_VOICES = "key=0 tempo=60\nRH: G5h rh\nRH2: rh C5h\nLH: C3w"


def _offered(text: str, edits: tuple[Edit, ...]) -> tuple[bytes, bytes, ChangeLog]:
    source = short.to_musicxml(text)
    document = Document.read(source, "example.musicxml")
    log = ChangeLog()
    with Transaction(document, Reading(document), log) as transaction:
        where = Where("P1", 0, "1", Quarters(0), 1)
        transaction.offer(Change("by-hand", where, "Said.", Fidelity.EXACT, edits))
    return source, document.to_bytes(), log


def _ends(start: int, stop: int) -> tuple[AddBracket, AddBracket]:
    one, two = (
        AddBracket(
            "P1", f"leverwright.b.{end}", 3, MarkValue(0, Quarters(at), 1, f"bracket {end}")
        )
        for end, at in (("start", start), ("stop", stop))
    )
    return one, two


def test_a_bracket_that_begins_in_a_later_voice_does_not_end_before_it_in_the_file() -> None:
    _, result, log = _offered(TWO_VOICES, _ends(2, 3))
    assert log.entries[0].outcome is Outcome.APPLIED
    assert result.index(b'type="start" number="3"') < result.index(b'type="stop" number="3"')
    marks = Reading(Document.read(result, "x")).score().measure("P1", 0).marks
    assert [(mark.text, mark.offset) for mark in marks] == [
        ("bracket start", Quarters(2)),
        ("bracket stop", Quarters(3)),
    ]


@pytest.mark.parametrize(
    ("was", "becomes"),
    [
        (b">4</fingering>", b">3</fingering>"),
        (b'type="stop" number="3"', b'type="continue" number="3"'),
        (b'<fingering placement="above">4</fingering>', b""),
    ],
)
def test_fingers_and_brackets_beside_their_entries_are_told(was: bytes, becomes: bytes) -> None:
    score = short.read(TWO_VOICES).score()
    low = score.measure("P1", 0).notes[0]
    finger = AddFingering(low.id, MarkValue(0, low.offset, 1, "4"))
    source, result, log = _offered(TWO_VOICES, (finger, *_ends(0, 1)))
    assert audit(source, result, log, UNISON, ()) == ()
    assert was in result
    assert audit(source, result.replace(was, becomes), log, UNISON, ()) != ()
