"""Chord names, only where they are sure: root and third sound, and hardly anything else.

What is left open does not sound.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from arrange.pitch import LETTERS, Pitch
from arrange.study.harmony import SHAPES, Chord
from arrange.study.keysignature import SHARP_ORDER
from arrange.study.timeline import Sounding
from arrange.teach.piece import Piece
from arrange.units import Quarters

SEVENTH, DIMINISHED = (0, 4, 7, 10), (0, 3, 6)
SURE = 85
"""Hundredths of what sounds that must belong to the chord (house judgement)."""
MIDDLE = 2
"""So far on the line of fifths the middle of a major key's letters lies above its tonic."""
NEARER = 4
"""Fifths by which another name must lie nearer to the key (house judgement)."""
ROOM = 7
"""Letters of the two chord names that a measure has room for (house judgement)."""
_KINDS = {
    "major": ("", "major"),
    "minor": ("m", "minor"),
    "diminished": ("dim", "diminished"),
    "augmented": ("aug", "augmented"),
    "dominant seventh": ("7", "dominant"),
    "minor seventh": ("m7", "minor-seventh"),
    "major seventh": ("maj7", "major-seventh"),
    "half-diminished": ("m7\N{MUSIC FLAT SIGN}5", "half-diminished"),
    "diminished seventh": ("dim7", "diminished-seventh"),
}
"""What a shape is called above a melody, and in MusicXML 4.0."""


@dataclass(frozen=True, slots=True)
class SureChord:
    """A chord whose name is sure.

    Attributes:
        index, offset: where it begins.
        chord: what it is; *name*: ``Am7``; *root*: letter and alteration.
        text, kind: how its kind is written and how MusicXML calls it.
    """

    index: int
    offset: Quarters
    chord: Chord
    name: str
    root: tuple[str, int]
    text: str
    kind: str


def sure_chords(piece: Piece) -> tuple[SureChord, ...]:
    """Return the chords that can be named, where they change; two in a measure at most."""
    found: list[SureChord] = []
    for sure in _named(piece):
        same = [s for s in found if s.index == sure.index]
        has_room = sum(len(s.name) for s in (*same, sure)) <= ROOM
        is_new = not found or found[-1].name != sure.name
        if is_new and (not same or (len(same) < 2 and has_room)):
            found.append(sure)
    return tuple(found)


def _named(piece: Piece) -> Iterator[SureChord]:
    line, chords = piece.line, piece.chords.chords
    notes = [n for n in line.notes if not n.is_grace and piece.open.isdisjoint(n.ids)]
    begin, waiting = 0, 0
    while begin < len(chords):
        chord, end = _standing(piece, begin)
        start = line.beats[begin]
        stop = line.beats[end] if end < len(line.beats) else line.end
        while waiting < len(notes) and notes[waiting].start < start - 16 * line.quarter:
            waiting += 1
        if chord is not None:
            heard = [n for n in _until(notes, waiting, stop) if n.end > start]
            sure = _sure(piece, chord, heard, (start, stop))
            if sure is not None:
                yield sure
        begin = end


def _until(notes: list[Sounding], first: int, stop: int) -> Iterator[Sounding]:
    for i in range(first, len(notes)):
        if notes[i].start >= stop:
            return
        yield notes[i]


def _standing(piece: Piece, begin: int) -> tuple[Chord | None, int]:
    """The chord that stands from a beat on, and the first beat that it does not stand on.

    It lasts to the barline at most.
    """
    line, chords = piece.line, piece.chords.chords
    chord, end = chords[begin], begin + 1
    following = piece.measure_at(line.beats[begin]) + 1
    barline = line.starts[following] if following < len(line.starts) else line.end
    while end < len(chords) and line.beats[end] < barline:
        other = chords[end]
        goes_on = None if chord is None or other is None else _followed(chord, other)
        if goes_on is None and chord is not other:
            break
        chord, end = goes_on, end + 1
    return chord, end


def _followed(one: Chord, other: Chord) -> Chord | None:
    """The chord that *one* is with *other* on the next beat; None where that is a new one.

    The tones above the root of a chord that has sounded are its seventh: strings ring on.
    """
    if (one.root, one.shape) == (other.root, other.shape):
        return one
    is_upper = other.shape == DIMINISHED and other.root == one.third
    return Chord(one.root, SEVENTH, one.bass) if is_upper and one.is_dominant_kind else None


def _sure(
    piece: Piece, chord: Chord, heard: list[Sounding], span: tuple[int, int]
) -> SureChord | None:
    start, stop = span
    inside = total = 0
    spelled: dict[int, tuple[str, int]] = {}
    for note in heard:
        length = min(note.end, stop) - max(note.start, start)
        total += length
        if chord.degree(note.midi % 12) != "other":
            inside += length
            spelled.setdefault(note.midi % 12, (note.note.pitch.step, note.note.pitch.alter))
    needed = max(len(chord.shape), 3)
    is_whole = chord.root in spelled and chord.third in spelled and len(spelled) >= needed
    if not is_whole or inside * 100 < total * SURE:
        return None
    text, kind = _KINDS[SHAPES[chord.shape]]
    measure = piece.measures[piece.measure_at(start)]
    root = _in_key(spelled[chord.root], measure.fifths[0] if measure.fifths else 0)
    index = piece.measure_at(start)
    offset = Quarters(Fraction(start - piece.line.starts[index], piece.line.quarter))
    name = _letter(root) + text
    return SureChord(index, offset, chord, name, root, text, kind)


def _in_key(spelled: tuple[str, int], fifths: int) -> tuple[str, int]:
    """The root as it is named in the key, whichever string it is played on.

    By the letter that lies much nearer to the key on the line of fifths; else as it is written.
    """
    step, alter = spelled
    place = LETTERS.index(step)
    other = LETTERS[(place + (1 if alter > 0 else -1)) % 7]
    changed = (Pitch(step, alter, 4).midi - Pitch(other, 0, 4).midi + 6) % 12 - 6
    middle = fifths + MIDDLE
    near, far = (abs(_fifth(*name) - middle) for name in ((other, changed), spelled))
    return (other, changed) if alter and far - near >= NEARER else spelled


def _fifth(step: str, alter: int) -> int:
    """Where a name lies on the line of fifths, C at 0."""
    return SHARP_ORDER.index(step) - 1 + 7 * alter


def _letter(spelled: tuple[str, int]) -> str:
    step, alter = spelled
    sign = "\N{MUSIC SHARP SIGN}" * alter if alter > 0 else "\N{MUSIC FLAT SIGN}" * -alter
    return step + sign
