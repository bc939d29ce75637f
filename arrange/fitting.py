"""Which keys suit: one score weighed in every key on one harp or on several."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from arrange.changes import Fidelity
from arrange.score.model import Score
from arrange.study.keys import KeyScale, KeyWeight
from arrange.study.terms import Terms


@dataclass(frozen=True, slots=True)
class HarpFit:
    """What each key would take on one harp; *ranking* has the lightest key first."""

    terms: Terms
    ranking: tuple[KeyWeight, ...]


@dataclass(frozen=True, slots=True)
class SharedKey:
    """One transposition on several harps.

    Attributes:
        semitones: how far the piece moves; how it is spelled may differ from harp to harp.
        weights: what it takes on each, in the order of the harps.
    """

    semitones: int
    weights: tuple[KeyWeight, ...]

    @property
    def cost(self) -> int:
        """What it takes on all of them together."""
        return sum(weight.cost for weight in self.weights)


@dataclass(frozen=True, slots=True)
class Fit:
    """What came of weighing.

    Attributes:
        score: as it was read.
        harps: one entry a harp, in the order asked.
        shared: every transposition on all harps together, the lightest first.
        others: names of the pitched parts that would have to move with the harp.
    """

    score: Score
    harps: tuple[HarpFit, ...]
    shared: tuple[SharedKey, ...]
    others: tuple[str, ...]


def fit(
    score: Score,
    harps: Sequence[tuple[Terms, Score]],
    limit: Fidelity = Fidelity.LOSSY,
    progress: Callable[[str], None] = lambda _: None,
) -> Fit:
    """Weigh every transposition, up to six semitones each way, exactly.

    Args:
        score: the score.
        harps: one entry a harp, with its player and prices, and the score as it is once its
            level has taken away what goes anyway.
        limit: the furthest that a repair may go.
        progress: is told what is being done.
    """
    found = []
    for terms, lightened in harps:
        progress(f"weighing keys for {terms.harp.name}")
        scale = KeyScale(lightened, terms, limit)
        found.append(HarpFit(terms, scale.weigh(scale.intervals(), all_exact=True)))
    own = score.harp_parts
    return Fit(
        score=score,
        harps=tuple(found),
        shared=_shared(found),
        others=tuple(p.name or p.id for p in score.parts if p.is_pitched and p.id not in own),
    )


def _shared(harps: Sequence[HarpFit]) -> tuple[SharedKey, ...]:
    by_semitones = [{w.interval.semitones: w for w in harp.ranking} for harp in harps]
    keys = [
        SharedKey(semitones, tuple(weights[semitones] for weights in by_semitones))
        for semitones in sorted(by_semitones[0], key=lambda n: (abs(n), n))
    ]
    return tuple(sorted(keys, key=lambda key: key.cost))
