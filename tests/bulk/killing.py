"""Kills runs over a folder at one file after the other, and says which were not made good.

A program of its own, with one thread, because it forks: ``python killing.py SCORES WORKPLACE``.
"""

import json
import os
import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from folders import run, tree  # noqa: E402 - the path comes first

MOMENTS = (1, 4, 7, 10, 13)
ACTS = ("replace", "write_bytes")


def main(folder: Path, workplace: Path) -> None:
    """Write what became of each killed run to standard output, as JSON."""
    run(folder, workplace / "unbroken")
    unbroken = tree(workplace / "unbroken")
    told = {}
    for act in ACTS:
        for moment in MOMENTS:
            out = workplace / f"{act}-{moment}"
            child = os.fork()
            if not child:
                _die_at(moment, act)
                run(folder, out)
                os._exit(0)
            _, status = os.waitpid(child, 0)
            run(folder, out)
            told[out.name] = [os.WIFSIGNALED(status), tree(out) == unbroken]
    sys.stdout.write(json.dumps(told))


def _die_at(moment: int, act: str) -> None:
    usual, count = getattr(Path, act), 0

    def counted(self: Path, *arguments: object) -> object:
        nonlocal count
        count += 1
        if count == moment:
            os.kill(os.getpid(), 9)
        return usual(self, *arguments)

    setattr(Path, act, counted)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
