"""What the levers cost at least in a key, told without putting the question to the planner.

Strings that share no pitch ask nothing of each other, so each of them, or each two that do
share one, is worked out by itself (``key_rows``). The source's strikes of one pitch are the
same in every key; what differs is how long their string rings and who reaches it. So what can
be told of them is told once and serves every key.

The bound of a row of strikes is what the planner finds for a group (``arrange.levers.chain``).
Strikes of one pitch between which no lever can be moved, and after which it can be moved from
the same moment on, are one strike to it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from arrange.harp.harp import Position
from arrange.levers.groups import whole
from arrange.levers.problem import Cost, LeverString
from arrange.levers.timetable import Timetable
from arrange.pitch import Interval, Pitch
from arrange.score.plucks import Strike
from arrange.study.grounds import Ground
from arrange.study.key_rows import Asked, KeyRows, Priced, pairs_of
from arrange.study.planning import lever_strings
from arrange.study.repairs import Repairs
from arrange.study.terms import Terms

Changed = Mapping[int, int | None]
"""Plucks that folding changes: by how many octaves, None where they are not played."""


_Struck = tuple[Strike, Cost, Cost, tuple[int, ...]]
"""A strike, what it costs not to play it, what an octave costs instead, which octaves."""

_Known = tuple[list[_Struck], frozenset[int], dict[frozenset[int], Priced]]
"""Strikes, the octaves that any of them may move, and what they cost where some can be had."""


class KeyFloors:
    """The bounds of one harp's keys.

    Args:
        basis: each measure played once.
        fifths: the source's key signature at the start.
    """

    def __init__(
        self, basis: Ground, repairs: Repairs, terms: Terms, timetable: Timetable, fifths: int
    ) -> None:
        self._basis = basis
        self._terms = terms
        self._timetable = timetable
        self._fifths = fifths
        self._struck = self._by_pitch(repairs)
        self._strings = pairs_of(terms.harp)
        self._rows = KeyRows(basis, timetable, terms)
        self._known: dict[int, _Known] = {}

    def _by_pitch(self, repairs: Repairs) -> dict[Pitch, list[_Struck]]:
        """The strikes of each pitch, with what it costs not to play them: once a printed note."""
        basis = self._basis
        paid: set[int] = set()
        found: dict[Pitch, list[_Struck]] = {}
        for strike in basis.strikes:
            pluck = basis.plucks[strike.pluck]
            spared = repairs.spared(pluck)
            if spared is None:
                continue
            note = basis.printed.note_of[strike.pluck]
            struck = (strike, 0, 0, ()) if note in paid else (strike, *spared)
            found.setdefault(pluck.pitch, []).append(struck)
            paid.add(note)
        return found

    def floor(self, interval: Interval, changed: Changed) -> Cost:
        """Return what no plan of the key undercuts."""
        levers = lever_strings(replace(self._terms, fifths=self._fifths + interval.fifths))
        struck, touched = self._with_folded(changed)
        sounding = {pitch: interval.move(pitch) for pitch in struck}
        standing = self._standing(sounding.values(), levers)
        asked: dict[tuple[int, ...], list[Asked]] = {}
        total = 0
        for pitch, strikes in struck.items():
            one = self._asked(sounding[pitch], strikes, standing, is_touched=pitch in touched)
            if not one.homes:
                total += one.priced.total
                continue
            together = self._strings[one.homes[0].string]
            if all(home.string in together for home in one.homes):
                asked.setdefault(together, []).append(one)
        scaled = 0
        for strings, ones in asked.items():
            if any(len(one.homes) > 1 for one in ones):
                scaled += self._rows.bound(strings, ones, levers)
                continue
            for string in strings:
                own = [one for one in ones if one.homes[0].string == string]
                scaled += self._rows.bound((string,), own, levers) if own else 0
        return total + whole(scaled)

    def _standing(
        self, sounding: Iterable[Pitch], levers: tuple[LeverString, ...]
    ) -> frozenset[int]:
        """The key numbers of strings that the notes as they are never want otherwise."""
        harp = self._terms.harp
        wanted: dict[int, set[Position]] = {}
        for pitch in sounding:
            for home in harp.homes(pitch.midi):
                wanted.setdefault(home.string, set()).add(home.position)
        found = set()
        for place, (string, lever) in enumerate(zip(harp.strings, levers, strict=True)):
            usual = Position.UP if lever.preset_cost_down else Position.DOWN
            positions = wanted.get(place, {usual})
            stands = string.pitch(*positions) if len(positions) == 1 else None
            if stands is not None:
                found.add(stands.midi)
        return frozenset(found)

    def _asked(
        self,
        sounding: Pitch,
        struck: list[_Struck],
        standing: frozenset[int],
        *,
        is_touched: bool,
    ) -> Asked:
        harp = self._terms.harp
        octaves = frozenset(o for o in (12, -12) if sounding.midi + o in standing)
        priced = self._priced(struck, octaves)
        homes = harp.homes(sounding.midi)
        return Asked(priced, is_touched, homes, harp.home_as_spelled(sounding))

    def _priced(self, struck: list[_Struck], octaves: frozenset[int]) -> Priced:
        """The strikes of a pitch, when these octaves can be had without moving a lever."""
        known = self._known.get(id(struck))
        if known is None:
            may = {octave for _, _, _, may in struck for octave in may}
            known = self._known[id(struck)] = struck, frozenset(may), {}
        _, ever, by_octaves = known
        octaves &= ever
        if octaves not in by_octaves:
            by_octaves[octaves] = Priced(
                [
                    (strike, left if octaves.isdisjoint(may) else eased)
                    for strike, left, eased, may in struck
                ]
            )
        return by_octaves[octaves]

    def _with_folded(
        self, changed: Changed
    ) -> tuple[dict[Pitch, list[_Struck]], frozenset[Pitch]]:
        """The strikes of each pitch when some are folded, and the pitches that this concerns."""
        if not changed:
            return self._struck, frozenset()
        plucks = self._basis.plucks
        touched = {plucks[i].pitch for i in changed}
        found = dict(self._struck)
        moved: dict[Pitch, list[_Struck]] = {}
        for pitch in found.keys() & touched:
            kept = []
            for struck in found[pitch]:
                octaves = changed.get(struck[0].pluck, 0)
                if octaves == 0:
                    kept.append(struck)
                elif octaves is not None:
                    other = Pitch(pitch.step, pitch.alter, pitch.octave + octaves)
                    moved.setdefault(other, []).append(struck)
            found[pitch] = kept
        for pitch, strikes in moved.items():
            together = [*found.get(pitch, ()), *strikes]
            found[pitch] = sorted(together, key=lambda one: one[0].time)
        found = {pitch: strikes for pitch, strikes in found.items() if strikes}
        return found, frozenset(touched | moved.keys())
