"""Pairs the parts of two scores, and finds the interval by which each was transposed."""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from arrange.apply.signatures import wrapped
from arrange.pitch import UNISON, Interval
from arrange.report.comparing.aligning import Pairs, aligned
from arrange.report.comparing.sheets import Print, SheetPart

_NO_PITCH = -500
PartPairs = list[tuple[SheetPart, SheetPart]]


@dataclass(frozen=True, slots=True)
class PairedParts:
    """Parts with their counterparts, in the order after; and those that have none."""

    pairs: PartPairs
    removed: list[SheetPart]
    added: list[SheetPart]


def paired_parts(before: Sequence[SheetPart], after: Sequence[SheetPart]) -> PairedParts:
    """Pair parts by id and name, then name, then id, then by what they play, then by order."""
    gone, new = list(before), list(after)
    found: PartPairs = []
    for key in (_id_and_name, _name, _id):
        _take_equal(gone, new, key, found)
    _take_alike(gone, new, found)
    order = {id(part): i for i, part in enumerate(after)}
    found.sort(key=lambda pair: order[id(pair[1])])
    return PairedParts(found, gone, new)


def _take_equal(
    gone: list[SheetPart],
    new: list[SheetPart],
    key: Callable[[SheetPart], str],
    found: PartPairs,
) -> None:
    for one in list(gone):
        two = next((p for p in new if key(one) and key(p) == key(one)), None)
        if two is not None:
            gone.remove(one)
            new.remove(two)
            found.append((one, two))


def _take_alike(gone: list[SheetPart], new: list[SheetPart], found: PartPairs) -> None:
    """Pair what plays most of the same; what shares nothing only if as many are left."""
    plays = {id(part): _played(part) for part in (*gone, *new)}
    ranked = sorted(
        (-sum((plays[id(one)] & plays[id(two)]).values()), i, j, one, two)
        for i, one in enumerate(gone)
        for j, two in enumerate(new)
    )
    is_even = len(gone) == len(new)
    for shared, _, _, one, two in ranked:
        if one in gone and two in new and (shared or is_even):
            gone.remove(one)
            new.remove(two)
            found.append((one, two))


def _played(part: SheetPart) -> "Counter[Print]":
    """Its measures with notes, whatever the key."""
    return Counter(relative_print(c.fingerprint) for c in part.cells if c.fingerprint)


def _id(part: SheetPart) -> str:
    return part.part.id


def _name(part: SheetPart) -> str:
    return part.part.name.casefold()


def _id_and_name(part: SheetPart) -> str:
    return f"{part.part.id}\n{_name(part)}" if part.part.name else ""


def moved_print(print_: Print, interval: Interval) -> Print:
    """The fingerprint after a transposition; unpitched notes stay."""
    if interval == UNISON or not print_:
        return print_
    steps, semitones = interval.steps, interval.semitones
    if print_[0][-1] > _NO_PITCH and all(note[-1] > _NO_PITCH for note in print_):
        return tuple([(*note[:5], note[5] + steps, note[6] + semitones) for note in print_])
    return tuple(
        sorted((*n[:5], n[5] + steps, n[6] + semitones) if n[6] > _NO_PITCH else n for n in print_)
    )


def relative_print(print_: Print) -> Print:
    """The same for a measure in any key."""
    if not print_:
        return print_
    line, midi = print_[0][-2:]
    return tuple((*note[:-2], note[-2] - line, note[-1] - midi) for note in print_)


Columns = list[tuple[Print, ...]]
"""For each measure of the score, the fingerprints of its parts."""


def columns_of(parts: Sequence[SheetPart], intervals: Sequence[Interval]) -> Columns:
    """The fingerprints of all measures, part beside part; an absent measure is an empty one."""
    count = max((len(part.cells) for part in parts), default=0)
    prints = [
        [moved_print(cell.fingerprint, interval) for cell in part.cells]
        for part, interval in zip(parts, intervals, strict=True)
    ]
    for row in prints:
        row.extend([()] * (count - len(row)))
    return list(zip(*prints, strict=True))


