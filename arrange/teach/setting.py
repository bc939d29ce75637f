"""How the harp is set: at the start, where people restart; the key, the strings that are used."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from arrange.harp.wording import key_in_words, state_in_words
from arrange.phrasing import listed
from arrange.score.model import MarkKind, Measure
from arrange.study.keysignature import MAJOR, MINOR, key_name
from arrange.teach.piece import Piece
from arrange.teach.words import counted, number_of, span_text, string_text


@dataclass(frozen=True, slots=True)
class Restart:
    """A place where people restart, and how the levers stand before its first note."""

    index: int
    where: str
    why: str
    levers: str


def restarts(piece: Piece) -> Iterator[Restart]:
    """Yield the lever state at rehearsal marks, segno, coda and after double bars and repeats.

    Where the levers stand otherwise when a place comes again, each time is told.
    """
    for before, measure in pairwise(piece.measures):
        why = _reason(before, measure)
        places = piece.clock.occurrences(measure.index)
        if not why or not places:
            continue
        settings = [piece.setting(place) for place in places]
        told: dict[str, list[int]] = {}
        for time, setting in enumerate(settings, 1):
            words = state_in_words(piece.harp, piece.told.initial, setting)
            told.setdefault(words, []).append(time)
        levers = next(iter(told))
        if len(told) > 1:
            levers = "; ".join(
                f"time {listed([str(t) for t in times])}: {words}" for words, times in told.items()
            )
        yield Restart(measure.index, span_text(piece.measures, (measure.index,)), why, levers)


def _reason(before: Measure, measure: Measure) -> str:
    """Why people restart there, "" where they do not."""
    one, two = before.structure, measure.structure
    named = [
        f"rehearsal mark {mark.text.strip()}"
        for mark in measure.marks
        if mark.kind is MarkKind.REHEARSAL
    ]
    signs = {
        "the sign": two.segno,
        "the Coda": two.coda,
        "new key": before.fifths != measure.fifths,
        "double bar": one.double_bar or one.fine,
        "repeat": two.forward or (one.backward and not two.endings),
    }
    return next(iter([*named, *(why for why, is_there in signs.items() if is_there)]), "")


@dataclass(frozen=True, slots=True)
class Key:
    """The key.

    Attributes:
        name: ``E minor``; *relative*: ``G major``; *signs*: of the signature, in words.
        tonic: its pitch class; *later*: other keys, with where they begin.
    """

    name: str
    relative: str
    signs: str
    tonic: int
    later: tuple[str, ...]


def key_of(piece: Piece) -> Key | None:
    """Return the key, None where the signature says none that has a name.

    Where the signature does not say whether it is major or minor, the last chord does.
    """
    measures = piece.measures
    fifths = measures[0].fifths[0] if measures and measures[0].fifths else 0
    if not -7 <= fifths <= 7:
        return None
    mode = measures[0].mode or _mode_heard(piece, fifths)
    other = "major" if mode == "minor" else "minor"
    names = {"major": MAJOR, "minor": MINOR}
    tonic = (fifths * 7 + (9 if mode == "minor" else 0)) % 12
    return Key(
        key_in_words(key_name(fifths, mode)),
        key_in_words(f"{names[other][fifths + 7]} {other}"),
        _signs(fifths),
        tonic,
        tuple(_later(piece)),
    )


def _mode_heard(piece: Piece, fifths: int) -> str:
    last = piece.chords.chords[-1] if piece.chords.chords else None
    is_minor = last is not None and last.root == (fifths * 7 + 9) % 12
    return "minor" if is_minor else "major"


def _signs(fifths: int) -> str:
    if not fifths:
        return "no sign"
    return counted(abs(fifths), "sharp" if fifths > 0 else "flat")


def _later(piece: Piece) -> Iterator[str]:
    for before, measure in pairwise(piece.measures):
        if before.fifths != measure.fifths and measure.fifths:
            mode = measure.mode or ""
            name = key_in_words(key_name(measure.fifths[0], mode or "major"))
            told = name if mode else f"{_signs(measure.fifths[0])} in the signature"
            yield f"{told} from {span_text(piece.measures, (measure.index,))}"


def strings_used(piece: Piece) -> str:
    """The lowest and the highest string that is plucked, with measures to find them in."""
    left_open = frozenset(piece.score.left_open)
    notes = [p for p in piece.printed if p.note not in left_open]
    if not notes:
        return ""
    low = min(notes, key=lambda p: (p.pitch.line, p.index))
    high = max(notes, key=lambda p: (p.pitch.line, -p.index))
    told = [
        f"{string_text(p.pitch)} (m. {number_of(piece.measures[p.index])})" for p in (low, high)
    ]
    return f"from {told[0]} to {told[1]}"
