"""The tests' own referee: music21, lxml and the summary file, and nothing of the program.

It reads source and result by itself, replays the levers in performed order, and composes the
changes; every fault that it finds is a sentence with a place.
"""

from referee.faults import Fault
from referee.judging import judge

__all__ = ["Fault", "judge"]
