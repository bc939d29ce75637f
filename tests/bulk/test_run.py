"""A folder becomes a folder: the same tree whoever converts, and a later run does the rest."""

import csv
import errno
import json
import sqlite3
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from folders import EASY, HARD, InlineCrew, make_folder, order_for, renamed, run, tree
from notation import to_musicxml

from arrange.bulk.crews import LocalCrew
from arrange.bulk.outcomes import PieceOutcome
from arrange.bulk.run import Step
from arrange.bulk.work import distinct
from arrange.cli import main
from arrange.errors import BadInput
from arrange.report.targets import CannotWrite
from arrange.score.container import read_source
from arrange.study.difficulty import Level

BESIDE = ("changes.jsonl", "summary.json")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return make_folder(tmp_path / "scores")


@pytest.fixture
def out(tmp_path: Path) -> Path:
    return tmp_path / "out"


def _fresh(steps: list[Step]) -> int:
    return steps[-1].fresh


def test_results_mirror_the_folder_and_keep_their_names(folder: Path, out: Path) -> None:
    overview, _ = run(folder, out)
    stems = {
        "deep/bells": "deep/bells.mxl",
        "deep/er/low": "deep/er/low.musicxml",
        "easy": "easy.musicxml",
        "hard": "hard.xml",
    }
    beside = {f"{stem}.{ending}" for stem in stems for ending in BESIDE}
    assert set(tree(out)) == {*stems.values(), *beside, "bulk.html", "bulk.csv"}
    assert {row.entry.source: row.entry.outcome for row in overview.rows} == {
        "broken.musicxml": PieceOutcome.REFUSED,
        "deep/bells.mxl": PieceOutcome.CONVERTED,
        "deep/er/low.musicxml": PieceOutcome.CONVERTED,
        "easy.musicxml": PieceOutcome.CONVERTED,
        "hard.xml": PieceOutcome.OPEN,
    }


def test_a_result_is_what_convert_writes(folder: Path, out: Path, tmp_path: Path) -> None:
    run(folder, out)
    for name in ("easy.musicxml", "deep/bells.mxl"):
        main(["convert", str(folder / name), "-o", f"{tmp_path}/one/"])
        for path in (tmp_path / "one").iterdir():
            assert (out / name).with_name(path.name).read_bytes() == path.read_bytes()
            path.unlink()


def test_two_workers_write_what_one_does(folder: Path, out: Path, tmp_path: Path) -> None:
    run(folder, out)
    for workers in (1, 2):
        other = tmp_path / f"out-{workers}"
        run(folder, other, crew=LocalCrew(workers))
        assert tree(other) == tree(out)


def test_each_of_several_harps_has_a_folder(folder: Path, out: Path, tmp_path: Path) -> None:
    orders = distinct([order_for("lever-34"), order_for("lever-22-C")])
    overview, _ = run(folder, out, orders)
    assert len(overview.rows) == 10
    run(folder, tmp_path / "alone")
    below = {name.removeprefix("lever-34/"): sha for name, sha in tree(out).items()}
    alone = tree(tmp_path / "alone")
    assert {n: s for n, s in alone.items() if not n.startswith("bulk.")}.items() <= below.items()
    assert (out / "lever-22-C" / "deep" / "bells.mxl").is_file()


def test_harps_that_cannot_have_a_folder_are_refused() -> None:
    usual = order_for()
    with pytest.raises(BadInput, match="two harps are called lever-34"):
        distinct([usual, usual])
    with pytest.raises(BadInput, match="cannot be that of a folder"):
        distinct([usual, renamed(usual, "../elsewhere")])


def test_a_later_run_does_only_what_changed(folder: Path, out: Path) -> None:
    run(folder, out)
    before, times = tree(out), {p: p.stat().st_mtime_ns for p in out.rglob("*.musicxml")}
    _, steps = run(folder, out)
    assert (_fresh(steps), len(steps), tree(out)) == (0, 5, before)
    (folder / "easy.musicxml").write_bytes(to_musicxml(HARD))
    (folder / "new.musicxml").write_bytes(to_musicxml(EASY))
    _, steps = run(folder, out)
    assert _fresh(steps) == 2
    changed = {p.name for p, t in times.items() if p.stat().st_mtime_ns != t}
    assert changed == {"easy.musicxml"}


