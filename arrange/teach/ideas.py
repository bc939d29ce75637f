"""What could be done with a piece beside playing it: sections to repeat, bare places to fill."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from arrange.harp.harp import Position
from arrange.harp.wording import state_in_words
from arrange.pitch import Pitch, pitch_on_line
from arrange.score.model import HandName
from arrange.teach.chords import SureChord
from arrange.teach.form import Form, Section
from arrange.teach.piece import Piece
from arrange.teach.words import DASH, counted, span_text, strings_text

LONGEST_REPEAT = 24
"""Most measures that one would play again (house judgement)."""
LEAST_BARE = 3
"""Measures in a row that make a bare stretch (house judgement)."""
LOWEST_ROOT = Pitch("C", 0, 2).line
"""A filling chord begins at this string or above it."""
FIFTH, OCTAVE = 4, 7
"""Strings above the root."""


@dataclass(frozen=True, slots=True)
class Idea:
    """Something to try: *where* and what."""

    where: str
    text: str


def repeats(piece: Piece, form: Form, tonic: int | None) -> Iterator[Idea]:
    """Yield the sections that can be played again, and which levers that takes.

    A section will do that is played once, is not too long, and closes on the tonic.

    Args:
        piece: the piece.
        form: its form.
        tonic: the pitch class of the key's tonic, where it is known.
    """
    if len(form.sections) < 2 or tonic is None:
        return
    for section in form.sections:
        strain = section.strain
        times = len(piece.clock.occurrences(strain.first))
        if times != 1 or not section.is_strain or not 4 <= len(strain) <= LONGEST_REPEAT:
            continue
        end = piece.line.starts[strain.last + 1 :]
        chord = piece.chords.at((end[0] if end else piece.line.end) - 1)
        if chord is None or chord.root != tonic:
            continue
        yield Idea(f"{section.name} ({section.where})", _again(piece, section))


def _again(piece: Piece, section: Section) -> str:
    """What the levers ask for when the section is played again at once."""
    first = piece.clock.occurrences(section.strain.first)[0]
    after = piece.clock.occurrences(section.strain.last)[-1] + 1
    begin = piece.setting(first)
    end = piece.setting(after)
    length = counted(section.strain.full_measures(piece.measures), "measure")
    if begin == end:
        return f"closes on the tonic: {length} more to play, and no lever to set back"
    words = state_in_words(piece.harp, end, begin).removeprefix("as at the start but ")
    return f"closes on the tonic: {length} more to play; first set back {words}"


def bare_stretches(piece: Piece, chords: Sequence[SureChord]) -> Iterator[Idea]:
    """Yield stretches in which few strings sound, with something that the left hand could play."""
    full = Counter(pluck.index for pluck in piece.printed)
    rows: list[list[int]] = []
    busy = _left_hand_is_busy(piece)
    for measure in piece.measures:
        if not 0 < full[measure.index] <= 1 + 2 * measure.meter.length:
            continue
        if measure.index in busy:
            continue
        if rows and rows[-1][-1] == measure.index - 1:
            rows[-1].append(measure.index)
        else:
            rows.append([measure.index])
    for row in rows:
        if len(row) >= LEAST_BARE:
            where = span_text(piece.measures, row)
            tried = _filling(piece, row, chords)
            yield Idea(where, f"few strings sound; {tried}")


def _left_hand_is_busy(piece: Piece) -> frozenset[int]:
    """The measures in which it plucks more than two strings."""
    counts = Counter(p.index for p in piece.printed if p.hand is HandName.LEFT)
    return frozenset(index for index, count in counts.items() if count > 2)


def _filling(piece: Piece, row: Sequence[int], chords: Sequence[SureChord]) -> str:
    """Root, fifth and octave for the first measure whose chord is sure and within reach.

    A hand that spans no octave gets root and fifth.
    """
    is_wide = piece.player.grip.strings > OCTAVE
    steps, fingers = ((0, FIFTH, OCTAVE), "4 2 1") if is_wide else ((0, FIFTH), "3 1")
    names = DASH.join(("root", "fifth", "octave")[: len(steps)])
    for sure in chords:
        if sure.index in row:
            found = _filling_chord(piece, sure, steps)
            if found:
                where = span_text(piece.measures, (sure.index,))
                return (
                    f"the left hand could play {names}, in {where} on {sure.name}: "
                    f"{strings_text(found)} ({fingers})"
                )
    return "the left hand could add the root of each chord"


def _filling_chord(piece: Piece, sure: SureChord, steps: Sequence[int]) -> tuple[Pitch, ...]:
    """Strings so many letters above a root, as the levers stand, below the right hand."""
    index, root = sure.index, sure.chord.root
    place = piece.clock.occurrences(index)
    if not place:
        return ()
    setting = piece.setting(place[0])
    top = min(
        (p.pitch.line for p in piece.printed if p.index == index and p.hand is HandName.RIGHT),
        default=0,
    )
    wanted = [(root + {FIFTH: 7}.get(step, 0)) % 12 for step in steps]
    lowest = Pitch.parse(piece.player.lowest).line if piece.player.lowest else LOWEST_ROOT
    for line in range(max(lowest, LOWEST_ROOT), top - steps[-1]):
        pitches = [_sounding(piece, line + step, setting) for step in steps]
        classes = [None if p is None else p.pitch_class for p in pitches]
        if classes == wanted:
            return tuple(p for p in pitches if p is not None)
    return ()


def _sounding(piece: Piece, line: int, setting: dict[str, Position]) -> Pitch | None:
    plain = pitch_on_line(line)
    number = piece.harp.string_named(f"{plain.step}{plain.octave}")
    if number is None:
        return None
    string = piece.harp.strings[number]
    return string.pitch(setting.get(string.name, Position.DOWN))
