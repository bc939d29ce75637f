"""From the words of a command line to what the engine takes."""

import hashlib
import json
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

from arrange.cli.options import DEFAULT_BOOK
from arrange.errors import BadInput
from arrange.harp.files import HarpFile, load_harp
from arrange.pipeline import own_field
from arrange.pitch import Interval
from arrange.registry import installed
from arrange.rulebook import RuleBook, load_rulebook
from arrange.score.container import Source
from arrange.score.document import Document
from arrange.score.model import Score
from arrange.score.opening import open_score
from arrange.score.reading import Reading


def harp_and_book(
    harp: str, book: str = DEFAULT_BOOK, asked: tuple[str, ...] = ()
) -> tuple[HarpFile, RuleBook]:
    """The harp of that name or file, and the rule book with the player's numbers.

    The rules that are *asked* for by id run beside the book's own.

    Raises:
        BadInput: there is no such harp or book, or its file is wrong.
    """
    harp_file = load_harp(harp)
    return harp_file, load_rulebook(book, installed(), harp_file.player, asked)


def made_for(result: Path) -> dict[str, str]:
    """What a result of ours says that it was made for: ``harp`` and ``book``.

    Raises:
        BadInput: it cannot be read, or is none.
    """
    source = open_score(result)
    score = read(source, None, "")
    return {name: own_field(score, name, result.name) for name in ("harp", "book")}


def tempo(text: str) -> Fraction | None:
    """Quarters a minute; None where *text* is empty.

    Raises:
        BadInput: no number above 0.
    """
    if not text:
        return None
    try:
        quarters_per_minute = Fraction(0) if "e" in text.lower() else Fraction(text)
    except (ValueError, ZeroDivisionError):
        quarters_per_minute = Fraction(0)
    if quarters_per_minute <= 0:
        raise BadInput(f"--tempo {text} is no tempo; write quarters a minute: --tempo 72")
    return quarters_per_minute


def melody(texts: list[str] | None) -> tuple[tuple[int, str], ...]:
    """Staff and voice of the melody, as they are named.

    Raises:
        BadInput: a staff is no number.
    """
    found = []
    for text in texts or ():
        staff, _, voice = text.partition("/")
        if not staff.isdecimal():
            raise BadInput(f"--melody {text}: write a staff, 1 at the top, or staff/voice: 1/2")
        found.append((int(staff), voice.strip()))
    return tuple(found)


def read(
    source: Source,
    parts: list[str] | None,
    tempo_text: str,
    melody: tuple[tuple[int, str], ...] = (),
) -> Score:
    """Read a score that is not going to be changed.

    Raises:
        BadInput: it cannot be read, it has no harp, or an option does not fit it.
    """
    return opened(source, parts, tempo_text, melody)[1].score()


def opened(
    source: Source,
    parts: list[str] | None,
    tempo_text: str,
    melody: tuple[tuple[int, str], ...] = (),
) -> tuple[Document, Reading]:
    """Open a score that is going to be looked at with some changes, as `read` reads it.

    Raises:
        BadInput: it cannot be read, or an option does not fit it.
    """
    document = Document.read(source.score_bytes, source.name)
    named = tuple(parts or ())
    return document, Reading(document, parts=named, tempo=tempo(tempo_text), melody=melody)


def remarks(source: Source, score: Score) -> Iterator[str]:
    """What was odd about a file, and what was noticed, skipped or assumed in reading it."""
    yield from (f"{source.name}: {note}" for note in source.notes)
    for finding in score.findings:
        measure = f", measure {finding.measure}" if finding.measure else ""
        part = f", part {finding.part}" if finding.part else ""
        yield f"{source.name}{part}{measure}: {finding.text}"


def fingerprint(path: Path) -> dict[str, str]:
    """The name and the hash of a file, as the summary shows them."""
    return {"file": path.name, "sha256": hashlib.sha256(path.read_bytes()).hexdigest()}


def json_file(path: Path) -> dict[str, Any]:
    """The JSON object in a file.

    Raises:
        BadInput: it cannot be read, or holds none.
    """
    try:
        content = json.loads(path.read_text("utf-8"))
    except OSError as error:
        reason = error.strerror or str(error)
        raise BadInput(f"cannot be read ({reason}); check the name", file=str(path)) from error
    except ValueError as error:
        raise BadInput(f"is no JSON file ({error})", file=path.name) from error
    if not isinstance(content, dict):
        raise BadInput("holds no JSON object", file=path.name)
    return content


def key(text: str) -> str:
    """What is asked of the key: ``auto``, ``keep`` or an interval.

    Raises:
        BadInput: it is none of them.
    """
    if text not in {"auto", "keep"}:
        try:
            Interval.parse(text)
        except BadInput as error:
            raise BadInput(f"--key takes auto, keep or an interval; {error.message}") from error
    return text
