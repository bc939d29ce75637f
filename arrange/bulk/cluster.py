"""Those who convert, on other machines: the workers of a Dask cluster that stands already.

Each of them keeps a worker of its own beside it (see `seat`), so a piece that takes too long or
needs too much ends there as it does here. Results come back as bytes; nothing is written there.
"""

import threading
from collections.abc import Generator, Iterable
from itertools import islice
from typing import Any

from arrange.bulk.crews import AHEAD
from arrange.bulk.faults import report_of_death
from arrange.bulk.fingerprints import program_fingerprint
from arrange.bulk.seat import Seat
from arrange.bulk.work import Reply, Task, failed_with, unpacked_order
from arrange.errors import BadInput

_ANSWERS_WITHIN_S = 10
_own = threading.local()


def reply_there(task: Task) -> Reply:
    """Convert a piece where this is called: in the seat of that thread."""
    if not hasattr(_own, "seat"):
        _own.seat = Seat()
    reply: Reply = _own.seat.reply(task)
    return reply


class ClusterCrew:
    """The workers of a Dask cluster."""

    def __init__(self, address: str) -> None:
        """Reach the scheduler at *address*.

        Raises:
            BadInput: Dask is not installed here, no scheduler answers, it has no workers, or a
                worker has another version of the program.
        """
        try:
            from distributed import Client  # noqa: PLC0415 - only where a cluster is asked for
        except ImportError as error:
            raise BadInput("--cluster needs Dask: pip install 'leverwright[cluster]'") from error
        try:
            self._client: Any = Client(address, timeout=_ANSWERS_WITHIN_S, set_as_default=False)
        except (OSError, ValueError, TimeoutError) as error:
            raise BadInput(f"no Dask scheduler answers at {address}; check the address") from error
        try:
            self._threads = self._checked(address)
        except BadInput:
            self._client.close()
            raise

    def _checked(self, address: str) -> int:
        try:
            versions = self._client.run(program_fingerprint)
        except ImportError as error:
            raise BadInput(f"the workers at {address} have no leverwright installed") from error
        for worker, found in versions.items():
            if found != program_fingerprint():
                raise BadInput(f"the worker {worker} has another version of the program")
        threads = sum(int(count) for count in self._client.nthreads().values())
        if not threads:
            raise BadInput(f"the Dask scheduler at {address} has no workers")
        return threads

    def replies(self, tasks: Iterable[Task]) -> Generator[Reply, None, None]:
        """Yield the reply to each task; closing the iterator takes back what is not done."""
        from distributed import as_completed  # noqa: PLC0415 - as above

        upcoming = iter(tasks)
        given: dict[str, Task] = {}
        first = [self._submitted(t, given) for t in islice(upcoming, AHEAD * self._threads)]
        done = as_completed(first, loop=self._client.loop)
        try:
            for future in done:
                task = given.pop(future.key)
                yield _reply_of(future, task)
                for following in islice(upcoming, 1):
                    done.add(self._submitted(following, given))
        finally:
            self._client.close()

    def _submitted(self, task: Task, given: dict[str, Task]) -> Any:
        future = self._client.submit(reply_there, task, pure=False)
        given[future.key] = task
        return future


def _reply_of(future: Any, task: Task) -> Reply:
    """The reply, or a fault where the cluster could not keep a worker alive for it."""
    error = future.exception()
    if error is None:
        reply: Reply = future.result()
        return reply
    order = unpacked_order(task.order)
    how = f"on the cluster: {type(error).__name__}"
    report = report_of_death(how, task.raw, order.settings)
    return failed_with(task, order, f"the worker ended {how}; see the report", report)
