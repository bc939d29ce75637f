"""Printed plucks as the planner sees them."""

import notation as short
import pytest

from arrange.score.document import Document
from arrange.score.performed import Clock
from arrange.score.plucks import plucks, strikes
from arrange.score.reading.reading import Reading
from arrange.study.printed_plucks import PrintedPlucks, Visiting
from arrange.units import SECOND


@pytest.mark.parametrize(("sign", "notes"), [("", 2), ("(trill)", 3), ("(mordent)", 3)])
def test_the_strokes_of_an_ornament_are_one_visit_until_the_last_one_is_over(
    sign: str, notes: int
) -> None:
    text = f"key=0 tempo=60 | C5h{sign} G4h"
    score = Reading(Document.read(short.to_musicxml(text), "example.musicxml")).score()
    printed = plucks(score, score.harps[0])
    numbered = PrintedPlucks.of(printed)
    struck = strikes(printed, Clock(score))
    visits = Visiting(struck, printed, numbered.note_of).visits([(SECOND,)] * notes)
    assert len(numbered.firsts) == len(visits) == notes
    last = max(s.time for s in struck if s.time < 2 * SECOND)
    assert max(v.locks[0] for v in visits if v.time < 2 * SECOND) == max(2 * SECOND, last + SECOND)
