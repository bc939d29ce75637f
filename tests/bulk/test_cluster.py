"""A Dask cluster on this machine gives the tree that workers of our own give."""

import json
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from folders import make_folder, run, tree

from arrange.bulk import cluster
from arrange.bulk.cluster import ClusterCrew
from arrange.errors import BadInput

ROOT = Path(__file__).parents[2]


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    """A scheduler and two workers; its address."""
    file = tmp_path / "scheduler.json"
    dask = [sys.executable, "-m", "dask"]
    quiet = ["--no-dashboard", "--scheduler-file", str(file)]
    with ExitStack() as ending:

        def start(words: list[str]) -> None:
            program = subprocess.Popen(
                words, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
            )
            ending.callback(program.wait)
            ending.callback(program.kill)

        start([*dask, "scheduler", "--host", "127.0.0.1", "--port", "0", *quiet])
        for _ in range(2):
            start([*dask, "worker", "--nthreads", "1", "--no-nanny", *quiet])
        for _ in range(1200):
            if file.is_file() and file.read_text():
                break
            time.sleep(0.05)
        yield json.loads(file.read_text())["address"]


def test_a_cluster_gives_the_same_tree(address: str, tmp_path: Path) -> None:
    folder, out = make_folder(tmp_path / "scores"), tmp_path / "out"
    words = [sys.executable, "-m", "arrange", "bulk", str(folder), "-o", str(out)]
    done = subprocess.run(
        [*words, "--cluster", address], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 2, done.stderr
    assert done.stdout.startswith(f"{out / 'bulk.html'}: 3 converted, 1 open points, 1 refused")
    run(folder, tmp_path / "here")
    assert tree(out) == tree(tmp_path / "here")


def test_a_cluster_that_does_not_answer_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "_ANSWERS_WITHIN_S", 0.5)
    with pytest.raises(BadInput, match=r"no Dask scheduler answers at tcp://127\.0\.0\.1:9;"):
        ClusterCrew("tcp://127.0.0.1:9")


def test_a_cluster_needs_dask(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(BadInput, match=r"pip install 'leverwright\[cluster\]'"):
        ClusterCrew("tcp://127.0.0.1:9")
