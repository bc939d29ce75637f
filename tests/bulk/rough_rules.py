"""Rules that do to a worker what scores may do, where the score's title asks for it."""

import os
import signal
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from arrange.changes import Change
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.rule import Rule, Stage
from arrange.score.model import Score


@dataclass(frozen=True, slots=True, kw_only=True)
class BeRough(Rule):
    """Never ends, takes all memory, dies or fails, as the title says."""

    id = "be-rough"
    stage = Stage.CLEAN
    examples = ()
    marks: str = ""
    """A folder in which to note each death, so that only the first one happens."""

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Change]:  # noqa: ARG002 - as every rule
        """Do what the title says, then propose nothing."""
        if "never ends" in score.title:
            while harp.strings:
                pass
        if "takes all" in score.title:
            held = [bytes(100_000_000) for _ in range(1000)]
            raise AssertionError(len(held))
        if "dies once" in score.title and not Path(self.marks, score.title).exists():
            Path(self.marks, score.title).touch()
            os.kill(os.getpid(), signal.SIGKILL)
        if "dies always" in score.title:
            os.kill(os.getpid(), signal.SIGKILL)
        if "fails" in score.title:
            raise RuntimeError(f"cannot do C#4 of {score.title}")
        return iter(())
