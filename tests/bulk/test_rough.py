"""One bad piece never stops or slows the rest: it is ended, named, and the others go on."""

import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from folders import EASY, make_folder, order_for, run, tree
from notation import to_musicxml
from rough_rules import BeRough

from arrange.bulk.crews import LocalCrew
from arrange.bulk.outcomes import PieceOutcome
from arrange.bulk.rows import Row
from arrange.bulk.seat import Seat
from arrange.bulk.work import Bounds, Order, Task, reply_to
from arrange.errors import Fault


def _titled(title: str) -> bytes:
    named = f"<movement-title>{title}</movement-title><part-list>".encode()
    return to_musicxml(EASY).replace(b"<part-list>", named)


def _rough_order(marks: Path, **bounds: int) -> Order:
    order = order_for()
    book = order.settings.book
    rules = (BeRough(marks=str(marks)), *book.rules)
    settings = replace(order.settings, book=replace(book, rules=rules))
    return replace(order, settings=settings, bounds=Bounds(**bounds))


def test_rough_pieces_are_ended_and_the_rest_goes_on(tmp_path: Path) -> None:
    folder, out = tmp_path / "scores", tmp_path / "out"
    folder.mkdir()
    titles = ("never ends", "takes all", "dies once", "dies always", "fails", "good")
    for title in titles:
        (folder / f"{title}.musicxml").write_bytes(_titled(title))
    order = _rough_order(tmp_path, seconds=4, memory_bytes=1_500_000_000)
    overview, _ = run(folder, out, (order,), LocalCrew(2))
    rows = {row.entry.source.removesuffix(".musicxml"): row for row in overview.rows}
    assert {title: row.entry.outcome for title, row in rows.items()} == {
        "never ends": PieceOutcome.REFUSED,
        "takes all": PieceOutcome.REFUSED,
        "dies once": PieceOutcome.CONVERTED,
        "dies always": PieceOutcome.FAILED,
        "fails": PieceOutcome.FAILED,
        "good": PieceOutcome.CONVERTED,
    }
    reasons = {title: row.entry.reason for title, row in rows.items()}
    assert "it took longer than 4 seconds" in reasons["never ends"]
    assert "it needs more than 1,500 MB of memory" in reasons["takes all"]
    assert "the worker always ended (signal 9)" in reasons["dies always"]
    assert "a fault of the program (RuntimeError)" in reasons["fails"]
    _reports_hold_no_music(out, rows)
    before = tree(out)
    _, again = run(folder, out, (order,), LocalCrew(1))
    assert (again[-1].fresh, tree(out)) == (0, before)


def _reports_hold_no_music(out: Path, rows: dict[str, Row]) -> None:
    report = ""
    for title in ("dies always", "fails"):
        assert rows[title].report == f"{title}.fault.txt"
        report = (out / rows[title].report).read_text("utf-8")
        assert "sha256" in report
        assert title not in report
        assert "C#4" not in report
    assert "in rough_rules, line" not in report
    assert "rough_rules, line" in report
    assert not (out / "fails.fault.score").exists()


def test_the_score_goes_with_the_report_where_that_is_asked_for(tmp_path: Path) -> None:
    order = replace(_rough_order(tmp_path), sends_score=True)
    raw = _titled("fails")
    reply = reply_to(Task(1, "a.musicxml", "a.musicxml", raw, order.packed()))
    assert reply.files["fault.score"] == raw


def test_what_failed_is_tried_again_when_asked(tmp_path: Path) -> None:
    folder, out = tmp_path / "scores", tmp_path / "out"
    folder.mkdir()
    (folder / "a.musicxml").write_bytes(_titled("fails"))
    order = _rough_order(tmp_path)
    run(folder, out, (order,))
    _, steps = run(folder, out, (order,))
    assert steps[-1].fresh == 0
    _, steps = run(folder, out, (order,), retries=True)
    assert steps[-1].fresh == 1


def test_a_seat_replaces_a_worker_that_was_killed() -> None:
    seat = Seat()
    task = Task(1, "a.musicxml", "a.musicxml", to_musicxml(EASY), order_for().packed())
    try:
        first = seat.reply(task)
        assert seat._worker is not None
        seat._worker.kill()
        second = seat.reply(task)
    finally:
        seat.close()
    assert first.outcome is second.outcome is PieceOutcome.CONVERTED
    assert first.files == second.files


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT, signal.SIGTERM])
def test_a_run_that_is_ended_from_outside_goes_on(tmp_path: Path, how: signal.Signals) -> None:
    folder, out = make_folder(tmp_path / "scores"), tmp_path / "out"
    for number in range(5):
        (folder / f"{number}.musicxml").write_bytes(to_musicxml(EASY))
    words = [
        sys.executable,
        "-m",
        "arrange",
        "bulk",
        str(folder),
        "-o",
        str(out),
        "--workers",
        "1",
    ]
    started = subprocess.Popen(words, cwd=Path(__file__).parents[2], stderr=subprocess.PIPE)
    while not list(out.glob("*.summary.json")) and started.poll() is None:
        time.sleep(0.01)
    os.kill(started.pid, how)
    _, said = started.communicate()
    assert started.returncode == (-9 if how is signal.SIGKILL else 130)
    if how is not signal.SIGKILL:
        assert b"the same command goes on where it was" in said
        assert b"are still to be done" in (out / "bulk.html").read_bytes()
    run(folder, out)
    run(folder, tmp_path / "unbroken")
    assert tree(out) == tree(tmp_path / "unbroken")


def test_a_worker_that_cannot_be_loaded_is_a_fault_and_not_tried_for_ever(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "arrange").mkdir()
    (tmp_path / "arrange" / "__init__.py").write_text("raise SystemExit(7)")
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.chdir(tmp_path)
    seat = Seat()
    task = Task(1, "a.musicxml", "a.musicxml", to_musicxml(EASY), order_for().packed())
    with pytest.raises(Fault, match="no worker comes up"):
        seat.reply(task)
    seat.close()
