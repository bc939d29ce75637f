"""What is measured, each way in a process of its own.

``python tests/bench/measured_ways.py WAY PATH [--asked WORD] [--runs N]`` does one thing several
times in one process and prints, as JSON, what each time took and how much memory was held. The
first run is the first that this process makes, its imports done before.
"""

import argparse
import cProfile
import json
import pstats
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from pathlib import Path

HARP = "lever-34"
Job = Callable[[], int]
"""Does the work once and returns how much it was: notes, or files of a folder."""


@dataclass(frozen=True, slots=True)
class Measured:
    """What the runs of one way took.

    Attributes:
        seconds: of the processor, for each run, workers included.
        elapsed: by the clock, for each run.
        peak_mb: the most memory that the process held, or its largest worker.
        count: the notes or files of one run.
    """

    seconds: list[float]
    elapsed: list[float]
    peak_mb: float
    count: int


def convert(path: Path, key: str) -> Job:
    """A whole conversion, file to file."""
    from arrange.cli.asking import harp_and_book
    from arrange.pipeline import Settings
    from arrange.pipeline import convert as converted
    from arrange.score.container import read_source

    harp, book = harp_and_book(HARP)
    settings = Settings(harp.harp, book, key=key or "auto")

    def job() -> int:
        conversion = converted(read_source(path), settings)
        with tempfile.NamedTemporaryFile() as result:
            result.write(conversion.result)
        return len(conversion.before.notes_by_id)

    return job


def music21(path: Path, _: str) -> Job:
    """Parse, transpose by a major second, write."""
    from music21 import converter

    def job() -> int:
        parsed = converter.parse(path, forceSource=True)
        with tempfile.TemporaryDirectory() as folder:
            parsed.transpose("M2").write("musicxml", Path(folder) / "result.musicxml")
        return sum(len(note.pitches) for note in parsed.recurse().notes)

    return job


def partitura(path: Path, _: str) -> Job:
    """Load and save."""
    from partitura import load_musicxml, save_musicxml

    def job() -> int:
        score = load_musicxml(path)
        with tempfile.TemporaryDirectory() as folder:
            save_musicxml(score, Path(folder) / "result.musicxml")
        return sum(len(part.notes) for part in score.parts)

    return job


def lxml(path: Path, _: str) -> Job:
    """Parse and serialise."""
    from lxml import etree

    def job() -> int:
        tree = etree.fromstring(path.read_bytes())
        with tempfile.NamedTemporaryFile() as result:
            result.write(etree.tostring(tree, encoding="UTF-8", xml_declaration=True))
        return len(tree.findall(".//pitch"))

    return job


