"""All tempo marks of a score in one line, in score order."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from arrange.score.model import Finding, Tempo
from arrange.score.reading.inherited import ZERO
from arrange.score.reading.statements import TempoSign
from arrange.units import Quarters

DEFAULT_TEMPO = Quarters(92)
"""Quarters a minute where the score says nothing: a moderate walk (house judgement)."""

_METRONOME = 2
AGREEING = Fraction(1, 100)
"""Two figures for one place that differ by less are one and the same (house judgement)."""


@dataclass(frozen=True, slots=True)
class PlacedSign:
    """A tempo sign of a part, with its measure."""

    part: str
    index: int
    measure: str
    sign: TempoSign


def tempo_line(
    signs: Iterable[PlacedSign], override: Quarters | None
) -> tuple[tuple[Tempo, ...], tuple[Finding, ...]]:
    """Return the tempo from each place on, and what was odd or assumed.

    What ``sound`` says wins over a metronome mark, that over words; marks on any part count
    for all. *override* replaces everything.
    """
    if override is not None:
        return (Tempo(0, ZERO, override),), ()
    places: dict[tuple[int, Quarters], list[PlacedSign]] = {}
    for placed in signs:
        places.setdefault((placed.index, placed.sign.offset), []).append(placed)
    findings: list[Finding] = []
    line: list[Tempo] = []
    steady: list[Quarters] = []
    for place in sorted(places):
        strongest = _strongest(places[place], findings)
        now = line[-1].quarters_per_minute if line else DEFAULT_TEMPO
        value = _value(strongest.sign, now, steady)
        if not strongest.sign.is_passing:
            steady.append(value)
        if not line or value != now:
            line.append(Tempo(*place, value))
    return _from_the_start(line, findings), tuple(findings)


def _strongest(placed: Sequence[PlacedSign], findings: list[Finding]) -> PlacedSign:
    """The sign that counts at one place.

    A sound that agrees with a metronome mark gives way to its round figure; of several sounds
    one that agrees counts first, else the last.
    """
    best = max(placed, key=_rank)
    sounds = [p for p in placed if p.sign.rank == best.sign.rank]
    marks = [p for p in placed if p.sign.rank == _METRONOME]
    best = next((m for m in marks for s in sounds if _agree(m.sign, s.sign)), sounds[-1])
    value = best.sign.value
    for other in placed:
        second = other.sign.value
        if value is None or second is None or other.sign.rank == 1:
            continue
        if not _agree(best.sign, other.sign):
            findings.append(
                Finding(
                    f"The tempo marks disagree: {_shown(value)} and {_shown(second)} quarters a "
                    f"minute; {_shown(value)} is taken.",
                    best.part,
                    best.index,
                    best.measure,
                )
            )
            break
    return best


def _agree(one: TempoSign, other: TempoSign) -> bool:
    if one.value is None or other.value is None:
        return False
    return abs(one.value - other.value) <= one.value * AGREEING


def _rank(placed: PlacedSign) -> int:
    return placed.sign.rank


def _value(sign: TempoSign, now: Quarters, steady: list[Quarters]) -> Quarters:
    if sign.value is not None:
        return sign.value
    if sign.factor:
        return now * sign.factor
    if not steady:
        return now
    return steady[0] if sign.recall == "first" else steady[-1]


def _from_the_start(line: list[Tempo], findings: list[Finding]) -> tuple[Tempo, ...]:
    """A tempo for the first note: the first mark where it stands in the first measure or two."""
    if line and (line[0].index, line[0].offset) == (0, ZERO):
        return tuple(line)
    if line and line[0].index <= 1:
        return (Tempo(0, ZERO, line[0].quarters_per_minute), *line[1:])
    findings.append(
        Finding(
            f"No tempo is given at the start; {DEFAULT_TEMPO} quarters a minute are assumed "
            "(--tempo sets another)."
        )
    )
    return (Tempo(0, ZERO, DEFAULT_TEMPO), *line)


def _shown(value: Quarters) -> str:
    rounded = round(value * 100)
    whole, rest = divmod(rounded, 100)
    return str(whole) if not rest else f"{whole}.{rest:02d}".rstrip("0")
