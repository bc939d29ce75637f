"""The moments at which a hand is asked for more than it holds, and how they can be played."""

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from operator import attrgetter

from arrange.edits import AddRoll, MarkValue
from arrange.hands.player import Grip
from arrange.hands.sharing import HeldNote, Sharing, is_held, sharing
from arrange.score.model import EventId, HandName, Score, Sign, StaffHand
from arrange.study.prices import PriceList
from arrange.study.roles import NoteRole, Role, omission_price, roles
from arrange.study.timeline import Sounding, Timeline, timeline

_HANDS = tuple(HandName)


@dataclass(frozen=True, slots=True)
class HeldMoment:
    """A moment that the hands cannot play as it stands.

    Attributes:
        struck: its notes, low to high.
        way: how it can be played; where nobody can, what comes nearest.
        is_open: some notes of ``way.left_out`` are never left out, so they stay open.
    """

    struck: tuple[Sounding, ...]
    way: Sharing
    is_open: bool

    def of(self, keys: tuple[int, ...]) -> tuple[Sounding, ...]:
        """The notes that *keys* of the sharing stand for."""
        return tuple(self.struck[key] for key in keys)

    def of_hand(self, hand: HandName) -> tuple[Sounding, ...]:
        """The notes that the staves give to *hand*."""
        return tuple(note for note in self.struck if note.hand is hand)

    def played_by(self, hand: HandName) -> tuple[Sounding, ...]:
        """The notes that *hand* plays in the end."""
        taken, gone = set(self.of(self.way.taken)), set(self.of(self.way.left_out))
        return tuple(
            note
            for note in self.struck
            if note not in gone and (self.way.by if note in taken else note.hand) is hand
        )

    def roll(self, hand: HandName) -> AddRoll:
        """The edit that rolls what *hand* plays."""
        notes = self.played_by(hand)
        first = notes[0].note
        value = MarkValue(first.id.index, first.offset, first.staff, "roll")
        return AddRoll(tuple(n.note.id for n in notes), value)


def unheld(
    score: Score, staves: tuple[StaffHand, ...], grip: Grip, prices: PriceList
) -> Iterator[HeldMoment]:
    """Yield every moment that one hand cannot hold, in score order."""
    line = timeline(score, staves)
    named: dict[EventId, NoteRole] | None = None
    reaches: _Reaches | None = None
    aside = frozenset(score.left_open)
    for _, moment in groupby(line.notes, attrgetter("start")):
        together = tuple(moment)
        if _is_near(together, grip):
            continue
        struck = _plucked(n for n in together if not n.is_grace and aside.isdisjoint(n.ids))
        if _is_near(struck, grip):
            continue
        if is_held([_plain(i, note) for i, note in enumerate(struck)], grip):
            continue
        if named is None or reaches is None:
            named, reaches = roles(score), _Reaches(line, grip)
        notes = [_priced(i, note, named, prices) for i, note in enumerate(struck)]
        free = reaches.free_at(struck[0].start)
        way = sharing(notes, grip, free)
        if way is not None:
            yield HeldMoment(struck, way, is_open=False)
            continue
        way = sharing(
            [_yielding(n, named[struck[n.key].note.id], prices) for n in notes], grip, free
        )
        if way is not None:
            yield HeldMoment(struck, way, is_open=True)


def held_octaves(
    score: Score, staves: tuple[StaffHand, ...], grip: Grip
) -> dict[EventId, tuple[int, ...]]:
    """The octaves (1 up, -1 down) by which each note may move without being too far.

    The hand still spans its strings whichever of the moves of one moment are made together, and
    no two notes of a moment meet on one string. Notes that may not move are left out.
    """
    found: dict[EventId, tuple[int, ...]] = {}
    for _, moment in groupby(timeline(score, staves).notes, attrgetter("start")):
        struck = _plucked(n for n in moment if not n.is_grace)
        taken = {note.line for note in struck}
        for hand in _HANDS:
            row = [note for note in struck if note.hand is hand]
            if not row:
                continue
            is_rolled = any(map(_is_rolled, row))
            widest = grip.rolled_strings if is_rolled else grip.strings
            found |= _moves_within(row, widest, taken)
    return found


