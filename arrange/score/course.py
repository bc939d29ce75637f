"""What a measure says about the order of play."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Structure:
    """What a measure says about the order of play.

    Attributes:
        forward: a repeat opens here; *backward*: a repeat closes here, played *times* in all.
        endings: the passes that this measure's ending belongs to; empty outside endings.
        segno, coda: a sign stands here; *fine*; *to_coda*; *jump*: ``""``, ``D.C.``, ``D.S.``.
        after_jump_repeats: the score asks to take repeats again after the jump.
        new_page: a page begins here; *double_bar*: a double bar ends the measure.
    """

    forward: bool = False
    backward: bool = False
    times: int = 2
    endings: tuple[int, ...] = ()
    segno: bool = False
    coda: bool = False
    fine: bool = False
    to_coda: bool = False
    jump: str = ""
    new_page: bool = False
    double_bar: bool = False


IN_ORDER = Structure()
"""A measure that says nothing about the order."""
