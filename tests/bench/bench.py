"""How fast and how frugal it is, beside other ways to do with a score what they do.

``python tests/bench/bench.py`` measures everything in one run and prints Markdown tables: whole
conversions beside music21's parsing, transposing and writing, partitura's loading and saving, and
lxml's parsing and serialising; reading and writing; the planner; whole folders; and how each
grows. ``--only planner`` measures one table, ``--small`` everything on a few notes, and
``--profile SCORE`` shows where a conversion's time goes.

Every way runs in processes of its own. Seconds are the processor's, its workers' included, so
that other work on the machine blurs them less; the best of several runs counts. A *first run* is
the first in its process with all imports done; a *warm run* comes after it in the same process,
and where something is remembered of a score, after that of another score; a *whole process* is
everything from its start to its end. Ways that are not installed are left out: partitura is in no
extra, since it brings large libraries along (``pip install partitura``).
"""

import argparse
import importlib.util
import json
import math
import resource
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import measured_scores
from measured_ways import Measured

CHILD = Path(__file__).with_name("measured_ways.py")
OTHERS = {
    "music21": "music21: parse, transpose, write",
    "partitura": "partitura: load, save",
    "lxml": "lxml: parse, serialise",
}
SLOW_S = 20
"""What takes longer is not run again."""
REMEMBERS = {"convert"}
"""Ways that are quicker with a score that they have seen: they are warmed with another one."""


@dataclass(frozen=True, slots=True)
class Sizes:
    """How much is measured."""

    compared: tuple[int, ...] = (20_000,)
    growth: tuple[int, ...] = (1_000, 2_000, 5_000, 10_000, 20_000, 50_000, 100_000, 200_000)
    planned: int = 2_000
    files: int = 36
    workers: tuple[int, ...] = (1, 2)
    keys: tuple[int, ...] = (1, 3, 5, 7, 9, 11, 13)
    has_public: bool = True


SMALL = Sizes((), (30, 60), 40, 2, (1,), (1, 3), has_public=False)


@dataclass(frozen=True, slots=True)
class Figures:
    """One way through one score: seconds, MB, and notes or files.

    Attributes:
        first, warm, whole: seconds of the processor; *elapsed*: by the clock, the best run.
        median: of the warm runs.
    """

    first: float
    warm: float
    median: float
    whole: float
    elapsed: float
    peak_mb: float
    count: int


class Bench:
    """Measures ways, each in processes of its own, and says on the way what it does."""

    def __init__(self, runs: int, others: Sequence[str], say: Callable[[str], object]) -> None:
        self.runs = runs
        self.others = [name for name in others if importlib.util.find_spec(name) is not None]
        self._say = say

    def measured(self, way: str, path: Path, asked: str = "") -> Figures:
        """Measure a way, each run that counts as the first in a process of its own."""
        self._say(f"{way} {asked} {path.name}\n")
        alone = [self._apart(way, path, asked, 1)]
        if alone[0][0].seconds[0] < SLOW_S:
            alone += [self._apart(way, path, asked, 1) for _ in range(self.runs - 1)]
        warm = self._warm(way, path, asked, alone[0][0])
        later = warm.seconds
        return Figures(
            first=min(one.seconds[0] for one, _ in alone),
            warm=min(later),
            median=statistics.median(later),
            whole=min(whole for _, whole in alone),
            elapsed=min(warm.elapsed),
            peak_mb=min(one.peak_mb for one, _ in alone),
            count=warm.count,
        )

    def _warm(self, way: str, path: Path, asked: str, first: Measured) -> Measured:
        """The runs of processes that have done the same before."""
        if first.seconds[0] >= SLOW_S:
            return first
        if way in REMEMBERS:
            other = measured_scores.GROWN_FROM
            runs = [self._apart(way, path, asked, 1, other)[0] for _ in range(self.runs)]
            return replace(
                first,
                seconds=[one.seconds[0] for one in runs],
                elapsed=[one.elapsed[0] for one in runs],
            )
        again = self._apart(way, path, asked, self.runs + 1)[0]
        return replace(again, seconds=again.seconds[1:], elapsed=again.elapsed[1:])

    def _apart(
        self, way: str, path: Path, asked: str, runs: int, after: Path | None = None
    ) -> tuple[Measured, float]:
        """What a process measured, and what it took as a whole."""
        words = [
            sys.executable,
            "-W",
            "ignore",
            str(CHILD),
            way,
            str(path),
            "--asked",
            asked,
            "--runs",
            str(runs),
            *(() if after is None else ("--after", str(after))),
        ]
        before = _spent_by_ended()
        answer = subprocess.run(words, check=True, stdout=subprocess.PIPE, text=True).stdout
        return Measured(**json.loads(answer)), _spent_by_ended() - before


