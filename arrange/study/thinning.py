"""Chords of more notes, or wider, than a player holds, and what of them can be spared.

Each moment is weighed by itself. A note may stay, be left out for its price, or, if it is
neither melody nor bass, sound an octave nearer; two notes of one tone are never both left out
for the price of a doubling. The search over these is complete, so the way taken is the cheapest;
of two that cost alike the one that keeps the notes next to melody and bass wins.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby, product
from operator import attrgetter

from arrange.hands.player import Player
from arrange.hands.sharing import holds
from arrange.score.model import EventId, HandName, Score, Sign, StaffHand
from arrange.study.prices import PriceList
from arrange.study.roles import NoteRole, Role, omission_price, roles
from arrange.study.timeline import Sounding, timeline

MOST_WEIGHED = 6
"""So many notes of a moment are weighed in every way; of more doublings go unweighed, and no
note moves."""
LOWEST_THIRD = 48
"""Key number of C3: nothing moves down below it."""


@dataclass(frozen=True, slots=True)
class Thinned:
    """A moment that loses notes.

    Attributes:
        struck: its notes, low to high.
        gone: notes left out; *moved*: notes with the octaves that they move.
    """

    struck: tuple[Sounding, ...]
    gone: tuple[Sounding, ...]
    moved: tuple[tuple[Sounding, int], ...]

    def of_hand(self, hand: HandName) -> tuple[Sounding, ...]:
        """The notes that the staves give to *hand*."""
        return tuple(note for note in self.struck if note.hand is hand)


def thinned(
    score: Score, staves: tuple[StaffHand, ...], player: Player, prices: PriceList
) -> Iterator[Thinned]:
    """Yield every moment that is too full for the player and can be thinned, in score order."""
    line = timeline(score, staves)
    named: dict[EventId, NoteRole] | None = None
    fixed = frozenset(score.left_open) | _swept(score)
    held: list[Sounding] = []
    for start, moment in groupby(line.notes, attrgetter("start")):
        struck = tuple(n for n in moment if not n.is_grace)
        held = [n for n in held if n.end > start]
        if _is_light([n for n in struck if fixed.isdisjoint(n.ids)], player):
            held.extend(struck)
            continue
        named = named or roles(score)
        way = _Moment(struck, held, named, fixed, player, prices).thinned()
        if way is not None:
            yield way
        held.extend(n for n in struck if way is None or n not in way.gone)


def _swept(score: Score) -> frozenset[EventId]:
    """The notes of glissandi, which are nobody's chord."""
    return frozenset(
        event
        for sweep in score.sweeps
        for event in (sweep.start, *sweep.notes, *((sweep.end,) if sweep.end else ()))
    )


def _is_light(struck: list[Sounding], player: Player) -> bool:
    """Whether the hands hold all of it."""
    if len({n.line for n in struck}) > player.together:
        return False
    return all(_is_held([n for n in struck if n.hand is hand], player) for hand in HandName)


def _is_held(
    row: list[Sounding], player: Player, moved: dict[Sounding, int] | None = None
) -> bool:
    octaves = moved or {}
    lines = [n.line + 7 * octaves.get(n, 0) for n in row]
    return holds(lines, player.grip, rolled=any(n.note.has(Sign.ARPEGGIATE) for n in row))


@dataclass(slots=True)
class _Moment:
    struck: tuple[Sounding, ...]
    held: list[Sounding]
    named: dict[EventId, NoteRole]
    fixed: frozenset[EventId]
    player: Player
    prices: PriceList

    def thinned(self) -> Thinned | None:
        """What goes and what moves; None where no way makes the moment light enough."""
        struck = sorted(self.struck, key=lambda n: n.midi)
        first = self._spared_doublings(struck)
        struck = [n for n in struck if n not in first]
        best: tuple[tuple[int, int, int], tuple[Sounding, ...], dict[Sounding, int]] | None = None
        may_move = len(struck) <= MOST_WEIGHED
        for ways in product(*(self._ways(n, may_move=may_move) for n in struck)):
            gone = tuple(n for n, by in zip(struck, ways, strict=True) if by is None)
            moved = {n: by for n, by in zip(struck, ways, strict=True) if by}
            cost = self._cost(struck, gone, moved)
            if best is not None and cost >= best[0]:
                continue
            if self._is_playable([n for n in struck if n not in gone], moved):
                best = (cost, gone, moved)
        if best is None or not (best[1] or best[2] or first):
            return None
        return Thinned(self.struck, (*first, *best[1]), tuple(best[2].items()))

    def _role(self, note: Sounding) -> NoteRole:
        return self.named[note.note.id]

    def _spared_doublings(self, struck: list[Sounding]) -> tuple[Sounding, ...]:
        """Doublings that go unweighed where a moment has very many notes."""
        spare = [n for n in struck if self._role(n).role is Role.DOUBLING and self._is_free(n)]
        return tuple(spare[: max(len(struck) - MOST_WEIGHED, 0)])

    def _is_free(self, note: Sounding) -> bool:
        return self.fixed.isdisjoint(note.ids)

    def _ways(self, note: Sounding, *, may_move: bool) -> tuple[int | None, ...]:
        """0 to stay, None to go, octaves to move."""
        role = self._role(note)
        if role.role in {Role.MELODY, Role.BASS} or not self._is_free(note):
            return (0,)
        may_move = may_move and not note.note.auxiliaries and role.role is not Role.DOUBLING
        octaves = tuple(by for by in (1, -1) if self._goes(note, by)) if may_move else ()
        return (0, *octaves, *(() if omission_price(role, self.prices) is None else (None,)))

    def _goes(self, note: Sounding, by: int) -> bool:
        """Whether it stays between the outer notes, on a string that nothing else has."""
        midi, line = note.midi + 12 * by, note.line + 7 * by
        low, high = self.struck[0], self.struck[-1]
        return (
            low.midi < midi < high.midi
            and midi >= LOWEST_THIRD
            and all(n.line != line for n in (*self.struck, *self.held))
        )

    def _cost(
        self, struck: list[Sounding], gone: tuple[Sounding, ...], moved: dict[Sounding, int]
    ) -> tuple[int, int, int]:
        kept = {n.midi % 12 for n in (*struck, *self.held) if n not in gone}
        cost = self.prices.octave * len(moved)
        lost: set[int] = set()
        for note in gone:
            price = omission_price(self._role(note), self.prices) or 0
            tone = note.midi % 12
            if tone not in kept and tone not in lost:
                lost.add(tone)
                price = max(price, self._price_of_tone(note))
            cost += price
        return cost, len(gone) + len(moved), -sum(self._inside(n, struck) for n in gone)

    def _price_of_tone(self, note: Sounding) -> int:
        role = self._role(note)
        if role.is_passing or role.degree == "fifth":
            return self.prices.passing
        return self.prices.third

    def _inside(self, note: Sounding, struck: list[Sounding]) -> int:
        """How many strings it lies from the outer note of its hand that leads."""
        row = [n.line for n in struck if n.hand is note.hand]
        return note.line - row[0] if note.hand is HandName.LEFT else row[-1] - note.line

    def _is_playable(self, kept: list[Sounding], moved: dict[Sounding, int]) -> bool:
        places = sorted((n.line + 7 * moved.get(n, 0), n.midi) for n in kept)
        lines = {place for place, _ in places}
        if len(lines) > self.player.together or len(lines) < len({n.line for n in kept}):
            return False
        return all(
            _is_held([n for n in kept if n.hand is hand], self.player, moved) for hand in HandName
        )