def test_other_settings_are_carried_out_anew(folder: Path, out: Path, tmp_path: Path) -> None:
    run(folder, out)
    _, steps = run(folder, out, (order_for("lever-36"),))
    assert _fresh(steps) == 5
    run(folder, tmp_path / "other", (order_for("lever-36"),))
    names = {"bulk.html", "bulk.csv"}
    theirs = {n: s for n, s in tree(tmp_path / "other").items() if n not in names}
    assert theirs == {n: s for n, s in tree(out).items() if n not in names}


def test_what_was_lost_is_made_again_and_what_is_refused_now_goes(folder: Path, out: Path) -> None:
    run(folder, out)
    before = tree(out)
    (out / "hard.summary.json").unlink()
    (out / "easy.musicxml").write_bytes(b"")
    run(folder, out)
    assert tree(out) == before
    (folder / "easy.musicxml").write_bytes(b"<score-partwise>")
    run(folder, out)
    gone = {"easy.musicxml", *(f"easy.{ending}" for ending in BESIDE)}
    assert set(before) - set(tree(out)) == gone


def test_what_an_editor_changed_is_not_written_over(folder: Path, out: Path) -> None:
    run(folder, out)
    edited = (out / "easy.musicxml").read_bytes().replace(b"Harp", b"My Harp")
    (out / "easy.musicxml").write_bytes(edited)
    overview, steps = run(folder, out)
    assert [row.entry.source for row in overview.rows if row.is_edited] == ["easy.musicxml"]
    (folder / "easy.musicxml").write_bytes(to_musicxml(HARD))
    _, steps = run(folder, out)
    (said,) = [step.note for step in steps if step.note and "easy" in step.note]
    assert "move it away, or convert with --anew" in said
    assert (out / "easy.musicxml").read_bytes() == edited
    run(folder, out, is_anew=True)
    assert (out / "easy.musicxml").read_bytes() != edited


def test_a_file_that_stands_there_already_is_not_written_over(folder: Path, out: Path) -> None:
    out.mkdir()
    (out / "easy.musicxml").write_text("mine")
    _, steps = run(folder, out)
    assert (out / "easy.musicxml").read_text() == "mine"
    assert any("easy.musicxml was not written by" in step.note for step in steps)


def test_a_source_that_is_gone_is_named_and_its_results_stay(folder: Path, out: Path) -> None:
    run(folder, out)
    (folder / "hard.xml").rename(folder / "hard.musicxml")
    (folder / "easy.musicxml").unlink()
    overview, _ = run(folder, out)
    assert overview.gone == ("easy.musicxml", "hard.xml")
    assert (out / "easy.musicxml").is_file()
    assert (out / "hard.musicxml").is_file()
    assert "<li>easy.musicxml</li>" in (out / "bulk.html").read_text("utf-8")


def test_of_two_results_with_one_name_the_second_is_refused(folder: Path, out: Path) -> None:
    usual = order_for()
    order = replace(usual, settings=replace(usual.settings, parts=("P1",)))
    run(folder, out, (order,))
    (folder / "deep" / "bells.abc").write_text("X:1\nM:4/4\nL:1/4\nK:C\nCDEF|\n")
    overview, _ = run(folder, out, (order,))
    reasons = {row.entry.source: row.entry.reason for row in overview.rows}
    assert "same name as that of deep/bells.abc" in reasons["deep/bells.mxl"]
    assert not reasons["deep/bells.abc"]
    assert {p.name for p in (out / "deep").iterdir() if p.is_file()} == {
        "bells.musicxml",
        "bells.imported.musicxml",
        *(f"bells.{ending}" for ending in BESIDE),
    }


def test_a_run_killed_at_any_file_is_made_good(folder: Path, tmp_path: Path) -> None:
    script = Path(__file__).with_name("killing.py")
    words = [sys.executable, str(script), str(folder), str(tmp_path / "killed")]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    told = json.loads(done.stdout)
    assert len(told) == 10
    assert all(was_killed and is_same for was_killed, is_same in told.values()), told


