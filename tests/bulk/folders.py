"""A small folder of scores, and runs over it, for the tests of whole folders."""

import hashlib
from collections.abc import Generator, Iterable
from dataclasses import replace
from pathlib import Path

from notation import to_musicxml

from arrange.bulk.crews import Crew
from arrange.bulk.rows import Overview
from arrange.bulk.run import BulkRun, Step
from arrange.bulk.work import Order, Reply, Task, reply_to
from arrange.harp.files import load_harp
from arrange.pipeline import Settings
from arrange.registry import installed
from arrange.rulebook import load_rulebook
from arrange.score.container import read_source_bytes
from arrange.score.packing import packed

EASY = "key=-3 tempo=60 name=Harp\nRH: G4q F4q Eb4q C4q | Eb4w\nLH: C3w | Ab2w"
HARD = (
    "key=0 tempo=170 name=Harp\nRH: C5s C#5s D5s D#5s E5s F5s F#5s G5s G#5s A5s A#5s B5s C6q"
    "\nLH: C3w"
)
BELLS = "key=2 tempo=70 name=Harp\nRH: F#5q E5q D5h | C#5w\nLH: D3w | A2w"
LOW = "key=0 tempo=80 name=Harp\nRH: C5q E5q G5h\nLH: A0w"
VARYING = ("bulk.sqlite", "bulk.sqlite-wal", "bulk.sqlite-shm", "bulk.lock")
"""What is no result: it holds times, or stands there only while a run is at work."""


class InlineCrew:
    """Converts where it is called, one piece after the other."""

    def replies(self, tasks: Iterable[Task]) -> Generator[Reply, None, None]:
        """Yield the reply to each task."""
        yield from map(reply_to, tasks)


def make_folder(folder: Path) -> Path:
    """Scores that are easy, hard, packed, broken, in folders, and files that are no scores."""
    texts = {"easy.musicxml": EASY, "hard.xml": HARD, "deep/er/low.musicxml": LOW}
    for name, text in texts.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(to_musicxml(text))
    bells = packed(read_source_bytes(to_musicxml(BELLS), "bells.musicxml"))
    assert bells.archive is not None
    (folder / "deep" / "bells.mxl").write_bytes(bells.archive.raw)
    (folder / "broken.musicxml").write_bytes(to_musicxml(EASY)[:-40])
    (folder / "readme.txt").write_text("no score")
    (folder / ".hidden.musicxml").write_bytes(to_musicxml(EASY))
    return folder


def order_for(harp: str = "lever-34", book: str = "concert") -> Order:
    """An order with the usual settings."""
    harp_file = load_harp(harp)
    rules = load_rulebook(book, installed(), harp_file.player)
    return Order(Settings(harp_file.harp, rules))


def run(
    folder: Path,
    out: Path,
    orders: tuple[Order, ...] | None = None,
    crew: Crew | None = None,
    **ways: bool,
) -> tuple[Overview, list[Step]]:
    """Convert a folder in the *ways* of `BulkRun`; returns the overview and every step."""
    steps: list[Step] = []
    bulk = BulkRun(
        folder,
        out,
        orders or (order_for(),),
        lambda: crew or InlineCrew(),
        steps.append,
        **ways,
    )
    return bulk.overview(), steps


def tree(folder: Path) -> dict[str, str]:
    """Every file below a folder by its hash, the ledger aside."""
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name not in VARYING
    }


def renamed(order: Order, harp: str) -> Order:
    """The order for a harp that is called otherwise."""
    return replace(
        order, settings=replace(order.settings, harp=replace(order.settings.harp, name=harp))
    )
