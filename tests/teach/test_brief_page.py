"""The page as text: all on it, nothing of a score carried out, the same bytes every time."""

import io
import re
import shutil
from pathlib import Path

import mido
import pytest
from lessons import SCORES, converted, lesson_of, short_lesson

from arrange.cli import main
from arrange.report.result_files import result_files
from arrange.report.summary import summary
from arrange.teach import PageSettings, lesson_page, practice_files
from arrange.teach.budget import printed
from arrange.teach.sections import facts, sections
from arrange.teach.sound import count_in

SETTINGS = PageSettings("nocturne.musicxml", "concert")


@pytest.fixture(scope="module")
def page() -> str:
    return lesson_page(lesson_of("nocturne-d-flat"), SETTINGS)


def test_the_page_has_the_same_bytes_every_time_and_loads_nothing(page: str) -> None:
    assert lesson_page(lesson_of("nocturne-d-flat"), SETTINGS) == page
    assert "default-src 'none'" in page
    assert not re.search(r'(?:src|href)="(?!#|data:)', page)
    assert "://" not in page.replace("http://www.w3.org/2000/svg", "")


def test_every_move_is_on_paper_at_length_or_in_short(page: str) -> None:
    made = lesson_of("nocturne-d-flat")
    text = re.sub(r"<[^>]+>", " ", page)
    parts = sections(made)
    (moves,) = [part for part in parts if part.name == "moves"]
    shown = printed(parts, 80).items["moves"]
    assert 0 < shown <= len(moves.items)
    on_paper = " ".join(re.findall(r'<p class="paper">(.*?)</p>', page))
    at_length = len(re.findall(r'<li class="screen"><b>m\.', page.partition('id="moves"')[2]))
    for place, item in enumerate(moves.items):
        assert item.lead in text
        if place >= len(moves.items) - at_length and "hard" not in item.lead:
            assert item.short.rstrip(".") in on_paper or place < shown


def test_the_tempo_is_said_in_beats() -> None:
    assert "50 dotted quarters a minute" in facts(lesson_of("nocturne-d-flat"), "concert")
    assert "108 quarters a minute" in facts(lesson_of("march-tin-lanterns"), "concert")


def test_beside_another_player_the_melody_is_called_the_harps_own_line() -> None:
    said = next(s.lines for s in sections(lesson_of("siciliana-flute-harp")) if s.name == "key")
    assert any(line.startswith("With Flute: what stands below") for line in said)
    alone = next(s.lines for s in sections(lesson_of("nocturne-d-flat")) if s.name == "key")
    assert not any(line.startswith("With ") for line in alone)


def test_what_paper_has_no_room_for_is_named_in_short() -> None:
    for part in sections(lesson_of("nocturne-d-flat")):
        if part.name in ("techniques", "hard", "moves", "glissandi", "ideas"):
            assert all(item.short for item in part.items)


def test_cautions_stand_on_every_page(page: str) -> None:
    for words in ("Never tune a string above", "Pain is a reason to stop", "needs its owner"):
        assert words in page


def test_practice_files_are_a_hand_each_and_both_at_three_paces() -> None:
    files = practice_files(lesson_of("nocturne-d-flat").piece, "nocturne")
    assert [f.name for f in files][:3] == [
        "nocturne.right.60.mid",
        "nocturne.right.80.mid",
        "nocturne.right.100.mid",
    ]
    assert len(files) == 9
    tracks = {f.hand: [t.name for t in mido.MidiFile(file=io.BytesIO(f.content)).tracks]
              for f in files}  # fmt: skip
    assert "Left hand" not in tracks["right"]
    assert {"Left hand", "Right hand"} <= set(tracks["both"])


def test_a_measure_is_counted_in_and_more_before_an_upbeat() -> None:
    counts = count_in(lesson_of("march-tin-lanterns").piece)
    measures = lesson_of("march-tin-lanterns").piece.measures
    assert measures[0].length < measures[0].meter.length
    beats = [int(beats) for _, beats in counts]
    assert beats[0] > beats[1] == measures[1].meter.beats


def test_slow_beats_of_three_parts_are_counted_in_their_parts() -> None:
    (slow, beats), *_ = count_in(short_lesson("key=0 time=6/8 tempo=66 | C5q. E5q.").piece)
    assert slow == pytest.approx(60 / 132, abs=0.001)
    assert beats == 6
    (quick, beats), *_ = count_in(short_lesson("key=0 time=6/8 tempo=126 | C5q. E5q.").piece)
    assert quick == pytest.approx(60 / 84, abs=0.001)
    assert beats == 2


def written(folder: Path, name: str) -> Path:
    """A result with its log beside it."""
    made = converted(name)
    result = folder / f"{name}.musicxml"
    record = summary(made, result_name=result.name)
    for ending, content in result_files(made, record).items():
        result.with_name(f"{name}.{ending}" if ending else result.name).write_bytes(content)
    return result


def test_the_command_writes_the_page_and_the_sound(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    result = written(tmp_path, "barcarolle-glissandi")
    assert main(["brief", str(result), "--midi", str(tmp_path / "sound")]) == 3
    said = capsys.readouterr()
    assert "levers as the page says" in said.out
    assert len(list((tmp_path / "sound").glob("*.mid"))) == 9
    text = result.with_name("barcarolle-glissandi.brief.html").read_text("utf-8")
    assert "Other ways that were weighed" in text
    assert main(["brief", str(result), "-o", str(tmp_path / "again.html")]) == 3
    assert (tmp_path / "again.html").read_text("utf-8") == text


def test_the_log_of_another_file_is_left_aside(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    result = written(tmp_path, "barcarolle-glissandi")
    result.write_bytes(result.read_bytes().replace(b"Barcarolle in G flat", b"Barcarolle"))
    assert main(["brief", str(result)]) == 3
    assert "is the log of another file" in capsys.readouterr().err
    text = result.with_name("barcarolle-glissandi.brief.html").read_text("utf-8")
    assert "Other ways that were weighed" not in text


def test_a_score_of_others_is_played_with_the_levers_set_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source = tmp_path / "skylight.musicxml"
    shutil.copy(SCORES / "skylight-piano.musicxml", source)
    assert main(["brief", str(source), "--harp", "lever-36"]) == 3
    assert "levers set once" in capsys.readouterr().out
    text = (tmp_path / "skylight.brief.html").read_text("utf-8")
    assert "This score was not made for this harp" in text
    assert "lever-36: 36 strings" in text


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["-o", "lesson.pdf"], "lesson.pdf: the lesson is a page; use the ending .html"),
        (["--harp", "no-such"], "there is no harp 'no-such'"),
    ],
)
def test_what_is_asked_wrongly_is_refused_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], options: list[str], said: str
) -> None:
    source = tmp_path / "lullaby.musicxml"
    shutil.copy(SCORES / "lullaby-windy-night.musicxml", source)
    assert main(["brief", str(source), *options]) == 2
    told = capsys.readouterr().err
    assert said in told
    assert told.count("\n") == 1
    assert not list(tmp_path.glob("*.html"))


def test_a_result_for_a_harp_that_does_not_ship_asks_for_its_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    result = written(tmp_path, "minuet-da-capo")
    result.write_bytes(result.read_bytes().replace(b">lever-34<", b">my-own<"))
    assert main(["brief", str(result)]) == 2
    assert "give their files with --harp and --book" in capsys.readouterr().err
