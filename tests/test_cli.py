"""The command line: what it writes and where, what it says and on which stream, exit codes."""

import io
import json
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from notation import to_musicxml

from arrange.cli import main
from arrange.cli.codes import ExitCode, worst
from arrange.cli.streams import Progress
from arrange.harp.files import harp_names
from arrange.pipeline import Conversion
from arrange.score.container import read_source

EASY = "key=-3 tempo=60 name=Harp\nRH: G4q F4q Eb4q C4q | Eb4w\nLH: C3w | Ab2w"
HARD = "key=-3 tempo=160 name=Harp\nRH: C5e C#5e C5e C#5e C5e C#5e C5e C#5e\nLH: C3w"
BESIDE = ("changes.jsonl", "summary.json")


@pytest.fixture
def easy(tmp_path: Path) -> Path:
    return _score(tmp_path / "easy.musicxml", EASY)


@pytest.fixture
def hard(tmp_path: Path) -> Path:
    return _score(tmp_path / "hard.xml", HARD)


def _score(path: Path, text: str) -> Path:
    path.write_bytes(to_musicxml(text))
    return path


def _names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


class TestConvert:
    def test_writes_result_log_and_summary_beside_the_score(self, easy: Path) -> None:
        assert main(["convert", str(easy)]) == 0
        assert _names(easy.parent) == [
            "easy.lever.changes.jsonl",
            "easy.lever.musicxml",
            "easy.lever.summary.json",
            "easy.musicxml",
        ]

    def test_writes_where_it_is_told_to(self, easy: Path, tmp_path: Path) -> None:
        out = tmp_path / "new" / "folder" / "song.musicxml"
        assert main(["convert", str(easy), "-o", str(out)]) == 0
        assert _names(out.parent) == ["song.changes.jsonl", "song.musicxml", "song.summary.json"]

    def test_puts_a_single_one_into_a_folder_that_is_named_as_one(
        self, easy: Path, tmp_path: Path
    ) -> None:
        assert main(["convert", str(easy), "-o", f"{tmp_path}/results/"]) == 0
        assert "easy.musicxml" in _names(tmp_path / "results")

    def test_names_files_in_the_summary_as_they_are_on_disk(self, easy: Path) -> None:
        main(["convert", str(easy)])
        told = json.loads(easy.with_name("easy.lever.summary.json").read_text("utf-8"))
        assert told["source"]["file"] == "easy.musicxml"
        assert told["result"]["file"] == "easy.lever.musicxml"

    def test_book_none_gives_the_source_byte_for_byte(self, easy: Path) -> None:
        assert main(["convert", str(easy), "--book", "none"]) == 0
        assert easy.with_name("easy.lever.musicxml").read_bytes() == easy.read_bytes()

    def test_puts_several_into_a_folder_under_their_names(
        self, easy: Path, hard: Path, tmp_path: Path
    ) -> None:
        out = tmp_path / "out"
        main(["convert", str(easy), str(hard), "-o", str(out)])
        assert {"easy.musicxml", "hard.xml"} <= set(_names(out))

    def test_writes_the_good_ones_and_returns_the_worst_code(
        self, easy: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        broken = tmp_path / "broken.musicxml"
        broken.write_text("<score-partwise>")
        out = tmp_path / "out"
        code = main(["convert", str(broken), str(easy), "-o", str(out)])
        assert code == ExitCode.MISUSE
        assert "easy.musicxml" in _names(out)
        assert not any(name.startswith("broken") for name in _names(out))
        assert capsys.readouterr().err.startswith("leverwright: broken.musicxml")

    def test_returns_3_and_names_the_place_where_open_points_remain(
        self, hard: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        code = main(["convert", str(hard), "--key", "keep", "--fidelity", "exact"])
        assert code == ExitCode.OPEN
        assert "measure 1" in capsys.readouterr().out
        told = json.loads(hard.with_name("hard.lever.summary.json").read_text("utf-8"))
        assert told["open"]

    def test_never_overwrites_its_source(
        self, easy: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        before = easy.read_bytes()
        assert main(["convert", str(easy), "-o", str(easy)]) == ExitCode.MISUSE
        assert "overwrite" in capsys.readouterr().err
        assert easy.read_bytes() == before
        assert _names(easy.parent) == ["easy.musicxml"]

    def test_refuses_two_results_of_one_name(
        self, easy: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        other = tmp_path / "elsewhere" / "easy.musicxml"
        other.parent.mkdir()
        other.write_bytes(easy.read_bytes())
        out = tmp_path / "out"
        assert main(["convert", str(easy), str(other), "-o", str(out)]) == ExitCode.MISUSE
        assert "the same name" in capsys.readouterr().err

    def test_puts_a_plain_score_into_an_archive_and_takes_one_out(
        self, easy: Path, tmp_path: Path
    ) -> None:
        packed, plain = tmp_path / "a" / "easy.mxl", tmp_path / "b" / "easy.musicxml"
        assert main(["convert", str(easy), "--book", "none", "-o", str(packed)]) == 0
        assert read_source(packed).score_bytes == easy.read_bytes()
        assert zipfile.is_zipfile(packed)
        assert main(["convert", str(packed), "--book", "none", "-o", str(plain)]) == 0
        assert plain.read_bytes() == easy.read_bytes()

    def test_keeps_a_result_that_fails_its_own_check_as_rejected(
        self, easy: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        monkeypatch.setattr(Conversion, "is_sound", False)
        assert main(["convert", str(easy)]) == ExitCode.FAULT
        assert "easy.lever.rejected" in _names(easy.parent)
        assert "easy.lever.musicxml" not in _names(easy.parent)
        assert "is kept as" in capsys.readouterr().err

    def test_a_fault_of_the_program_is_one_line_and_code_1(
        self, easy: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        def fail(*_: object) -> None:
            raise ZeroDivisionError("planted")

        monkeypatch.setattr("arrange.pipeline.work.Work.conversion", fail)
        assert main(["convert", str(easy)]) == ExitCode.FAULT
        said = capsys.readouterr().err
        assert said.count("\n") == 1
        assert "ZeroDivisionError: planted" in said
        assert _names(easy.parent) == ["easy.musicxml"]

    def test_a_second_run_on_a_result_writes_the_same_bytes(
        self, easy: Path, tmp_path: Path
    ) -> None:
        once, twice = tmp_path / "once.musicxml", tmp_path / "twice.musicxml"
        main(["convert", str(easy), "-o", str(once)])
        assert main(["convert", str(once), "-o", str(twice)]) == 0
        assert twice.read_bytes() == once.read_bytes()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["convert", "{}", "--key", "sideways"], "--key takes auto, keep or an interval"),
        (["convert", "{}", "--tempo", "fast"], "--tempo fast is no tempo"),
        (["convert", "{}", "--harp", "kazoo"], "there is no harp 'kazoo'"),
        (["convert", "{}", "--book", "kazoo"], "there is no rule book 'kazoo'"),
        (["convert", "{}", "--part", "Tuba"], "Tuba"),
        (["convert", "{}", "--fidelity", "none"], "--fidelity"),
        (["convert", "nowhere.musicxml"], "nowhere.musicxml: there is no such file"),
        (["convert", "{}", "--colour"], "--colour"),
        (["convert"], "SCORE"),
        (["check", "{}", "--summary", "{}"], "is no JSON file"),
        (["rules", "play-louder"], "there is no rule or rule book 'play-louder'"),
        (["harps", "kazoo"], "there is no harp 'kazoo'"),
        ([], "--help"),
    ],
)
def test_bad_usage_is_one_line_on_stderr_and_code_2(
    words: list[str], said: str, easy: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([word.format(easy) for word in words]) == ExitCode.MISUSE
    streams = capsys.readouterr()
    assert streams.out == ""
    assert streams.err.count("\n") == 1
    assert streams.err.startswith("leverwright: ")
    assert said in streams.err
    assert _names(easy.parent) == ["easy.musicxml"]


def test_a_downward_interval_is_taken_as_a_value(easy: Path) -> None:
    assert main(["convert", str(easy), "--key", "-P4"]) in {ExitCode.DONE, ExitCode.OPEN}
    told = json.loads(easy.with_name("easy.lever.summary.json").read_text("utf-8"))
    assert told["key"]["transposition"] == {"semitones": -5, "interval": "-P4"}


class TestFit:
    def test_writes_nothing_and_weighs_thirteen_keys(
        self, easy: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert main(["fit", str(easy), "--json"]) == 0
        told = json.loads(capsys.readouterr().out)
        assert [h["name"] for h in told["harps"]] == ["lever-34"]
        ranking = told["harps"][0]["ranking"]
        assert sorted(key["semitones"] for key in ranking) == list(range(-6, 7))
        costs = [key["cost"] for key in ranking]
        assert costs == sorted(costs)
        assert _names(easy.parent) == ["easy.musicxml"]

    def test_several_harps_share_the_key_with_the_least_summed_price(
        self, easy: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert main(["fit", str(easy), "--harp", "lever-22-C", "--harp", "all", "--json"]) == 0
        told = json.loads(capsys.readouterr().out)
        assert [h["name"] for h in told["harps"]] == ["lever-22-C", *harp_names()]
        sums = {
            n: sum(
                key["cost"] for h in told["harps"] for key in h["ranking"] if key["semitones"] == n
            )
            for n in range(-6, 7)
        }
        assert told["best"]["cost"] == min(sums.values())
        assert sums[told["best"]["semitones"]] == told["best"]["cost"]

    def test_a_level_weighs_the_piece_as_light_as_it_will_be(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        """A note that the level leaves out needs no lever."""
        text = "key=0 name=Harp\nRH: E5w | C#5w | E5w\nLH: E3+C4w | E3+A3+C#4w | E3+C4w"
        score = _score(tmp_path / "full.musicxml", text)
        assert main(["fit", str(score), "--book", "beginner", "--json"]) == 0
        told = json.loads(capsys.readouterr().out)
        assert main(["convert", str(score), "--book", "beginner"]) == 0
        summary = json.loads(score.with_name("full.lever.summary.json").read_text("utf-8"))
        near = [k for k in told["harps"][0]["ranking"] if abs(k["semitones"]) <= 4]
        best = summary["key"]["ranking"][0]
        assert (near[0]["semitones"], near[0]["cost"]) == (best["semitones"], best["cost"])

    def test_says_it_in_a_table_too(self, easy: Path, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["fit", str(easy)]) == 0
        said = capsys.readouterr().out
        assert "E-flat major" in said or "Eb major" in said
        assert "as it is" in said


class TestCheck:
    def test_a_result_is_playable(self, easy: Path, capsys: pytest.CaptureFixture[str]) -> None:
        main(["convert", str(easy)])
        capsys.readouterr()
        result = easy.with_name("easy.lever.musicxml")
        summary = easy.with_name("easy.lever.summary.json")
        assert main(["check", str(result)]) == 0
        assert main(["check", str(result), "--summary", str(summary)]) == 0
        assert "playable on lever-34" in capsys.readouterr().out

    def test_names_what_cannot_be_had_and_returns_3(
        self, hard: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert main(["check", str(hard), "--json"]) == ExitCode.OPEN
        told = json.loads(capsys.readouterr().out)
        assert told["playable"] is False
        assert told["violations"][0]["measure"] == "1"


class TestLists:
    def test_harps_names_every_harp(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["harps"]) == 0
        said = capsys.readouterr().out
        assert all(name in said for name in harp_names())

    def test_a_harp_is_shown_string_by_string(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["harps", "lever-34"]) == 0
        assert "Eb4/E4" in capsys.readouterr().out

    def test_rules_names_rules_and_books(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["rules"]) == 0
        said = capsys.readouterr().out
        assert "set-levers" in said
        assert "concert" in said

    def test_a_rule_and_a_book_are_shown(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["rules", "set-levers"]) == 0
        assert "When it holds back" in capsys.readouterr().out
        assert main(["rules", "concert"]) == 0
        assert "Prices" in capsys.readouterr().out


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_progress_is_shown_on_a_terminal_only_and_taken_away(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for stream, is_shown in ((_Terminal(), True), (io.StringIO(), False)):
        monkeypatch.setattr("sys.stderr", stream)
        progress = Progress()
        progress("weighing keys")
        progress("checking")
        progress.clear()
        assert ("weighing keys" in stream.getvalue()) is is_shown
        assert stream.getvalue().rpartition("\r")[2] == ""


def test_the_worst_code_is_the_one_that_tells_most() -> None:
    done, fault, misuse, left_open = ExitCode.DONE, ExitCode.FAULT, ExitCode.MISUSE, ExitCode.OPEN
    assert worst([done, left_open]) is left_open
    assert worst([left_open, misuse, done]) is misuse
    assert worst([misuse, fault, left_open]) is fault
    assert worst([]) is done


def test_the_help_is_shown_without_loading_the_engine() -> None:
    program = (
        "import sys; from arrange.cli import main; main(['--help']); "
        "print(sorted(m for m in sys.modules if m.startswith(('arrange.', 'music21', 'rich'))))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    loaded = done.stdout.splitlines()[-1]
    assert "arrange.cli.convert" in loaded
    for heavy in ("arrange.score", "arrange.pipeline", "music21", "rich"):
        assert heavy not in loaded


def test_the_module_is_the_command(easy: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "arrange", "convert", str(easy), "--book", "none"],
        capture_output=True,
        text=True,
        check=False,
        env={"NO_COLOR": "1", "PATH": ""},
    )
    assert done.returncode == 0
    assert "\x1b" not in done.stdout + done.stderr
    assert done.stderr == ""
