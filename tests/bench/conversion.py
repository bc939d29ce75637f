"""How long a whole conversion takes, beside music21's parsing, transposing and writing.

``python tests/bench/conversion.py [SCORE ...]`` prints the times of both, in process and as whole
processes, their ratio, and peak memory; then how conversions grow with the number of notes.
Every run is a process of its own, so that nothing is remembered from the run before; the best of
several counts. Seconds are the processor's (both ways use one thread), so that other work on the
machine does not blur them. ``--key keep`` leaves the choice of the key out.
"""

import argparse
import json
import re
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

PIECE = "joplin/maple_leaf_rag"
"""About 1,600 notes for piano, in music21's own corpus."""
CORPUS = Path(__file__).parents[2] / "corpus"
GROWN_FROM = "lullaby-windy-night.musicxml"
SIZES = (1_000, 5_000, 20_000)
_MEASURE = re.compile(r"<measure\s.*?</measure>", re.DOTALL)
_PART = re.compile(r"(<part\s[^>]*>)(.*?)(</part>)", re.DOTALL)
_ONCE = re.compile(
    r"""\sid="[^"]*"|<(?:barline|print|sound)\b.*?(?:</barline>|</print>|/>)""", re.DOTALL
)


@dataclass(frozen=True)
class Run:
    """One run: seconds of the work alone and of the process, and its peak memory in MB."""

    inside: float
    whole: float
    peak_mb: float
    notes: int


def ours(score: Path, result: Path, key: str) -> tuple[float, int]:
    """Convert a score for a lever harp of 34 strings; seconds and notes."""
    from arrange.cli.asking import harp_and_book
    from arrange.pipeline import Settings, convert
    from arrange.score.container import read_source

    begin = time.process_time()
    harp, book = harp_and_book("lever-34")
    settings = Settings(harp.harp, book, key=key)
    conversion = convert(read_source(score), settings)
    result.write_bytes(conversion.result)
    return time.process_time() - begin, len(conversion.before.notes_by_id)


def theirs(score: Path, result: Path, key: str) -> tuple[float, int]:
    """Parse, transpose and write a score with music21; seconds and notes."""
    del key
    from music21 import converter

    begin = time.process_time()
    parsed = converter.parse(score, forceSource=True)
    moved = parsed.transpose("M2")
    moved.write("musicxml", result)
    seconds = time.process_time() - begin
    return seconds, sum(len(note.pitches) for note in parsed.recurse().notes)


WAYS: dict[str, Callable[[Path, Path, str], tuple[float, int]]] = {"ours": ours, "theirs": theirs}


def child(way: str, score: Path, key: str) -> None:
    """Do the work once and print what it took."""
    with tempfile.TemporaryDirectory() as folder:
        seconds, notes = WAYS[way](score, Path(folder) / "result.musicxml", key)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    sys.stdout.write(json.dumps([seconds, time.process_time(), notes, peak]))


def best(way: str, score: Path, key: str, runs: int) -> Run:
    """The best of some runs, each in a process of its own."""
    found = []
    for _ in range(runs):
        words = [sys.executable, __file__, "--child", way, "--key", key, str(score)]
        answer = subprocess.run(words, check=True, capture_output=True, text=True).stdout
        seconds, whole, notes, peak = json.loads(answer)
        found.append(Run(seconds, whole, peak, notes))
    return Run(
        min(run.inside for run in found),
        min(run.whole for run in found),
        min(run.peak_mb for run in found),
        found[0].notes,
    )


def piece(folder: Path) -> Path:
    """The piece of 1,600 notes as a MusicXML file."""
    from music21 import corpus

    path = folder / "piece.musicxml"
    corpus.parse(PIECE).write("musicxml", path)
    return path


def grown(folder: Path, notes: int) -> Path:
    """A score of our own, its measures repeated until it has so many notes."""
    text = (CORPUS / GROWN_FROM).read_text(encoding="utf-8")
    times = -(-notes // text.count("<pitch>"))

    def longer(part: re.Match[str]) -> str:
        first = [m[0] for m in _MEASURE.finditer(part[2])]
        later = [_ONCE.sub("", measure) for measure in first]
        rows = (later if turn else [*first[:1], *later[1:]] for turn in range(times))
        measures = (
            re.sub(r'number="[^"]*"', f'number="{number}"', measure, count=1)
            for number, measure in enumerate((m for row in rows for m in row), 1)
        )
        return part[1] + "\n".join(measures) + part[3]

    path = folder / f"grown-{notes}.musicxml"
    path.write_text(_PART.sub(longer, text), encoding="utf-8")
    return path


def compare(score: Path, key: str, runs: int) -> None:
    """Print both ways through a score side by side."""
    say = sys.stdout.write
    our, their = best("ours", score, key, runs), best("theirs", score, key, runs)
    say(f"{score.stem}: {our.notes} notes\n")
    for name, mine, other in (
        ("in process", our.inside, their.inside),
        ("whole process", our.whole, their.whole),
    ):
        say(f"  {name:14} {mine:7.3f} s   music21 {other:7.3f} s   {other / mine:5.1f} x faster\n")
    say(f"  peak memory    {our.peak_mb:7.0f} MB  music21 {their.peak_mb:7.0f} MB\n")


def scale(folder: Path, key: str, runs: int) -> None:
    """Print how the time grows with the notes."""
    for size in SIZES:
        run = best("ours", grown(folder, size), key, runs)
        each = run.inside / run.notes * 1e6
        sys.stdout.write(
            f"{run.notes:7} notes {run.inside:7.3f} s in process, {run.whole:7.3f} s whole, "
            f"{each:5.0f} us a note, {run.peak_mb:5.0f} MB\n"
        )


def main() -> None:
    """Measure what the command line asks for."""
    words = argparse.ArgumentParser(description="Time whole conversions.")
    words.add_argument("scores", nargs="*", type=Path)
    words.add_argument("--key", default="auto")
    words.add_argument("--runs", type=int, default=3)
    words.add_argument("--no-scaling", action="store_true")
    words.add_argument("--child", choices=WAYS)
    asked = words.parse_args()
    if asked.child:
        child(asked.child, asked.scores[0], asked.key)
        return
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for score in asked.scores or [piece(folder)]:
            compare(score, asked.key, asked.runs)
        if not asked.no_scaling:
            scale(folder, asked.key, asked.runs)


if __name__ == "__main__":
    main()