def round_trip(path: Path, asked: str) -> Job:
    """Read and write: ``tree`` without an edit, ``edit`` with one, ``score`` read as music too."""
    from arrange.score.container import read_source, write_result
    from arrange.score.document import Document
    from arrange.score.reading import Reading

    notes = read_source(path).score_bytes.count(b"<pitch>")

    def job() -> int:
        source = read_source(path)
        document = Document.read(source.score_bytes, source.name)
        if asked == "score":
            Reading(document).score()
        if asked != "tree":
            measures = document.root.find_all("part")[0].children
            step = next(n for m in measures[len(measures) // 2 :] for n in m.iter("step"))
            document.set_text(step, "E" if step.text != "E" else "F")
        with tempfile.NamedTemporaryFile() as result:
            result.write(write_result(source, document.to_bytes()))
        return notes

    return job


def weigh(path: Path, asked: str) -> Job:
    """Weigh so many keys, nearest first: ``13 exact`` each to its plan, ``13 best`` the winner."""
    from arrange.changes import Fidelity
    from arrange.cli.asking import harp_and_book
    from arrange.score.container import read_source
    from arrange.score.document import Document
    from arrange.score.reading import Reading
    from arrange.study.keys import KeyScale
    from arrange.study.terms import Terms

    harp, book = harp_and_book(HARP)
    source = read_source(path)
    score = Reading(Document.read(source.score_bytes, source.name)).score()
    terms = Terms(harp.harp, book.player, book.prices)
    keys, _, how = asked.partition(" ")

    def job() -> int:
        fresh = replace(score)  # what was remembered of the score is left behind
        scale = KeyScale(fresh, terms, Fidelity.LOSSY)
        scale.weigh(scale.intervals()[: int(keys)], all_exact=how == "exact")
        return len(score.notes_by_id)

    return job


def plan(path: Path, _: str) -> Job:
    """The planner alone: its question in 13 keys, each to its plan."""
    from arrange.changes import Fidelity
    from arrange.cli.asking import harp_and_book
    from arrange.levers.solve import Prospect
    from arrange.score.container import read_source
    from arrange.score.document import Document
    from arrange.score.reading import Reading
    from arrange.study.keys import EFFORT, KeyScale
    from arrange.study.terms import Terms

    harp, book = harp_and_book(HARP)
    source = read_source(path)
    score = Reading(Document.read(source.score_bytes, source.name)).score()
    scale = KeyScale(score, Terms(harp.harp, book.player, book.prices), Fidelity.LOSSY)
    keys = [scale._key(interval) for interval in scale.intervals()]
    for key in keys:
        scale._fold(key)
    problems = [
        (one.problem(key.interval, folded), one.timetable)
        for key in keys
        for one, folded in zip(scale._harps, key.foldings, strict=True)
    ]

    def job() -> int:
        for problem, timetable in problems:
            Prospect(problem, timetable).plan(EFFORT)
        return len(score.notes_by_id)

    return job


def bulk(folder: Path, workers: str) -> Job:
    """A whole folder converted by so many workers, tables and ledger included."""
    from arrange.bulk.crews import LocalCrew
    from arrange.bulk.run import BulkRun
    from arrange.bulk.work import Order
    from arrange.cli.asking import harp_and_book
    from arrange.pipeline import Settings

    harp, book = harp_and_book(HARP)
    orders = (Order(Settings(harp.harp, book)),)

    def job() -> int:
        with tempfile.TemporaryDirectory() as out:
            run = BulkRun(
                folder, Path(out) / "out", orders, lambda: LocalCrew(int(workers)), lambda _: None
            )
            return len(run.overview().rows)

    return job


WAYS: dict[str, Callable[[Path, str], Job]] = {
    way.__name__: way for way in (convert, music21, partitura, lxml, round_trip, weigh, plan, bulk)
}


def over_a_folder(way: Callable[[Path, str], Job], folder: Path, asked: str) -> Job:
    """The same way through every score of a folder, one after the other."""
    jobs = [way(path, asked) for path in sorted(folder.iterdir())]

    def job() -> int:
        for one in jobs:
            one()
        return len(jobs)

    return job


def spent() -> float:
    """Seconds of the processor so far, those of ended workers included."""
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + ended.ru_utime + ended.ru_stime


def peak_mb() -> float:
    """The most memory that this program has held, or its largest worker.

    The system counts what the program held that started this one as its own, so it is asked for
    the high-water mark of this program's memory where it knows that.
    """
    status = Path("/proc/self/status")
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    if status.exists():
        marks = [line for line in status.read_text("ascii").splitlines() if "VmHWM" in line]
        own = int(marks[0].split()[1])
    return max(own, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss) / 1024


def measured(job: Job, runs: int) -> Measured:
    """Do the work so many times."""
    seconds, elapsed, count = [], [], 0
    for _ in range(runs):
        clock, before = time.perf_counter(), spent()
        count = job()
        seconds.append(spent() - before)
        elapsed.append(time.perf_counter() - clock)
    return Measured(seconds, elapsed, peak_mb(), count)


def job_of(name: str, path: Path, asked: str) -> Job:
    """The job of a way, for a score or a folder."""
    way = WAYS[name]
    if path.is_dir() and way is not bulk:
        return over_a_folder(way, path, asked)
    return way(path, asked)


def main() -> None:
    """Measure one way and print it, or where its time goes."""
    words = argparse.ArgumentParser(description="Measure one way.")
    words.add_argument("way", choices=WAYS)
    words.add_argument("path", type=Path)
    words.add_argument("--asked", default="")
    words.add_argument("--runs", type=int, default=1)
    words.add_argument("--after", type=Path, metavar="OTHER")
    words.add_argument("--profile", action="store_true")
    asked = words.parse_args()
    if asked.after:
        job_of(asked.way, asked.after, asked.asked)()
    job = job_of(asked.way, asked.path, asked.asked)
    if not asked.profile:
        sys.stdout.write(json.dumps(asdict(measured(job, asked.runs))))
        return
    watch = cProfile.Profile()
    watch.runcall(job)
    pstats.Stats(watch, stream=sys.stdout).sort_stats("tottime").print_stats(40)


if __name__ == "__main__":
    main()
