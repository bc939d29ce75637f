"""How the harp is set: at the start, where people restart; key, strings used, tempo."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from arrange.harp.wording import key_in_words, state_in_words
from arrange.phrasing import listed
from arrange.score.model import MarkKind, Measure
from arrange.study.keysignature import MAJOR, MINOR, key_name
from arrange.teach.form import Form
from arrange.teach.piece import Piece
from arrange.teach.words import counted, number_of, span_text, string_text
from arrange.units import Quarters

_BEATS = {
    Quarters(1, 2): "eighths",
    Quarters(3, 4): "dotted eighths",
    Quarters(1): "quarters",
    Quarters(3, 2): "dotted quarters",
    Quarters(2): "halves",
    Quarters(3): "dotted halves",
}
"""Beats by their length."""


@dataclass(frozen=True, slots=True)
class Restart:
    """A place where people restart, and how the levers stand before its first note."""

    index: int
    where: str
    why: str
    levers: str


def restarts(piece: Piece, found: Form) -> Iterator[Restart]:
    """Yield the lever state at rehearsal marks, segno, coda, after double bars and repeats.

    Also where a strain begins, and at the beginning where it is played again. Where the levers
    stand otherwise when a place comes again, each time is told.
    """
    whys = {s.strain.first: s.name for s in found.sections[1:]}
    whys |= {two.index: why for one, two in pairwise(piece.measures) if (why := _reason(one, two))}
    if len(piece.clock.occurrences(0)) > 1:
        jumps = [m.structure.jump for m in piece.measures if m.structure.jump == "D.C."]
        whys[0] = jumps[0] if jumps else "repeat"
    for index, why in sorted(whys.items()):
        measure = piece.measures[index]
        places = piece.clock.occurrences(index)
        if not places:
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
    notes = [p for p in piece.printed if p.note not in piece.open]
    if not notes:
        return ""
    low = min(notes, key=lambda p: (p.pitch.line, p.index))
    high = max(notes, key=lambda p: (p.pitch.line, -p.index))
    told = [
        f"{string_text(p.pitch)} (m. {number_of(piece.measures[p.index])})" for p in (low, high)
    ]
    return f"from {told[0]} to {told[1]}"


def tempo_text(piece: Piece, index: int, tenths: int = 10) -> str:
    """``54 dotted quarters a minute``: the tempo at a measure in beats; "" where none is said.

    Args:
        piece: the piece.
        index: the measure.
        tenths: so many of the tempo.
    """
    tempo = [t for t in piece.score.tempo if t.index <= index]
    if not tempo:
        return ""
    beat = piece.measures[index].meter.beat
    name = _BEATS.get(beat, "")
    pace = tempo[-1].quarters_per_minute * tenths / 10 / (beat if name else 1)
    return f"{round(pace)} {name or 'quarters'} a minute"