@pytest.mark.parametrize("moment", [1, 5, 9])
def test_a_full_disk_stops_the_run_and_the_next_goes_on(
    folder: Path, out: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, moment: int
) -> None:
    usual, count = Path.write_bytes, 0

    def counted(self: Path, content: bytes) -> int:
        nonlocal count
        count += 1
        if count >= moment:
            usual(self, content[: len(content) // 2])
            raise OSError(errno.ENOSPC, "No space left on device")
        return usual(self, content)

    monkeypatch.setattr(Path, "write_bytes", counted)
    with pytest.raises(CannotWrite, match="No space left"):
        run(folder, out)
    monkeypatch.undo()
    run(folder, out)
    run(folder, tmp_path / "unbroken")
    assert tree(out) == tree(tmp_path / "unbroken")


def test_two_runs_do_not_write_into_one_folder(folder: Path, out: Path) -> None:
    class Meddler(InlineCrew):
        def replies(self, tasks):  # type: ignore[no-untyped-def] # as its parent
            with pytest.raises(BadInput, match="another run is writing"):
                run(folder, out)
            return super().replies(tasks)

    run(folder, out, crew=Meddler())
    assert not (out / "bulk.lock").exists()


def test_results_never_go_over_the_scores(folder: Path, tmp_path: Path) -> None:
    for place in (folder, tmp_path):
        with pytest.raises(BadInput, match="cannot be written into the folder of the scores"):
            run(folder, place)
    run(folder, folder / "out")
    overview, _ = run(folder, folder / "out")
    assert len(overview.rows) == 5


def test_a_link_in_the_folder_of_results_is_not_followed(
    folder: Path, out: Path, tmp_path: Path
) -> None:
    (tmp_path / "elsewhere").mkdir()
    out.mkdir()
    (out / "deep").symlink_to(tmp_path / "elsewhere")
    overview, _ = run(folder, out)
    assert list((tmp_path / "elsewhere").iterdir()) == []
    refused = {row.entry.source for row in overview.rows if row.entry.reason}
    assert {"deep/bells.mxl", "deep/er/low.musicxml"} < refused


def test_the_ledger_and_the_table_hold_what_was_done(folder: Path, out: Path) -> None:
    run(folder, out)
    with sqlite3.connect(out / "bulk.sqlite") as base:
        assert base.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        rows = dict(base.execute("SELECT source, outcome FROM pieces"))
    base.close()
    table = list(csv.DictReader((out / "bulk.csv").read_text("utf-8").splitlines()))
    assert {row["piece"]: row["outcome"] for row in table} == rows
    hard = next(row for row in table if row["piece"] == "hard.xml")
    assert int(hard["open points"]) > 0
    assert int(hard["editor minutes"]) > 4
    levels = [level.word for level in Level]
    assert {row["difficulty"] in levels for row in table if row["to"]} == {True}
    assert "Difficulty" in (out / "bulk.html").read_text("utf-8")


def test_the_command_returns_the_worst_code_and_says_where_the_page_is(
    folder: Path, out: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["bulk", str(folder), "-o", str(out), "--workers", "1"]
    assert main(words) == 2
    streams = capsys.readouterr()
    assert streams.out.startswith(f"{out / 'bulk.html'}: 3 converted, 1 open points, 1 refused")
    assert "broken.musicxml: " in streams.err
    (folder / "broken.musicxml").unlink()
    assert main(words) == 3
    assert "0 done" in capsys.readouterr().err


def test_a_melody_that_is_named_counts_for_every_piece(tmp_path: Path) -> None:
    """In the lower staff here; a piece that has no such staff is refused, in a sentence."""
    scores, out = tmp_path / "scores", tmp_path / "out"
    scores.mkdir()
    text = (
        "key=0 tempo=120 name=Harp\n"
        "RH: G5e A5e G5e A5e G5e A5e G5e A5e | G5w\nLH: C4e D4e E4e F4e G4e F4e E4e D4e | C4w"
    )
    (scores / "low.musicxml").write_bytes(to_musicxml(text))
    options = ["--book", "beginner", "--key", "keep", "--workers", "1"]
    kept = []
    for melody in ("1", "2", "7"):
        place = out / melody
        main(["bulk", str(scores), "-o", str(place), "--melody", melody, *options])
        result = place / "low.musicxml"
        kept.append(len(read_source(result).score_bytes.split(b"<note")) if result.exists() else 0)
        told = (place / "bulk.csv").read_text("utf-8")
        assert ("staves, 1 at the top" in told) is (melody == "7")
    lower = json.loads((out / "2" / "low.summary.json").read_text("utf-8"))
    slowed = [c for c in lower["changes"] if c["rule"] == "slow-the-accompaniment"]
    assert slowed
    assert {note["staff"] for change in slowed for note in change["before"]} == {1}
    assert [bool(notes) for notes in kept] == [True, True, False]
