"""The cheapest fingering of what one hand plucks, exact.

Given: handfuls 0 ... n-1 of one hand, each with the strings plucked at one moment (at most
four), the haste in which it is reached, and fingers that a fingering by hand asks for.

Sought: for each handful fingers in order (the thumb has the highest string, strings fall as
fingers rise), and the places where the hand is placed anew. Between two such places lies one
*placing*: every finger keeps one string there (the thumb may slide one down, the fourth finger
one up), fingers fall in order, and no gap and no span is beyond the player's limits.

Price: the sum of what `FingerPrices` asks for fingers, shapes and joinings; a placing's shape
counts once, as the difference that each further finger makes.

State after handful t: the position, which finger of the placing stands on which string. The
strings of t tell which of them plucked last, so the price of handful t+1 depends on the
position alone:

    V(0, q)   = min over ways w that place q on nothing of cost(w)
    V(t+1, q) = min over p, ways w from p to q by handful t+1 of V(t, p) + cost(w)

For a line of single notes a placing reaches back over at most four strings, so there are at
most 4 + 6 + 4 + 1 = 15 positions and a few that slid, whatever n is; the work is O(n) with
that constant squared. Positions are kept relative to the lowest string of their handful: the
ways from one set of positions to the next are then worked out once for every step that looks
alike, wherever on the harp it lies.

Why exact: the price is a sum over neighbouring states, and every way on is tried. Ties: fewer
placings, then later ones (so that full groups come first), then the first position in their
order as tuples, then the way that `ways` yields first. Fingers that are asked for only take
ways out, and what is left keeps its order; so a fingering that is given back whole or in part
comes out again.
"""

from dataclasses import dataclass

from arrange.hands.fingering.shapes import Position, Shapes, shifted
from arrange.hands.fingering.ways import (
    Hold,
    Joining,
    Pluckings,
    Way,
    holds,
    ways,
    ways_anew,
)

_COST_SHIFT = 44
_LATEST = 1 << 22
"""Above any number of handfuls: a placing at t counts ``_LATEST - t`` behind the price."""


@dataclass(frozen=True, slots=True)
class Step:
    """What is plucked next, and how the hand comes to it.

    Attributes:
        haste: 0 in peace to 3: place in the table of haste.
        is_fresh: the hand comes to the strings anew; *is_on_beat*: it stands on a beat.
    """

    pluckings: Pluckings
    haste: int = 0
    is_fresh: bool = False
    is_on_beat: bool = True


@dataclass(frozen=True, slots=True)
class Fingers:
    """The fingering of one handful.

    Attributes:
        fingers: one a string, in the order of the handful's strings, lowest first; empty where
            no hand plays it.
        joining: how it follows what was before.
    """

    fingers: tuple[int, ...]
    joining: Joining


_Found = tuple[Position, Way]
"""A way and the position that it reaches, relative to the lowest string plucked."""
_Entry = tuple[int, int, bool, Way]
"""From which position, at which price, whether a placing begins, the way."""
_Look = tuple[tuple[int, ...], tuple[int, ...], bool, int, int, bool, bool]
"""All that makes a step look like another."""


class _Stand:
    """Positions in which a hand can be, relative to the lowest string plucked last.

    Attributes:
        span: the strings plucked last, relative as well.
        onward: what a step leads to.
    """

    __slots__ = ("onward", "positions", "span")

    def __init__(self, positions: tuple[Position, ...], span: tuple[int, ...]) -> None:
        self.positions = positions
        self.span = span
        self.onward: dict[_Look, tuple[_Stand, list[list[_Entry]]]] = {}


