"""Replays a finished score on a harp, lever by lever and hand by hand.

Nothing here knows how a plan is made: it takes the score, the harp, the player's numbers, and
what the page (or the summary) tells the player to do.
"""

from arrange.check.instructions import (
    HarpInstructions,
    Instruction,
    Instructions,
    SweepInstruction,
    Violation,
)
from arrange.check.page import from_page
from arrange.check.replay import check, spare_times
from arrange.check.summary_file import from_summary

__all__ = [
    "HarpInstructions",
    "Instruction",
    "Instructions",
    "SweepInstruction",
    "Violation",
    "check",
    "from_page",
    "from_summary",
    "spare_times",
]
