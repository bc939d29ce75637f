"""Which key a piece goes to, and which parts go with it."""

from dataclasses import dataclass

from arrange.changes import Fidelity
from arrange.errors import BadInput
from arrange.pitch import UNISON, Interval
from arrange.score.model import Finding, Score
from arrange.study.keys import FREE_CHOICE, KeyScale, KeyWeight
from arrange.study.terms import Terms

ANY = frozenset({"auto", "keep"})
"""What may be asked of the key beside an interval."""


@dataclass(frozen=True, slots=True)
class KeyChoice:
    """The transposition.

    Attributes:
        interval: by which *parts* are moved; no parts where nothing moves.
        ranking: the keys that were weighed, the lightest first.
        findings: what was noticed.
    """

    interval: Interval
    parts: tuple[str, ...]
    ranking: tuple[KeyWeight, ...]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class KeyQuestion:
    """What is asked of the key.

    Attributes:
        asked: ``auto``, ``keep`` or an interval as text.
        moves_all: every pitched part moves with the harp.
        file: the score's name, for messages.
    """

    asked: str
    moves_all: bool
    file: str

    def choice(self, score: Score, terms: Terms, limit: Fidelity) -> KeyChoice:
        """Weigh the keys of a score and choose one.

        Raises:
            BadInput: the harp would be moved alone while other parts play.
        """
        others = others_beside(score)
        is_bound = bool(others) and not self.moves_all
        scale = KeyScale(score, terms, limit)
        interval = UNISON
        ranking: tuple[KeyWeight, ...] = ()
        if self.asked == "auto" and not is_bound:
            free = [i for i in scale.intervals() if abs(i.semitones) <= FREE_CHOICE]
            ranking = scale.weigh(free, all_exact=False)
            interval = ranking[0].interval
        elif self.asked not in ANY:
            interval = Interval.parse(self.asked)
            if is_bound and interval != UNISON:
                raise BadInput(
                    "the harp is not moved alone while other parts play; "
                    "add --transpose-all to move every part, or keep the key",
                    file=self.file,
                    part=others[0],
                )
        if not ranking:
            ranking = scale.weigh([interval], all_exact=True)
        moving = _moving(score, is_ensemble=bool(others)) if interval != UNISON else ()
        is_kept = is_bound and self.asked == "auto"
        noticed = (Finding("Other parts play with the harp, so the key is kept."),) * is_kept
        return KeyChoice(interval, moving, ranking, noticed)


def others_beside(score: Score) -> list[str]:
    """Ids of the pitched parts that the harp does not play."""
    harp_parts = score.harp_parts
    return [p.id for p in score.parts if p.is_pitched and p.id not in harp_parts]


def _moving(score: Score, *, is_ensemble: bool) -> tuple[str, ...]:
    if is_ensemble:
        return tuple(p.id for p in score.parts if p.is_pitched)
    return score.harp_parts
