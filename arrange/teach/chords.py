"""Chord names, only where they are sure: root and third sound, and hardly anything else."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from arrange.pitch import LETTERS, Pitch
from arrange.study.harmony import SHAPES, Chord
from arrange.study.keysignature import alteration
from arrange.study.timeline import Sounding
from arrange.teach.piece import Piece
from arrange.units import Quarters

SURE = 85
"""Hundredths of what sounds that must belong to the chord (house judgement)."""
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
    notes = [n for n in line.notes if not n.is_grace]
    begin, waiting = 0, 0
    while begin < len(chords):
        end = begin + 1
        while end < len(chords) and _goes_on(piece, begin, end):
            end += 1
        chord = chords[begin]
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


def _goes_on(piece: Piece, begin: int, beat: int) -> bool:
    """Whether the chord of one beat still stands on another, in the same measure."""
    one, other = piece.chords.chords[begin], piece.chords.chords[beat]
    is_same = one == other or (
        one is not None
        and other is not None
        and one.root == other.root
        and one.shape == other.shape
    )
    is_barline = (
        piece.line.starts[piece.measure_at(piece.line.beats[beat])] == piece.line.beats[beat]
    )
    return is_same and not is_barline


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
    """The root as the key signature spells it, whichever string it is played on."""
    step, alter = spelled
    if alter:
        place = LETTERS.index(step)
        other = LETTERS[(place + (1 if alter > 0 else -1)) % 7]
        changed = Pitch(step, alter, 4).midi - Pitch(other, 0, 4).midi
        changed = (changed + 6) % 12 - 6
        if changed and alteration(other, fifths) == changed:
            return other, changed
    return spelled


def _letter(spelled: tuple[str, int]) -> str:
    step, alter = spelled
    sign = "\N{MUSIC SHARP SIGN}" * alter if alter > 0 else "\N{MUSIC FLAT SIGN}" * -alter
    return step + sign
