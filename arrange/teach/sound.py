"""Practice sound: what is heard in the page, and the files that are written beside it."""

from dataclasses import dataclass
from fractions import Fraction

from arrange.report.practice_midi import PACES, HandChoice, click, practice_midi
from arrange.teach.piece import Piece
from arrange.units import SECOND

HANDS: tuple[HandChoice, ...] = ("right", "left", "both")


@dataclass(frozen=True, slots=True)
class PracticeFile:
    """A Standard MIDI File: *name*, what it holds in words, its bytes."""

    name: str
    hand: HandChoice
    percent: int
    content: bytes


def practice_files(piece: Piece, stem: str) -> tuple[PracticeFile, ...]:
    """Return each hand and both, at each pace, counted in.

    Args:
        piece: what is practised.
        stem: how the names of the files begin.
    """
    return tuple(
        PracticeFile(
            f"{stem}.{hand}.{percent}.mid",
            hand,
            percent,
            practice_midi(piece.score, hand, pace, piece.harp, piece.instructions),
        )
        for hand in HANDS
        for pace in PACES
        for percent in (int(pace * 100),)
    )


def count_in(piece: Piece) -> list[list[float]]:
    """For each measure as it is played, the seconds from beat to beat before it, and how many.

    A measure is counted at its own pace; before an upbeat also what the upbeat lacks.
    """
    found = []
    for place, (index, _, start) in enumerate(piece.clock.passes):
        measure = piece.measures[index]
        end = piece.clock.passes[place + 1][2] if place + 1 < len(piece.clock.passes) else 0
        long = (end or piece.clock.end) - start
        quarter = Fraction(long) / measure.length if measure.length else Fraction(SECOND)
        beat = click(measure.meter, quarter)
        length = measure.meter.length + max(measure.meter.length - measure.length, Fraction(0))
        beats = -(-length // beat)
        found.append([round(float(quarter * beat) / SECOND, 4), int(beats)])
    return found
