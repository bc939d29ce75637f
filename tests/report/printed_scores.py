"""Scores on paper for the tests: converted, engraved, performed."""

from functools import cache
from pathlib import Path
from typing import Any

from notation import to_musicxml

from arrange.check import from_page
from arrange.cli.asking import harp_and_book
from arrange.pipeline import Conversion, Settings, convert
from arrange.report.engraving.papers import A4, Paper
from arrange.report.proof import Printed, performance_of, printed
from arrange.report.proofs.hands import Performance
from arrange.report.summary import summary
from arrange.score.container import read_source
from arrange.score.document import Document
from arrange.score.packing import unpacked
from arrange.score.reading import Reading

CORPUS = Path(__file__).resolve().parent.parent.parent / "corpus"
SLIP = Paper("slip", 150.0, 70.0, 6.0)
"""A sheet so small that a few measures fill it."""


@cache
def converted(name: str) -> tuple[Conversion, dict[str, Any]]:
    """A demo score converted for the usual harp, and its summary."""
    harp_file, book = harp_and_book("lever-34")
    source = unpacked(read_source(CORPUS / name))
    conversion = convert(source, Settings(harp_file.harp, book))
    return conversion, summary(conversion)


def performed(score_bytes: bytes) -> Performance:
    """A score as the usual player plays it on the usual harp."""
    harp_file, book = harp_and_book("lever-34")
    score = Reading(Document.read(score_bytes, "test"), parts=(), tempo=None).score()
    return performance_of(score, book.player, from_page(score, harp_file.harp))


def on_paper(score_bytes: bytes, paper: Paper = A4) -> Printed:
    """A score engraved as it comes."""
    return printed(score_bytes, "test", paper)


def noted(text: str) -> bytes:
    """The MusicXML of a score in the short notation."""
    return to_musicxml(text)