def _spent_by_ended() -> float:
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    return ended.ru_utime + ended.ru_stime


def table(title: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table in Markdown; all columns but the first are numbers."""
    lines = [f"### {title}", "", _row(head), _row(["---", *["---:"] * (len(head) - 1)])]
    return "\n".join([*lines, *map(_row, rows), ""])


def _row(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |"


def ms(seconds: float) -> str:
    """Seconds as milliseconds."""
    return f"{seconds * 1_000:,.{0 if seconds >= 0.01 else 2}f} ms"


def times(ratio: float) -> str:
    """How many times as long."""
    return f"{ratio:,.{2 if ratio < 1 else 1 if ratio < 100 else 0}f} x"


def conversions(bench: Bench, sizes: Sizes, folder: Path) -> Iterator[str]:
    """A whole conversion beside the others, on a public piece, and grown."""
    for score in _compared(sizes, folder):
        ours = bench.measured("convert", score)
        found = {"a whole conversion": ours}
        found |= {OTHERS[way]: bench.measured(way, score) for way in bench.others}
        head = ["way", "first run", "warm run", "whole process", "peak memory", "warm / ours"]
        head += ["whole / ours"]
        rows = [
            [
                name,
                ms(one.first),
                ms(one.warm),
                ms(one.whole),
                f"{one.peak_mb:,.0f} MB",
                times(one.warm / ours.warm),
                times(one.whole / ours.whole),
            ]
            for name, one in found.items()
        ]
        yield table(f"Conversion: {score.stem}, {ours.count:,} notes", head, rows)


def _compared(sizes: Sizes, folder: Path) -> list[Path]:
    """A public piece and the same grown, or, where there is none, one of our own."""
    public = measured_scores.public_pieces(folder) if sizes.has_public else []
    base = public[0] if public else measured_scores.GROWN_FROM
    first = base if public else measured_scores.grown(base, folder, sizes.growth[0])
    return [first, *(measured_scores.grown(base, folder, size) for size in sizes.compared)]


def round_trips(bench: Bench, sizes: Sizes, folder: Path) -> Iterator[str]:
    """Reading and writing, beside lxml's parsing and serialising."""
    head = ["score", "notes", "no edit", "one edit", "read as music, one edit", "lxml"]
    head += ["one edit / lxml", "music / lxml"]
    rows = []
    for score in _compared(sizes, folder):
        whole = [bench.measured("round_trip", score, how) for how in ("tree", "edit", "score")]
        plain = bench.measured("lxml", score)
        cells = [ms(one.warm) for one in (*whole, plain)]
        ratios = [times(one.warm / plain.warm) for one in whole[1:]]
        rows.append([score.stem, f"{plain.count:,}", *cells, *ratios])
    yield table("Reading and writing (warm runs)", head, rows)


def planner(bench: Bench, sizes: Sizes, folder: Path) -> Iterator[str]:
    """The planner in 13 keys, on scores of one size."""
    head = ["score", "notes", "planner alone, 13 keys", "weighing, each key to its plan"]
    head += ["weighing for the best key"]
    asked = (("plan", ""), ("weigh", "13 exact"), ("weigh", "13 best"))
    rows: list[list[str]] = []
    medians: list[list[float]] = []
    sources = sorted(measured_scores.CORPUS.glob("*.musicxml"))
    if sizes.has_public:
        sources = [*measured_scores.public_pieces(folder)[:3], *sources]
    for source in sources[: None if sizes.has_public else 1]:
        score = measured_scores.grown(source, folder, sizes.planned)
        found = [bench.measured(way, score, how) for way, how in asked]
        medians.append([one.median for one in found])
        rows.append([source.stem, f"{found[0].count:,}", *(ms(one.median) for one in found)])
    middle = [statistics.median(column) for column in zip(*medians, strict=True)]
    rows.append(["median of all", "", *map(ms, middle)])
    yield table(f"Planner, {sizes.planned:,} notes (medians of warm runs)", head, rows)


def folders(bench: Bench, sizes: Sizes, folder: Path) -> Iterator[str]:
    """Whole folders, beside the others one score after the other."""
    public = measured_scores.public_pieces(folder) if sizes.has_public else []
    own = sorted(measured_scores.CORPUS.glob("*.musicxml"))
    for title, sources in (("public pieces", public), ("our own demo scores", own)):
        if sources:
            scores = measured_scores.folder_of_scores(folder, sources, sizes.files)
            yield _folder_table(f"A folder of {sizes.files} {title}", bench, sizes, scores)


def _folder_table(title: str, bench: Bench, sizes: Sizes, scores: Path) -> str:
    found = {
        f"bulk, {workers} worker{'s' * (workers > 1)}": bench.measured(
            "bulk", scores, str(workers)
        )
        for workers in sizes.workers
    }
    found |= {OTHERS[way]: bench.measured(way, scores) for way in bench.others}
    ours = next(iter(found.values()))
    rows = [
        [
            name,
            ms(one.warm / one.count),
            f"{one.count / one.elapsed:.1f}",
            f"{one.peak_mb:,.0f} MB",
            times(one.warm / ours.warm),
        ]
        for name, one in found.items()
    ]
    head = ["way", "a file", "files a second, by clock", "peak memory", "a file / ours"]
    return table(f"{title} (warm runs)", head, rows)


def growth(bench: Bench, sizes: Sizes, folder: Path) -> Iterator[str]:
    """How time and memory grow with notes and keys."""
    head = ["notes", "first run", "a note", "peak memory", "grows as notes to the power of"]
    rows: list[list[str]] = []
    before: Figures | None = None
    for size in sizes.growth:
        score = measured_scores.grown(measured_scores.GROWN_FROM, folder, size)
        one = bench.measured("convert", score)
        each = f"{one.first / one.count * 1e6:,.0f} us"
        power = "" if before is None else f"{_power(before, one):.2f}"
        rows.append([f"{one.count:,}", ms(one.first), each, f"{one.peak_mb:,.0f} MB", power])
        before = one
    yield table("Conversion by notes", head, rows)
    score = measured_scores.grown(measured_scores.GROWN_FROM, folder, sizes.planned)
    kept = bench.measured("convert", score, "keep").warm
    best = bench.measured("convert", score, "auto").warm
    rows = [["conversion, the key kept", ms(kept)], ["conversion, the best key", ms(best)]]
    for keys in sizes.keys:
        warm = bench.measured("weigh", score, f"{keys} exact").warm
        rows.append([f"weighing {keys} key{'s' * (keys > 1)}, each to its plan", ms(warm)])
    yield table(f"By keys, {sizes.planned:,} notes (warm runs)", ["what", "time"], rows)


def _power(before: Figures, after: Figures) -> float:
    if after.count == before.count:
        return math.nan
    return math.log(after.first / before.first) / math.log(after.count / before.count)


TABLES = {
    "conversions": conversions,
    "round-trips": round_trips,
    "planner": planner,
    "folders": folders,
    "growth": growth,
}


def print_tables(names: Iterable[str], bench: Bench, sizes: Sizes) -> None:
    """Print the tables of these names."""
    with tempfile.TemporaryDirectory() as name:
        for title in names:
            folder = Path(name) / title
            folder.mkdir()
            for text in TABLES[title](bench, sizes, folder):
                sys.stdout.write(text + "\n")
                sys.stdout.flush()


def main() -> None:
    """Measure what the command line asks for."""
    words = argparse.ArgumentParser(description="Measure speed and memory.")
    words.add_argument("--only", nargs="+", choices=TABLES, default=list(TABLES))
    words.add_argument("--against", nargs="*", choices=OTHERS, default=list(OTHERS))
    words.add_argument("--runs", type=int, default=3)
    words.add_argument("--small", action="store_true", help="a few notes, to see that it works")
    words.add_argument("--profile", type=Path, metavar="SCORE")
    asked = words.parse_args()
    if asked.profile:
        command = [sys.executable, str(CHILD), "convert", str(asked.profile), "--profile"]
        subprocess.run(command, check=True)
        return
    bench = Bench(asked.runs, asked.against, sys.stderr.write)
    print_tables(asked.only, bench, SMALL if asked.small else Sizes())


if __name__ == "__main__":
    main()