class Search:
    """Fingers rows of handfuls; what it has learnt of steps that look alike serves on."""

    def __init__(self, shapes: Shapes) -> None:
        self._shapes = shapes
        self._start = _Stand((), ())
        self._stands: dict[tuple[tuple[Position, ...], tuple[int, ...]], _Stand] = {}
        self._holds: dict[Pluckings, tuple[Hold, ...]] = {}
        self._ways: dict[tuple[Position, Position, Pluckings], tuple[_Found, ...]] = {}

    def fingers(self, row: list[Step]) -> tuple[list[Fingers], int]:
        """Return the cheapest fingering of a row, and its price in points."""
        found: list[Fingers] = []
        total, begin = 0, 0
        for i in range(len(row) + 1):
            if i == len(row) or not self._held(_relative(row[i].pluckings)):
                part, price = self._passage(row[begin:i])
                found += part
                total += price
                if i < len(row):
                    found.append(Fingers((), Joining.ANEW))
                begin = i + 1
        return found, total

    def _held(self, pluckings: Pluckings) -> tuple[Hold, ...]:
        known = self._holds.get(pluckings)
        if known is None:
            known = self._holds[pluckings] = holds(self._shapes, pluckings)
        return known

    def _passage(self, row: list[Step]) -> tuple[list[Fingers], int]:
        """The cheapest way through handfuls that all can be held."""
        if not row:
            return [], 0
        stand, values, base = self._start, [0], row[0].pluckings.lines[0]
        trail: list[list[_Entry]] = []
        for i, step in enumerate(row):
            low = step.pluckings.lines[0]
            stand, arrivals = self._onward(stand, step, low - base)
            values, chosen = _arrived(arrivals, values, _LATEST - i)
            trail.append(chosen)
            base = low
        at = min(range(len(values)), key=values.__getitem__)
        price = values[at] >> _COST_SHIFT
        found: list[Fingers] = []
        for step, chosen in zip(reversed(row), reversed(trail), strict=True):
            source, _, _, way = chosen[at]
            found.append(_told(way, step.pluckings.lines))
            at = source
        return found[::-1], price

    def _onward(self, stand: _Stand, step: Step, moved: int) -> tuple[_Stand, list[list[_Entry]]]:
        near = _relative(step.pluckings)
        look = (near.lines, near.wanted, near.is_rolled, moved, step.haste, step.is_fresh,
                step.is_on_beat)  # fmt: skip
        known = stand.onward.get(look)
        if known is None:
            known = stand.onward[look] = self._worked_out(stand, step, near, moved)
        return known

    def _worked_out(
        self, stand: _Stand, step: Step, near: Pluckings, moved: int
    ) -> tuple[_Stand, list[list[_Entry]]]:
        arrivals: dict[Position, list[_Entry]] = {}
        late = 0 if step.is_on_beat else self._shapes.prices.off_beat
        is_fresh = step.is_fresh or not stand.positions
        for source, position in enumerate(stand.positions or ((),)):
            here = shifted(position, -moved)
            last = tuple([pair for pair in here if pair[1] + moved in stand.span])
            for reached, way in self._found(here, () if is_fresh else last, near):
                begins = way.joining.begins
                cost = way.cost + way.hurry[step.haste] + (late if begins else 0)
                entry = (source, cost << _COST_SHIFT, begins, way)
                arrivals.setdefault(reached, []).append(entry)
        places = sorted(arrivals)
        key = (tuple(places), near.lines)
        stand_reached = self._stands.get(key)
        if stand_reached is None:
            stand_reached = self._stands[key] = _Stand(*key)
        return stand_reached, [arrivals[position] for position in places]

    def _found(self, here: Position, last: Position, near: Pluckings) -> tuple[_Found, ...]:
        """All ways from one position; without *last* the hand is placed in peace."""
        key = (here, last, near)
        known = self._ways.get(key)
        if known is None:
            shapes = self._shapes
            known = self._ways[key] = tuple(
                (way.position, way)
                for hold in self._held(near)
                for way in (
                    ways(shapes, here, last, hold) if last else (ways_anew(shapes, here, hold),)
                )
            )
        return known


def _relative(pluckings: Pluckings) -> Pluckings:
    low = pluckings.lines[0]
    lines = tuple([line - low for line in pluckings.lines])
    return Pluckings(lines, pluckings.wanted, pluckings.is_rolled)


def _arrived(
    arrivals: list[list[_Entry]], values: list[int], late: int
) -> tuple[list[int], list[_Entry]]:
    """The cheapest way to each position."""
    reached: list[int] = []
    chosen: list[_Entry] = []
    for entries in arrivals:
        best, taken = -1, entries[0]
        for entry in entries:
            value = values[entry[0]] + entry[1] + (late if entry[2] else 0)
            if value < best or best < 0:
                best, taken = value, entry
        reached.append(best)
        chosen.append(taken)
    return reached, chosen


def _told(way: Way, lines: tuple[int, ...]) -> Fingers:
    """The fingers of a handful out of the position, which is relative to its lowest string."""
    low = lines[0]
    on = {line + low: finger for finger, line in way.position}
    return Fingers(tuple([on[line] for line in lines]), way.joining)
