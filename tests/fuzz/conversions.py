"""Conversions under fire: whole conversions of scores whose elements were spoiled.

``python tests/fuzz/conversions.py FOLDER [--first 0] [--scores 300]`` spoils that many scores,
each by its number, and converts them. A score may be refused in a sentence; what is converted
must pass its own check and audit, and convert again to the same bytes. What does not is kept in
FOLDER, with what is wrong.
"""

import argparse
import re
import sys
import time
import traceback
from collections import Counter
from functools import partial
from pathlib import Path

import seeds
from mutating import Dice, spoiled
from shrinking import shrunk

from arrange.changes import Fidelity
from arrange.errors import BadInput
from arrange.harp.files import load_harp
from arrange.pipeline import Settings, convert
from arrange.registry import installed
from arrange.rulebook import load_rulebook
from arrange.score.container import read_source_bytes

MOST_SECONDS = 20
_HARPS = ("lever-34", "lever-34", "lever-27", "lever-22")
_BOOKS = ("concert", "concert", "concert", "beginner", "intermediate")
_KEYS = ("auto", "auto", "auto", "keep", "M2", "-m3")


def spoiled_score(number: int, texts: list[str], suite: list[bytes]) -> bytes:
    """The score of that number."""
    dice = Dice(number)
    if dice.throw(4) and texts:
        text = seeds.stretch(dice.one_of(texts), dice.throw(24), 4 + dice.throw(12))
    else:
        text = seeds.text_of(dice.one_of(suite))
    return seeds.bytes_of(spoiled(text, dice, dice.throw(6) + 1))


def settings(number: int) -> Settings:
    """What is asked for the score of that number."""
    dice = Dice(number + 1)
    harp = load_harp(dice.one_of(_HARPS))
    asked = ("write-fingering",) if dice.throw(4) == 0 else ()
    book = load_rulebook(dice.one_of(_BOOKS), installed(), harp.player, asked)
    return Settings(
        harp.harp,
        book,
        key=dice.one_of(_KEYS),
        parts=() if dice.throw(2) else ("P1",),
        transpose_all=dice.throw(4) == 0,
        limit=dice.one_of((Fidelity.LOSSY, Fidelity.LOSSY, Fidelity.IDIOMATIC, Fidelity.EXACT)),
    )


def outcome(raw: bytes, asked: Settings) -> tuple[str, str]:
    """What becomes of a score in a word, and what is wrong with that."""
    try:
        conversion = convert(read_source_bytes(raw, "x.musicxml"), asked)
        wrong = [*map(str, conversion.violations), *conversion.unlogged]
        if wrong:
            return "unsound", "\n".join(wrong)
        again = convert(read_source_bytes(conversion.result, "x.musicxml"), asked)
        if asked.key in {"auto", "keep"} and again.result != conversion.result:
            return "different again", ""
    except BadInput as refusal:
        return ("refused", str(refusal)) if "\n" not in str(refusal) else ("fault", str(refusal))
    except (Exception, RecursionError) as fault:  # noqa: BLE001 - every fault is wanted
        return "fault", "".join(traceback.format_exception(fault))
    return "sound", ""


def kind_of(word: str, wrong: str) -> str:
    """What is alike in faults of one kind: the last line of what is wrong, its numbers aside."""
    return f"{word} {re.sub(r'[0-9]+', '0', wrong.strip().rpartition(chr(10))[2])[:60]}"


def goes_wrong(kind: str, number: int, text: str) -> bool:
    """Whether the score of a number, made smaller, goes wrong in the same way."""
    return kind_of(*outcome(seeds.bytes_of(text), settings(number))) == kind


def main() -> None:
    """Convert what the command line asks for."""
    words = argparse.ArgumentParser(description="Fuzz whole conversions.")
    words.add_argument("folder", type=Path)
    words.add_argument("--first", type=int, default=0)
    words.add_argument("--scores", type=int, default=300)
    words.add_argument("--shrink", action="store_true", help="keep a small score beside each")
    asked = words.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    texts, suite = list(seeds.own()), [raw for raw in seeds.suite() if raw[:2] != b"PK"]
    outcomes: Counter[str] = Counter()
    for number in range(asked.first, asked.first + asked.scores):
        raw, begin = spoiled_score(number, texts, suite), time.process_time()
        word, wrong = outcome(raw, settings(number))
        if time.process_time() - begin > MOST_SECONDS:
            word = "slow"
        outcomes[word] += 1
        if word not in {"sound", "refused"}:
            path = asked.folder / f"{number}.musicxml"
            path.write_bytes(raw)
            path.with_suffix(".txt").write_text(f"{word}\n{wrong}", "utf-8", "replace")
            if asked.shrink:
                small = shrunk(
                    seeds.text_of(raw), partial(goes_wrong, kind_of(word, wrong), number)
                )
                path.with_suffix(".small.musicxml").write_bytes(seeds.bytes_of(small))
            sys.stdout.write(f"{number} {word}: {wrong.strip().splitlines()[-1:]}\n")
    sys.stdout.write(f"{dict(outcomes)}\n")


if __name__ == "__main__":
    main()
