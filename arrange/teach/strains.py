"""Where a piece is divided into strains: at its signs, and where something comes again.

Signs are double bars, repeats, segno and coda, rehearsal marks, changes of key. Within a stretch
that has none of them a strain begins where at least four measures of melody come back, note for
note, four measures or more after they were first heard; where those were first heard; where a
strain that has come back whole is over, and where the first was over of one that ends the piece.
An upbeat and first and second endings belong to their strain. House judgement.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from arrange.score.model import MarkKind, Measure
from arrange.teach.piece import Piece
from arrange.teach.words import is_short
from arrange.units import Quarters

LEAST = 4
"""Measures that must come back for it to be heard as a return, and measures between."""
_SIGNS = {MarkKind.REHEARSAL, MarkKind.SEGNO, MarkKind.CODA}

BEFORE = 2
"""Measures of an introduction that may stand before a strain."""
Run = tuple[int, int, int]
"""Melody that comes again: the measure where it is first heard, where then, how many measures."""
Tune = tuple[tuple[int, int], ...]
"""Ticks from the barline and pitch of each melody note of a measure."""


@dataclass(frozen=True, slots=True)
class Strain:
    """Measures *first* to *last*, by index."""

    first: int
    last: int

    @property
    def indices(self) -> range:
        """Its measures."""
        return range(self.first, self.last + 1)

    def __len__(self) -> int:
        return self.last - self.first + 1

    def full_measures(self, measures: Sequence[Measure]) -> int:
        """How many it fills; an upbeat and the measure that it is taken from are one together."""
        own = (measures[index] for index in self.indices)
        return int(sum((m.length / m.meter.length for m in own), Quarters(0)))


def strains(piece: Piece) -> tuple[Strain, ...]:
    """Return the strains of a piece, in printed order."""
    measures = piece.measures
    if not measures:
        return ()
    begins = set(_at_signs(measures))
    runs = list(returns(melody_by_measure(piece)))
    found = sorted(begins | set(_at_returns(sorted(begins), runs, len(measures))))
    return tuple(
        Strain(first, following - 1) for first, following in pairwise([*found, len(measures)])
    )


def melody_by_measure(piece: Piece) -> list[Tune]:
    """The tune of each measure; empty where it has none."""
    rows: list[list[tuple[int, int]]] = [[] for _ in piece.measures]
    for note in piece.melody:
        if not note.is_grace:
            rows[note.index].append((note.start - piece.line.starts[note.index], note.midi))
    return [tuple(row) for row in rows]


def _at_signs(measures: Sequence[Measure]) -> Iterator[int]:
    yield 0
    for before, measure in pairwise(measures):
        one, two = before.structure, measure.structure
        is_upbeat = before.index == 0 and is_short(before)
        if is_upbeat or (one.endings and two.endings):
            continue
        is_apart = one.double_bar or one.backward or one.fine or bool(one.endings)
        begins = two.forward or two.segno or two.coda or before.fifths != measure.fifths
        if is_apart or begins or any(mark.kind in _SIGNS for mark in measure.marks):
            yield measure.index


def _at_returns(begins: Sequence[int], runs: Sequence[Run], count: int) -> Iterator[int]:
    """Where stretches without signs come back to what was heard before."""
    edges = [*begins, count]
    found = set(begins)
    for first, second, _ in runs:
        for place in (first, second):
            if any(a + BEFORE <= place <= b - LEAST for a, b in pairwise(edges)):
                found.add(place)
                yield place
    for first, second, length in runs:
        ends = (first + length, second + length)
        is_inside = [
            any(a + LEAST <= end <= b - LEAST for a, b in pairwise(edges)) for end in ends
        ]
        if ends[0] in found and is_inside[1]:
            yield ends[1]
        if ends[1] == count and is_inside[0]:
            yield ends[0]


def returns(tunes: Sequence[Tune]) -> Iterator[Run]:
    """Yield stretches of melody that come again."""
    known: dict[Tune, int] = {}
    i = 0
    while i < len(tunes):
        first = known.get(tunes[i]) if len(tunes[i]) > 1 else None
        length = 0 if first is None or i - first < LEAST else _length(tunes, first, i)
        if first is not None and length >= LEAST and any(_differs(tunes[i : i + length])):
            yield first, i, length
            i += length
        else:
            known.setdefault(tunes[i], i)
            i += 1


def _length(tunes: Sequence[Tune], first: int, then: int) -> int:
    """For how many measures both go on alike."""
    length = 0
    while (
        then + length < len(tunes)
        and first + length < then
        and tunes[first + length] == tunes[then + length]
    ):
        length += 1
    return length


def _differs(tunes: Sequence[Tune]) -> Iterator[bool]:
    """Whether each differs from the one before: a figure that only goes on is no return."""
    return (one != two for one, two in pairwise(tunes))


@dataclass(frozen=True, slots=True)
class Likeness:
    """How like one strain is to another, measure by measure from the first full one.

    Attributes:
        melody, harmony: shares of what is alike, in hundredths.
        opening: how many measures from the beginning have the same melody.
        semitones: how far the melody lies from the other's.
    """

    melody: int
    harmony: int
    opening: int
    semitones: int


def aligned(piece: Piece, one: Strain, other: Strain) -> list[tuple[int, int]]:
    """The measures that stand for each other: upbeats for upbeats, full ones for full ones."""
    rows = [_parted(piece, strain) for strain in (one, other)]
    return [pair for a, b in zip(*rows, strict=True) for pair in zip(a, b, strict=False)]


def _parted(piece: Piece, strain: Strain) -> tuple[range, range]:
    """An upbeat, and what follows."""
    begin = strain.first + (len(strain) > 1 and is_short(piece.measures[strain.first]))
    return range(strain.first, begin), range(begin, strain.last + 1)


def likeness(piece: Piece, one: Strain, other: Strain, tunes: Sequence[Tune]) -> Likeness:
    """Compare *other* with *one*, which came first."""
    places = aligned(piece, one, other)
    pairs = [(tunes[a], tunes[b]) for a, b in places]
    apart = Counter(
        there - here
        for a, b in pairs
        for (tick, here), (place, there) in zip(a, b, strict=False)
        if tick == place
    )
    semitones = min(apart, key=lambda n: (-apart[n], abs(n), n)) if apart else 0
    alike = total = 0
    for a, b in pairs:
        moved = {(tick, midi + semitones) for tick, midi in a}
        alike += len(moved & set(b))
        total += max(len(a), len(b))
    longer, shorter = sorted((len(one), len(other)), reverse=True)
    share = 100 * alike // total if total else 0
    share = share * 2 * shorter // longer if longer > 2 * shorter else share
    opening = _opening(pairs, semitones)
    return Likeness(share, _harmony(piece, one, other), opening, semitones)


def _opening(pairs: Sequence[tuple[Tune, Tune]], semitones: int) -> int:
    """How many pairs from the first on are the same melody."""
    for count, (a, b) in enumerate(pairs):
        if [(tick, midi + semitones) for tick, midi in a] != list(b):
            return count
    return len(pairs)


def _harmony(piece: Piece, one: Strain, other: Strain) -> int:
    """The share of measures that begin on the same root; 0 for strains of other lengths."""
    if len(one) != len(other):
        return 0
    roots = [_root(piece, a) == _root(piece, b) for a, b in aligned(piece, one, other)]
    return 100 * sum(roots) // len(roots) if roots else 0


def _root(piece: Piece, index: int) -> int | None:
    chord = piece.chords.at(piece.line.starts[index])
    return None if chord is None else chord.root
