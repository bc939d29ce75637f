"""How long an editor is likely to need for a piece. All figures are house judgement.

A minute to open the score and look it over; four for each open point, which must be thought
about and written; one for each change that was only suggested; half a minute for each change
that takes notes or harmony away, to listen to it; a tenth for each lever move, to play it.
"""

from arrange.bulk.facts import Facts

_TENTHS_TO_BEGIN = 10
_TENTHS_AN_OPEN_POINT = 40
_TENTHS_A_SUGGESTION = 10
_TENTHS_A_LOSS = 5
_TENTHS_A_MOVE = 1


def likely_minutes(facts: Facts) -> int:
    """Whole minutes that an editor is likely to need; 0 where there is nothing to decide."""
    if not facts.open_points and not facts.suggested:
        return 0
    tenths = (
        _TENTHS_TO_BEGIN
        + _TENTHS_AN_OPEN_POINT * facts.open_points
        + _TENTHS_A_SUGGESTION * facts.suggested
        + _TENTHS_A_LOSS * facts.by_fidelity.get("LOSSY", 0)
        + _TENTHS_A_MOVE * facts.moves
    )
    return -(-tenths // 10)
