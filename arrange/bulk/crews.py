"""Those who convert: workers on this machine, each in a seat of its own."""

import os
import queue
from collections.abc import Generator, Iterable
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from itertools import islice
from typing import Protocol

from arrange.bulk.seat import Seat
from arrange.bulk.work import Reply, Task

AHEAD = 2
"""Tasks that are read ahead for each worker, so that none waits for the writing of results."""


class Crew(Protocol):
    """Whoever takes tasks and gives replies, in any order."""

    def replies(self, tasks: Iterable[Task]) -> Generator[Reply, None, None]:
        """Yield the reply to each task; closing the iterator stops the work at once."""


def usual_workers() -> int:
    """As many workers as this program may use processors."""
    if hasattr(os, "sched_getaffinity"):
        return max(len(os.sched_getaffinity(0)), 1)
    return os.cpu_count() or 1


class LocalCrew:
    """Workers on this machine."""

    def __init__(self, workers: int) -> None:
        """Prepare *workers* seats; the workers start with the first tasks."""
        self._seats = [Seat() for _ in range(workers)]
        self._free: queue.SimpleQueue[Seat] = queue.SimpleQueue()
        for seat in self._seats:
            self._free.put(seat)

    def replies(self, tasks: Iterable[Task]) -> Generator[Reply, None, None]:
        """Yield the reply to each task; closing the iterator ends the workers."""
        upcoming = iter(tasks)
        pool = ThreadPoolExecutor(len(self._seats), thread_name_prefix="seat")
        waiting: set[Future[Reply]] = set()
        try:
            while True:
                room = AHEAD * len(self._seats) - len(waiting)
                waiting.update(pool.submit(self._reply, t) for t in islice(upcoming, room))
                if not waiting:
                    return
                done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
                for future in done:
                    yield future.result()
        finally:
            for seat in self._seats:
                seat.close()
            pool.shutdown(wait=True, cancel_futures=True)

    def _reply(self, task: Task) -> Reply:
        seat = self._free.get()
        try:
            return seat.reply(task)
        finally:
            self._free.put(seat)
