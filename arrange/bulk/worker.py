"""A worker: a program of its own that takes one piece after the other and gives back bytes.

It reads tasks from its standard input and writes replies to what was its standard output, which
no one else can write to. It opens no file.
"""

import os
import pickle
import signal
import sys
from typing import BinaryIO

from arrange.bulk.work import Task, reply_to, unpacked_order
from arrange.memory import collect_rarely

READY = b"ready\n"
"""What a worker writes when it has loaded all it needs."""
_GRACE_S = 30
"""A worker whose owner has died ends by itself so long after its time is up (house judgement)."""


def main() -> None:
    """Work until there are no more tasks."""
    replies = _own_output()
    if hasattr(signal, "SIGINT"):
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever owns the worker decides
    _warm()
    replies.write(READY)
    replies.flush()
    while True:
        try:
            task = pickle.load(sys.stdin.buffer)  # noqa: S301 - from the program that runs us
        except EOFError:
            return
        pickle.dump(_replied(task), replies)
        replies.flush()


def _replied(task: Task) -> object:
    bounds = unpacked_order(task.order).bounds
    _allow(bounds.memory_bytes)
    if hasattr(signal, "alarm"):
        signal.alarm(bounds.seconds + _GRACE_S)
    try:
        return reply_to(task)
    finally:
        if hasattr(signal, "alarm"):
            signal.alarm(0)


def _own_output() -> BinaryIO:
    """A stream for replies; whatever else is printed goes to standard error."""
    own = os.dup(sys.stdout.fileno())
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    return os.fdopen(own, "wb")


def _warm() -> None:
    """Load what every piece needs, so that none waits for it."""
    from arrange.registry import installed  # noqa: PLC0415 - after the output was put right

    collect_rarely()
    installed()


def _allow(memory_bytes: int) -> None:
    """Keep the memory of this program within the bound, where the system can."""
    if not memory_bytes:
        return
    try:
        import resource  # noqa: PLC0415 - not every system has it
    except ImportError:
        return
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    most = memory_bytes if hard == resource.RLIM_INFINITY else min(memory_bytes, hard)
    resource.setrlimit(resource.RLIMIT_AS, (most, hard))


if __name__ == "__main__":
    main()
