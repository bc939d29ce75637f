"""Chromatic notes that give way where a player should move fewer levers.

Beside the usual repairs an inner note outside the key may become the note that the key has on
its string: a passing note its neighbour, a chord its nearest relative inside the key. The exact
planner weighs all of it together. Where its plan still has more moves than the player should
have, a move is made dearer, twofold at a time, until the plan keeps to the number or no inner
note is left that could give way. House judgement throughout.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import groupby
from operator import attrgetter

from arrange.changes import Fidelity
from arrange.levers.problem import Choice
from arrange.pitch import Pitch
from arrange.score.model import EventId, Score
from arrange.score.plucks import Pluck
from arrange.study.keysignature import alteration
from arrange.study.levering import LeverPlan, Treatment, plan_freely, plan_with_repairs
from arrange.study.opening import too_many_moves
from arrange.study.prices import PriceList
from arrange.study.repairs import Repairs
from arrange.study.roles import NoteRole, Role, roles
from arrange.study.terms import Terms
from arrange.study.timeline import timeline

DEARER = (1, 2, 4)
"""How many times its price a move may cost before no more notes give way for it."""
NEARLY = 50
"""A note of the key in place of a chord's is so much cheaper than the chord without it."""
DIATONIC = "diatonic"


@dataclass(frozen=True, slots=True)
class Sparing:
    """What gives way so that fewer levers move.

    Attributes:
        treatments: of the notes that give way, in order of the plucks.
        is_capped: moves beyond the player's number had to go; else no hand had time for them.
    """

    treatments: tuple[Treatment, ...]
    is_capped: bool


def sparing(score: Score, terms: Terms, limit: Fidelity) -> Sparing:
    """Return what gives way; nothing where the usual plan moves no lever too often or too late.

    *limit* is the furthest that a repair may go.
    """
    usual = plan_with_repairs(score, terms, limit)
    if not any(_is_poor(plan) or too_many_moves(score, plan, terms.player) for plan in usual):
        return Sparing((), is_capped=False)
    finder = _Diatonic(score, terms)
    plans: tuple[LeverPlan, ...] = usual
    dearer = DEARER[0]
    for dearer in DEARER:
        prices = replace(terms.prices, move=terms.prices.move * dearer)
        asked = replace(terms, prices=prices)
        plans = plan_freely(score, asked, finder.choices(Repairs(score, asked, limit)))
        if not any(too_many_moves(score, plan, terms.player) for plan in plans):
            break
    labels = {DIATONIC} if dearer == DEARER[0] else {DIATONIC, "octave", "omit"}
    return Sparing(
        tuple(t for plan in plans for t in plan.treatments if t.label in labels),
        is_capped=dearer != DEARER[0],
    )


def _is_poor(plan: LeverPlan) -> bool:
    return any(t.label in {"omit", "open", "octave"} for t in plan.treatments)


class _Diatonic:
    """Finds the note of the key that an inner note may give way to."""

    def __init__(self, score: Score, terms: Terms) -> None:
        self._score = score
        self._terms = terms
        self._named: dict[EventId, NoteRole] = roles(score)
        self._beside: dict[EventId, frozenset[int]] = {}
        for staves in score.harps:
            for _, moment in groupby(timeline(score, staves).notes, attrgetter("start")):
                row = list(moment)
                tones = frozenset(n.midi % 12 for n in row)
                self._beside.update({n.note.id: tones for n in row})

    def choices(self, repairs: Repairs) -> Callable[[Pluck], tuple[Choice, ...]]:
        """The usual ways to treat a pluck, and the note of the key."""

        def found(pluck: Pluck) -> tuple[Choice, ...]:
            usual = repairs.choices(pluck)
            extra = self._choice(pluck)
            return usual if extra is None else (*usual[:-1], extra, usual[-1])

        return found

    def _choice(self, pluck: Pluck) -> Choice | None:
        role = self._named.get(pluck.note)
        if role is None or role.is_cadential or self._is_leading(pluck):
            return None
        plain = self._in_key(pluck)
        home = None if plain is None else self._terms.harp.home_as_spelled(plain)
        if plain is None or home is None or self._clashes(pluck, plain):
            return None
        return Choice(((home.string, home.position),), _price(role, self._terms.prices), DIATONIC)

    def _is_leading(self, pluck: Pluck) -> bool:
        """Whether melody or bass is plucked with it."""
        named = (self._named.get(event) for event in (pluck.note, *pluck.doubles))
        return any(role is not None and role.role in {Role.MELODY, Role.BASS} for role in named)

    def _in_key(self, pluck: Pluck) -> Pitch | None:
        note = self._score.notes_by_id[pluck.note]
        if note.auxiliaries or note.microtone or note.is_grace:
            return None
        measure = self._score.measure(note.id.part, note.id.index)
        fifths = measure.fifths[min(note.staff, len(measure.fifths)) - 1]
        alter = alteration(note.pitch.step, fifths + measure.transposition.fifths)
        return replace(note.pitch, alter=alter) if alter != note.pitch.alter else None

    def _clashes(self, pluck: Pluck, plain: Pitch) -> bool:
        """Whether it would stand a semitone from a note that is struck with it."""
        others = self._beside.get(pluck.note, frozenset()) - {pluck.pitch.pitch_class}
        doubles = self._named[pluck.note].sounds_elsewhere
        return doubles or any((plain.midi - tone) % 12 in {1, 11} for tone in others)


def _price(role: NoteRole, prices: PriceList) -> int:
    if role.role is Role.DOUBLING:
        return prices.doubling
    return (prices.passing if role.is_passing else prices.third) - NEARLY
