"""The bench measures what it says: it runs on a few notes, and its tables are whole."""

import re
from pathlib import Path

import pytest
from bench import OTHERS, SMALL, TABLES, Bench, print_tables
from measured_scores import GROWN_FROM, grown
from measured_ways import Measured, job_of, measured

from arrange.score.container import read_source
from arrange.score.document import Document
from arrange.score.reading import Reading


class BenchAtHome(Bench):
    """Measures in the tests' own process."""

    def _apart(
        self, way: str, path: Path, asked: str, runs: int, after: Path | None = None
    ) -> tuple[Measured, float]:
        if after is not None:
            job_of(way, after, asked)()
        return measured(job_of(way, path, asked), runs), 1.0


@pytest.mark.parametrize("title", TABLES)
def test_a_table_has_a_figure_in_every_cell(
    title: str, capsys: pytest.CaptureFixture[str]
) -> None:
    print_tables([title], BenchAtHome(1, ["lxml"], len), SMALL)
    tables = capsys.readouterr().out.split("### ")[1:]
    assert tables
    for table in tables:
        lines = [line for line in table.splitlines() if line.startswith("|")]
        head, _, *rows = [[c.strip() for c in line.split("|")[1:-1]] for line in lines]
        assert rows
        for row in rows:
            assert len(row) == len(head)
            figures = [float(re.sub("[^0-9.]", "", cell) or 0) for cell in row[1:]]
            assert max(figures) > 0, row


def test_a_way_is_measured_apart_from_all_others(tmp_path: Path) -> None:
    score = grown(GROWN_FROM, tmp_path, 40)
    figures = Bench(1, [], len).measured("convert", score, "keep")
    assert figures.whole > figures.first > 0
    assert figures.peak_mb > 10
    assert figures.count > 30


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("way", OTHERS)
def test_the_other_ways_see_the_same_notes(way: str, tmp_path: Path) -> None:
    pytest.importorskip(way)
    score = grown(GROWN_FROM, tmp_path, 60)
    assert job_of(way, score, "")() == job_of("convert", score, "keep")()


@pytest.mark.parametrize("notes", [10, 60, 2_000])
def test_a_score_is_grown_to_about_its_size(notes: int, tmp_path: Path) -> None:
    source = read_source(grown(GROWN_FROM, tmp_path, notes))
    score = Reading(Document.read(source.score_bytes, source.name)).score()
    assert notes * 0.5 < len(score.notes_by_id) < notes * 1.5
    numbers = [measure.number for measure in score.parts[0].measures]
    assert numbers == [str(n) for n in range(1, len(numbers) + 1)]