def paired_columns(before: Columns, after: Columns) -> Pairs:
    """Pair the measures of two scores."""
    numbers: dict[tuple[Print, ...], int] = {}
    ones = [numbers.setdefault(column, len(numbers)) for column in before]
    twos = [numbers.setdefault(column, len(numbers)) for column in after]
    known: dict[int, frozenset[tuple[int, ...]]] = {}

    def traits(number: int, column: tuple[Print, ...]) -> frozenset[tuple[int, ...]]:
        if number not in known:
            known[number] = frozenset(_traits(column))
        return known[number]

    def likeness(i: int, j: int) -> int:
        one, two = traits(ones[i], before[i]), traits(twos[j], after[j])
        if not one and not two:
            return 100
        return 200 * len(one & two) // (len(one) + len(two))

    return aligned(ones, twos, likeness)


def _traits(column: tuple[Print, ...]) -> Iterator[tuple[int, ...]]:
    """What makes measures alike: which notes, and which places and lengths."""
    for part, notes in enumerate(column):
        for note in notes:
            yield part, *note[:2], *note[4:]
            yield part, *note[:4]


@dataclass(frozen=True, slots=True)
class Moved:
    """By how much a part was transposed, and how many of its notes say so."""

    interval: Interval
    explained: int
    notes: int


def intervals_of(pairs: PartPairs) -> list[Moved]:
    """For each pair of parts the interval that explains most notes, if it is most of them."""
    ones = columns_of([one for one, _ in pairs], [UNISON] * len(pairs))
    twos = columns_of([two for _, two in pairs], [UNISON] * len(pairs))
    measures = paired_columns(
        [tuple(map(relative_print, column)) for column in ones],
        [tuple(map(relative_print, column)) for column in twos],
    )
    both = [(i, j) for i, j in measures if i is not None and j is not None]
    found = []
    prints = [[(ones[i][n], twos[j][n]) for i, j in both] for n in range(len(pairs))]
    elected = [_elected(entry) for entry in prints]
    common = {interval for interval in elected if interval is not None}
    for number, (one, two) in enumerate(pairs):
        interval = elected[number]
        if interval is None:
            # a part without pitches goes with all others, if its key does
            interval = next(iter(common)) if len(common) == 1 else UNISON
        is_heard = elected[number] is not None and interval.semitones != 0
        if not is_heard and not _keys_follow(one, two, both, interval):
            interval = UNISON
        found.append(_counted(prints[number], interval))
    return found


def _counted(prints: Sequence[tuple[Print, Print]], interval: Interval) -> Moved:
    """How many notes with a pitch there are before, and how many the interval explains."""
    explained = notes = 0
    for one, two in prints:
        pitched = tuple(note for note in one if note[-1] > _NO_PITCH)
        notes += len(pitched)
        explained += _shared(moved_print(pitched, interval), two)
    return Moved(interval, explained, notes)


def _elected(prints: Sequence[tuple[Print, Print]]) -> Interval | None:
    """The interval of more than half of the notes, else none; None where no note has a pitch."""
    votes: Counter[tuple[int, int]] = Counter()
    for one, two in prints:
        if len(one) == len(two):
            votes.update(
                (b[-2] - a[-2], b[-1] - a[-1])
                for a, b in zip(one, two, strict=True)
                if a[:5] == b[:5] and a[-1] > _NO_PITCH
            )
    if not votes:
        return None
    (steps, semitones), count = max(
        votes.items(), key=lambda vote: (vote[1], vote[0] == (0, 0), -abs(vote[0][1]), vote[0])
    )
    return Interval(steps, semitones) if 2 * count > votes.total() else UNISON


def _keys_follow(
    one: SheetPart, two: SheetPart, both: Sequence[tuple[int, int]], interval: Interval
) -> bool:
    """Whether most key signatures moved with the notes.

    Where nothing sounds different, notes that are only spelled otherwise under the same
    signature are no transposition.
    """
    count = sum(
        wrapped(one.cells[i].measure.fifths[0] + interval.fifths) == two.cells[j].measure.fifths[0]
        for i, j in both
        if i < len(one.cells) and j < len(two.cells)
    )
    return 2 * count > len(both)


def _shared(one: Print, two: Print) -> int:
    """How many notes two measures have in common."""
    return len(one) if one == two else (Counter(one) & Counter(two)).total()