def _moves_within(
    row: list[Sounding], widest: int, taken: set[int]
) -> dict[EventId, tuple[int, ...]]:
    """The moves that keep *row* within *widest* strings; the strings that they take are added."""
    found: dict[EventId, tuple[int, ...]] = {}
    lines = [note.line for note in row]
    low, high = min(lines), max(lines)
    is_alone = len(row) == 1
    for note in row:
        moves: tuple[int, ...] = ()
        for by in (1, -1):
            line = note.line + 7 * by
            lowest, highest = min(low, line), max(high, line)
            if line in taken or (highest - lowest >= widest and not is_alone):
                continue
            taken.add(line)
            low, high = lowest, highest
            moves = (*moves, by)
        if moves:
            found[note.note.id] = moves
    return found


def _plucked(moment: Iterable[Sounding]) -> tuple[Sounding, ...]:
    """One note a pitch: equal pitches struck together are one pluck, the longest."""
    found: dict[int, Sounding] = {}
    for note in moment:
        other = found.get(note.midi)
        if other is None or note.end > other.end:
            found[note.midi] = note
    return tuple(found.values())


def _is_near(struck: tuple[Sounding, ...], grip: Grip) -> bool:
    """Whether one hand could hold all of it, rolled or not: then the hands that have it can."""
    if len(struck) > grip.notes:
        return False
    lines = [note.line for note in struck]
    return not lines or max(lines) - min(lines) < min(grip.strings, grip.rolled_strings)


def _is_rolled(note: Sounding) -> bool:
    return bool(note.note.notations) and note.note.has(Sign.ARPEGGIATE)


def _plain(key: int, note: Sounding) -> HeldNote:
    return HeldNote(key, note.line, note.hand, None, _is_rolled(note))


def _priced(
    key: int, note: Sounding, named: dict[EventId, NoteRole], prices: PriceList
) -> HeldNote:
    plain = _plain(key, note)
    price = omission_price(named[note.note.id], prices)
    return HeldNote(key, plain.line, plain.hand, price, plain.is_rolled)


def _yielding(note: HeldNote, role: NoteRole, prices: PriceList) -> HeldNote:
    """The note with a price even where it is never left out: that of leaving it open."""
    is_outer = role.role in {Role.MELODY, Role.BASS}
    price = note.price
    if price is None:
        price = prices.open_outer if is_outer else prices.open
    return HeldNote(note.key, note.line, note.hand, price, note.is_rolled)


class _Reaches:
    """Whether a hand that strikes nothing at a moment can come and take a string.

    It can where its neighbouring notes lie a quarter or more away, or within one grip of that
    string (house judgement).
    """

    def __init__(self, line: Timeline, grip: Grip) -> None:
        self._quarter = line.quarter
        self._strings = grip.strings
        self._moments: dict[HandName, list[tuple[int, int, int]]] = {
            hand: [
                (start, *_ends([n.line for n in row]))
                for start, row in groupby(
                    (n for n in line.notes if n.hand is hand), attrgetter("start")
                )
            ]
            for hand in HandName
        }

    def free_at(self, tick: int) -> "_FreeAt":
        """The question for one moment."""
        return _FreeAt(self, tick)

    def is_free(self, hand: HandName, string: int, tick: int) -> bool:
        """Whether *hand* can take *string* at *tick*."""
        moments = self._moments[hand]
        i = bisect_left(moments, (tick, -1, -1))
        near = [*moments[max(i - 1, 0) : i], *moments[i : i + 1]]
        return all(
            abs(start - tick) >= self._quarter
            or max(high, string) - min(low, string) < self._strings
            for start, low, high in near
        )


@dataclass(frozen=True, slots=True)
class _FreeAt:
    reaches: _Reaches
    tick: int

    def __call__(self, hand: HandName, string: int) -> bool:
        return self.reaches.is_free(hand, string, self.tick)


def _ends(lines: list[int]) -> tuple[int, int]:
    return min(lines), max(lines)
