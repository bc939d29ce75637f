"""Freeing the left hand for the lever moves that a plan has to do without.

A plan decides homes, octaves and omissions under the windows that stand; here the windows
change. For each note that is lost, and each move that is hurried, because the left hand is busy,
the fewest moments of that hand are sought that would have to be lifted (``openings``), by the
right hand taking them or a string left to ring (``reliefs``). What is found is held to a real
plan: only what lowers its cost by more than its own price is kept.

The method, house judgement: all that looks worth its price is planned together; what brought
nothing is dropped and the rest planned again, until all of it pays; then the moments go that no
move makes use of. No clock decides, so the answer is always the same.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from arrange.changes import Fidelity, Option, Refusal
from arrange.harp.harp import Harp
from arrange.harp.wording import note_in_words
from arrange.levers.problem import Cost
from arrange.pitch import Pitch
from arrange.score.model import Score
from arrange.study.decided import without_aside
from arrange.study.levering import LeverPlan, Treatment, plan_with_repairs
from arrange.study.lifting import Outcome, lifted, outcome
from arrange.study.openings import Opening, Openings
from arrange.study.planning import pitch_of
from arrange.study.reliefs import HandsAtWork, Relief
from arrange.study.roles import Role, roles
from arrange.study.terms import Terms
from arrange.study.wants import NoteKey, Trouble, note_key, troubles
from arrange.units import Microseconds, Quarters

FREEING = "free-left-hand"
"""The rule that weighs these ways."""
AS_IT_STANDS, FREE = "as-it-stands", "free"
"""Keys of the two ways."""
Moment = tuple[str, int, Quarters]
"""Part, measure, offset."""
MOST_PLANS = 4
"""Plans that are tried for one harp; one that the search could not prove counts twice (house
judgement)."""
MOST_MORE_PLANS = 2
"""The same, in which light notes of the accompaniment may go (house judgement)."""
MOST_TROUBLES = 60
"""So many lost notes and hurried moves ask for another key, harp or tempo (house judgement)."""
WORTH_A_SEARCH: Cost = 1_000
"""What must be in it to plan again where the first plan could not be proved (house judgement:
ten moves)."""


@dataclass(frozen=True, slots=True)
class Freed:
    """Moments of the left hand that are lifted for one lever.

    Attributes:
        reliefs: in order of time.
        note: what the lever is set for; *had*, *has*: the longest time for which the hand is
            free while the string is quiet, before and after.
        options: the ways that were weighed.
    """

    reliefs: tuple[Relief, ...]
    note: Pitch
    had: Microseconds
    has: Microseconds
    options: tuple[Option, ...]


@dataclass(frozen=True, slots=True)
class _Rescue:
    """A trouble, and the windows that would end it."""

    trouble: Trouble
    openings: tuple[Opening, ...]

    @property
    def reliefs(self) -> tuple[Relief, ...]:
        """What has to be lifted."""
        return tuple(dict.fromkeys(r for o in self.openings for r in o.reliefs))

    @property
    def cost(self) -> Cost:
        """What it costs: reliefs, moves, hurry."""
        return _price(self.reliefs) + self.trouble.moves + sum(o.hurry for o in self.openings)

    @property
    def measures(self) -> set[int]:
        """The measures that it touches."""
        return {p.index for r in self.reliefs for p in (*r.taken, *r.gone)}

    def without(self, unused: set[Relief]) -> "_Rescue":
        """The rescue with fewer moments lifted."""
        return replace(self, openings=tuple(o.without(unused) for o in self.openings))


def freed(score: Score, terms: Terms, limit: Fidelity) -> tuple[Freed, ...]:
    """Return what is worth lifting from the left hand, in score order.

    *limit* is the furthest that a repair may go: only LOSSY leaves a note out. A piece with
    more troubles than ``MOST_TROUBLES`` is not saved by a free hand here and there.
    """
    found: list[Freed] = []
    for levers in plan_with_repairs(score, terms, limit):
        worse = tuple(troubles(levers)) if terms.player.left is not None else ()
        if not 0 < len(worse) <= MOST_TROUBLES:
            continue
        harp = _RelievedHarp(score, levers, terms, limit)
        found.extend(_freed(r, levers, terms.harp) for r in harp.kept(worse))
    return tuple(found)


def place_of(relief: Relief) -> Moment:
    """The printed moment that is lifted."""
    pluck = (*relief.taken, *relief.gone)[0]
    return pluck.note.part, pluck.note.index, pluck.offset


def _left_alone(score: Score, terms: Terms) -> frozenset[Moment]:
    """The moments at which an editor wants the hands to stay as they are."""
    chosen = terms.decided.chosen(FREEING)
    notes = (score.notes_by_id.get(event) for event, key in chosen.items() if key == AS_IT_STANDS)
    return frozenset((n.id.part, n.id.index, n.offset) for n in notes if n is not None)


def refusals(found: Iterable[Freed], score: Score, terms: Terms) -> Iterator[Refusal]:
    """Yield the moments that an editor wants to see freed and that are not."""
    freed_at = {place_of(relief) for one in found for relief in one.reliefs}
    for event, key in terms.decided.chosen(FREEING).items():
        note = score.notes_by_id.get(event)
        is_freed = note is not None and (event.part, event.index, note.offset) in freed_at
        if key == AS_IT_STANDS or is_freed:
            continue
        yield Refusal(FREEING, event, key, "freeing the hand here brings no move that pays")


def _price(reliefs: Iterable[Relief]) -> Cost:
    return sum(relief.price for relief in set(reliefs))


def _promise(rescue: _Rescue) -> Cost:
    """What a rescue would bring if all went well."""
    return rescue.trouble.cost - rescue.cost


def _pays(rescue: _Rescue, found: Outcome) -> bool:
    """Whether it brings more than its price, and what the right hand takes stays where it is."""
    stays = all(p.note not in found.moved for r in rescue.reliefs for p in r.taken)
    return stays and found.gain(rescue.trouble) > _price(rescue.reliefs)


def _all_reliefs(rescues: Sequence[_Rescue]) -> tuple[Relief, ...]:
    return tuple(dict.fromkeys(r for rescue in rescues for r in rescue.reliefs))


class _RelievedHarp:
    """One harp, planned with moments of its left hand lifted, a bounded number of times."""

    def __init__(self, score: Score, levers: LeverPlan, terms: Terms, limit: Fidelity) -> None:
        self._score = score
        self._levers = levers
        self._terms = terms
        self._limit = limit
        self._work = HandsAtWork(score, levers, terms, limit)
        self._openings = Openings(self._work, levers.problem, terms)
        self._plans_left = 0
        self._bound = _left_alone(score, terms)

    def _rescues(self, worse: Iterable[Trouble], *, gives_up: bool = False) -> list[_Rescue]:
        """What looks worth its price, best first; no note is saved twice."""
        found: list[_Rescue] = []
        for trouble in worse:
            openings = [self._openings.cheapest(w, gives_up=gives_up) for w in trouble.wants]
            rescue = _Rescue(trouble, tuple(o for o in openings if o is not None))
            is_worth_it = None not in openings and rescue.reliefs and rescue.cost < trouble.cost
            if not all(map(self._terms.decided.may_change, rescue.measures)):
                continue
            if is_worth_it and self._bound.isdisjoint(map(place_of, rescue.reliefs)):
                found.append(rescue)
        if not self._levers.plan.is_optimal and sum(map(_promise, found)) < WORTH_A_SEARCH:
            return []
        found.sort(key=_promise, reverse=True)
        saved: set[NoteKey] = set()
        kept = []
        for rescue in found:
            keys = {key for key, _ in rescue.trouble.lost}
            if saved.isdisjoint(keys):
                kept.append(rescue)
                saved |= keys
        return kept

    def kept(self, worse: tuple[Trouble, ...]) -> list[_Rescue]:
        """What really lowers the plan's cost by more than its own price, in score order.

        First what costs no note that is not heard already; then, for melody and bass that are
        still lost, light notes of the accompaniment may go.
        """
        self._plans_left = MOST_PLANS
        kept, found = self._paying(self._rescues(worse))
        if found is not None:
            kept, found = self._trimmed(kept, found)
            if found.cost + _price(_all_reliefs(kept)) >= self._levers.cost:
                kept, found = [], None
        self._plans_left = MOST_MORE_PLANS
        lost = [trouble for trouble in worse if self._is_outer(trouble, found)]
        more, richer = self._paying(self._rescues(lost, gives_up=True), tuple(kept))
        if richer is not None:
            both, richer = self._trimmed([*kept, *more], richer)
            cost = self._levers.cost if found is None else found.cost
            if richer.cost + _price(_all_reliefs(both)) < cost + _price(_all_reliefs(kept)):
                kept = both
        return sorted(kept, key=lambda rescue: rescue.openings[0].want.closes)

    def _is_outer(self, trouble: Trouble, found: Outcome | None) -> bool:
        """Whether melody or bass is lost, and not yet saved."""
        outer = self._terms.prices.open_outer - self._terms.prices.respelled
        return any(
            loss >= outer and (found is None or key in found.lost) for key, loss in trouble.lost
        )

    def _paying(
        self, rescues: list[_Rescue], before: tuple[_Rescue, ...] = ()
    ) -> tuple[list[_Rescue], Outcome | None]:
        """Drop what brings nothing until all that is left does, *before* beside it."""
        kept = self._guarded(rescues, before)
        while kept and self._plans_left > 0:
            found = self._outcome([*before, *kept])
            paying = [rescue for rescue in kept if _pays(rescue, found)]
            if len(paying) == len(kept):
                return kept, found
            kept = self._guarded(paying, before)
        return [], None

    def _trimmed(self, kept: list[_Rescue], found: Outcome) -> tuple[list[_Rescue], Outcome]:
        """Give up the moments that no move makes use of."""
        reliefs = _all_reliefs(kept)
        unused = set(reliefs) - self._openings.used(reliefs, found.by_left)
        fewer = [rescue.without(unused) for rescue in kept]
        fewer = [rescue for rescue in fewer if rescue.reliefs]
        if not unused or self._plans_left <= 0 or self._guarded(fewer) != fewer:
            return kept, found
        again = self._outcome(fewer)
        if again.cost + _price(_all_reliefs(fewer)) > found.cost + _price(reliefs):
            return kept, found
        return fewer, again

    def _outcome(self, rescues: list[_Rescue]) -> Outcome:
        score = lifted(self._score, _all_reliefs(rescues))
        place = self._score.harps.index(self._levers.staves)
        found = outcome(plan_with_repairs(score, self._terms, self._limit)[place])
        self._plans_left -= 1 if found.is_proven else 2
        return found

    def _guarded(self, rescues: list[_Rescue], before: tuple[_Rescue, ...] = ()) -> list[_Rescue]:
        """Drop what would take a melody or bass note out of the planner's protection.

        A note that the other hand takes may no longer count as one; that does no harm where its
        string is never asked for anything else. And what is left out must ring on.
        """
        kept = [rescue for rescue in rescues if self._work.rings_on(rescue.reliefs)]
        while kept:
            reliefs = _all_reliefs([*before, *kept])
            exposed = self._exposed(reliefs)
            if not exposed and self._work.rings_on(reliefs):
                break
            near = {i for index in exposed for i in (index - 1, index, index + 1)}
            safe = [rescue for rescue in kept if near.isdisjoint(rescue.measures)]
            kept = safe if len(safe) < len(kept) else kept[:-1]
        return kept

    def _exposed(self, reliefs: Iterable[Relief]) -> set[int]:
        """The measures of notes that lead before, and do not once the reliefs are given."""
        before, after = roles(self._score), roles(lifted(self._score, reliefs))
        leading = {Role.MELODY, Role.BASS}
        return {
            event.index
            for event, named in after.items()
            if named.role not in leading
            and before[event].role in leading
            and not self._work.is_settled(event)
        }


def _freed(rescue: _Rescue, levers: LeverPlan, harp: Harp) -> Freed:
    busy = [opening for opening in rescue.openings if opening.reliefs]
    want = busy[0].want
    return Freed(
        rescue.reliefs,
        pitch_of(harp, (want.string, want.position)),
        min(opening.had for opening in busy),
        min(opening.has for opening in busy),
        (
            Option(
                _as_it_stands(rescue.trouble, levers.treatments),
                without_aside(rescue.trouble.cost),
                key=AS_IT_STANDS,
            ),
            Option("free the left hand and move the lever", rescue.cost, taken=True, key=FREE),
        ),
    )


def _as_it_stands(trouble: Trouble, treatments: tuple[Treatment, ...]) -> str:
    if not trouble.lost:
        return "leave the hands as they are and hurry the move"
    first = trouble.lost[0][0]
    treatment = next(t for t in treatments if note_key(t.pluck) == first)
    named = note_in_words(treatment.pluck.pitch)
    match treatment.label:
        case "omit":
            return f"leave the hands as they are and {named} out"
        case "octave":
            return f"leave the hands as they are and play {named} an octave away"
        case _:
            return f"leave the hands as they are and {named} to the editor"
