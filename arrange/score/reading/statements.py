"""What a measure says beside its notes: about tempo, order of play, and in words."""

from dataclasses import dataclass

from arrange.score.reading.inherited import ZERO
from arrange.units import Quarters


@dataclass(frozen=True, slots=True)
class TempoSign:
    """What one place says about the tempo.

    Attributes:
        rank: 3 from ``sound``, 2 from a metronome mark, 1 from words.
        value: quarters a minute; None for a sign that refers to an earlier tempo.
        factor: the new tempo over the old one, for ``note = note``; else 0.
        recall: ``first`` or ``last`` for Tempo I and a tempo; else "".
        is_passing: it belongs to a rit. or accel. and is not what a tempo returns to.
    """

    offset: Quarters
    rank: int
    text: str
    value: Quarters | None = None
    factor: Quarters = ZERO
    recall: str = ""
    is_passing: bool = False


@dataclass(frozen=True, slots=True)
class Signs:
    """What a measure's own barlines, directions and sounds say about the order of play.

    Attributes:
        forward: opens a repeat here, *forward_next* after this measure.
        backward: closes one here, *backward_before* at the end of the measure before.
        times: plays in all; 0 where not said.
        ending_start: numbers of the ending that starts here; *ending_stop*: one stops here,
            *ending_stop_before*: at the end of the measure before.
        segno, coda: ids of such signs here ("*" where they have none).
        coda_sign: a bare coda sign, which may mean either end of the leap.
        to_coda, jump_to: the id that is leapt to; "*" where it is not named.
        jump: "", ``D.C.`` or ``D.S.``; *al*: the words ask for ``fine`` or ``coda``.
    """

    forward: bool = False
    forward_next: bool = False
    backward: bool = False
    backward_before: bool = False
    times: int = 0
    ending_start: tuple[int, ...] = ()
    ending_stop: bool = False
    segno: tuple[str, ...] = ()
    coda: tuple[str, ...] = ()
    coda_sign: bool = False
    to_coda: str = ""
    fine: bool = False
    jump: str = ""
    jump_to: str = ""
    al: tuple[str, ...] = ()
    new_page: bool = False
    double_bar: bool = False
    ending_stop_before: bool = False


@dataclass(frozen=True, slots=True)
class PendingWords:
    """Words that only their surroundings explain.

    Attributes:
        mark: their place among the marks of the measure, from 0.
        text: as written, with line breaks; *side*: ``above``, ``below`` or "".
    """

    mark: int
    text: str
    side: str
    is_rehearsal: bool
    is_boxed: bool


NO_SIGNS = Signs()
