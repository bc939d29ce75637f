"""A seat for one worker: gives it a piece, waits no longer than it may, and seats another."""

import os
import pickle
import subprocess
import sys
import threading
from contextlib import suppress
from typing import IO

from arrange.bulk.faults import report_of_death
from arrange.bulk.work import Reply, Task, failed_with, too_slow, unpacked_order
from arrange.bulk.worker import READY
from arrange.errors import Fault

_KILLED = -9
"""What a worker returns that was killed from outside."""
_TRIES = 3
"""A worker that dies may have been killed from outside; if it always dies, the piece did it."""
_STARTS = 20
"""A worker that is killed before it is ready has nothing to do with any piece."""
_ENDING_S = 5
"""A worker that has nothing more to say has ended by then (house judgement)."""
_STARTING_S = 120
"""A worker that has not come up by then never will (house judgement)."""
_BROKEN = (EOFError, OSError, pickle.UnpicklingError, AttributeError, IndexError, ValueError)
"""What a stream raises whose other end has died in the middle."""


class Seat:
    """One worker at a time, replaced when it dies, is spent, or takes too long."""

    def __init__(self) -> None:
        self._worker: subprocess.Popen[bytes] | None = None
        self._is_closed = False
        self._is_late = False
        self._lock = threading.Lock()

    def reply(self, task: Task) -> Reply:
        """Have a piece converted.

        Raises:
            Fault: no worker can be started, or the seat was closed meanwhile.
        """
        order = unpacked_order(task.order)
        how = ""
        for _ in range(_TRIES):
            found = self._tried(task, order.bounds.seconds)
            if isinstance(found, Reply):
                if found.is_spent:
                    self._dismiss()
                return found
            if self._is_closed:
                raise Fault("the run was stopped")
            if self._is_late:
                return too_slow(task, order)
            how = found
        report = report_of_death(how, task.raw, order.settings)
        return failed_with(task, order, f"the worker always ended ({how}); see the report", report)

    def close(self) -> None:
        """End the worker at once."""
        self._is_closed = True
        self._dismiss()

    def _tried(self, task: Task, seconds: int) -> Reply | str:
        """The reply, or how the worker ended."""
        worker = self._seated()
        self._is_late = False
        timer = threading.Timer(seconds, self._end_late, (worker,))
        timer.daemon = True
        timer.start()
        try:
            assert worker.stdin is not None  # noqa: S101 - it was opened with one
            assert worker.stdout is not None  # noqa: S101 - as above
            pickle.dump(task, worker.stdin)
            worker.stdin.flush()
            reply = _loaded(worker.stdout)
        except _BROKEN:
            self._dismiss()
            return _ending(worker.returncode)
        finally:
            timer.cancel()
        return reply

    def _seated(self) -> "subprocess.Popen[bytes]":
        with self._lock:
            if self._is_closed:
                raise Fault("the run was stopped")
            if self._worker is not None and self._worker.poll() is not None:
                _put_away(self._worker)
                self._worker = None
            if self._worker is None:
                self._worker = _started()
            return self._worker

    def _end_late(self, worker: "subprocess.Popen[bytes]") -> None:
        self._is_late = True
        worker.kill()

    def _dismiss(self) -> None:
        with self._lock:
            worker, self._worker = self._worker, None
        if worker is not None:
            _put_away(worker)


def _put_away(worker: "subprocess.Popen[bytes]") -> None:
    worker.kill()
    worker.wait()
    for stream in (worker.stdin, worker.stdout):
        if stream is not None:
            _close(stream)


def _loaded(stream: IO[bytes]) -> Reply:
    reply = pickle.load(stream)  # noqa: S301 - from the worker that we started
    if not isinstance(reply, Reply):
        raise pickle.UnpicklingError("that is no reply")
    return reply


def _close(stream: IO[bytes]) -> None:
    try:
        stream.close()
    except BrokenPipeError:
        # What was still to be written is for a worker that has ended.
        return


def _started() -> "subprocess.Popen[bytes]":
    """A worker that has loaded all it needs.

    Raises:
        Fault: one ends by itself, or however often it is tried, each is killed.
    """
    for _ in range(_STARTS):
        worker = _begun()
        if worker.returncode is None:
            return worker
        if worker.returncode != _KILLED:
            break
    raise Fault(f"no worker comes up; `{sys.executable} -m arrange.bulk.worker` says why")


def _begun() -> "subprocess.Popen[bytes]":
    """A worker with the same modules as this program, ready or at its end already."""
    path = os.pathsep.join(entry for entry in sys.path if entry)
    worker = subprocess.Popen(
        [sys.executable, "-m", "arrange.bulk.worker"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": path},
        start_new_session=True,
    )
    timer = threading.Timer(_STARTING_S, worker.terminate)
    timer.daemon = True
    timer.start()
    try:
        assert worker.stdout is not None  # noqa: S101 - it was opened with one
        said = worker.stdout.readline()
    finally:
        timer.cancel()
    if said != READY:
        with suppress(subprocess.TimeoutExpired):
            worker.wait(_ENDING_S)
        _put_away(worker)
    return worker


def _ending(code: int | None) -> str:
    if code is not None and code < 0:
        return f"signal {-code}"
    return f"code {code}"
