"""What a worker is given, what it gives back, and the work itself: bytes in, bytes out."""

import pickle
import re
import time
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import PurePosixPath

from arrange.bulk.facts import Facts, facts_of
from arrange.bulk.faults import report_of_error, report_of_rejection
from arrange.bulk.fingerprints import sha256
from arrange.bulk.outcomes import PieceOutcome
from arrange.errors import BadInput
from arrange.pipeline import Settings, convert
from arrange.report.extras import NOTHING, Extras
from arrange.report.result_files import REJECTED, result_files
from arrange.report.summary import summary
from arrange.report.targets import in_container_of
from arrange.score.limits import USUAL, Limits, held_to
from arrange.score.opening import is_imported, opened

FAULT = "fault.txt"
"""The ending of a report about a fault."""
FAULT_SCORE = "fault.score"
"""The ending of the score that goes with the report, where that is asked for."""
_FOLDER_NAME = re.compile(r"[\w#+-][\w .#+-]*")


@dataclass(frozen=True, slots=True)
class Bounds:
    """What one piece may cost. The figures are house judgement.

    Attributes:
        seconds: of time; the longest scores that are known take a few.
        memory_bytes: of memory, everything that the worker holds; 0 for any. It is kept where
            the system has such a limit.
    """

    seconds: int = 120
    memory_bytes: int = 3_000_000_000


@dataclass(frozen=True, slots=True)
class Order:
    """What every piece of a run is asked for.

    Attributes:
        settings: of the conversions; *extras*: what is written beside the results.
        limits: how much a score file may hold; *bounds*: what it may cost.
        sends_score: the score goes with the report about a fault.
    """

    settings: Settings
    extras: Extras = NOTHING
    limits: Limits = USUAL
    bounds: Bounds = Bounds()
    sends_score: bool = False

    def packed(self) -> bytes:
        """The order as a worker takes it."""
        return pickle.dumps(self)


def distinct(orders: Iterable[Order]) -> tuple[Order, ...]:
    """Orders for several harps, each of which can have a folder of its name.

    Raises:
        BadInput: two harps have one name, or a name cannot be that of a folder.
    """
    found = tuple(orders)
    names = [order.settings.harp.name for order in found]
    for name in names:
        if names.count(name) > 1:
            raise BadInput(f"two harps are called {name}; give each harp a name of its own")
        if len(names) > 1 and not _FOLDER_NAME.fullmatch(name):
            raise BadInput(f"the harp's name {name!r} cannot be that of a folder; choose another")
    return found


@lru_cache(maxsize=64)
def unpacked_order(packed: bytes) -> Order:
    """The order in these bytes, which were made by `Order.packed`."""
    order = pickle.loads(packed)  # noqa: S301 - our own bytes, from the program that runs us
    if not isinstance(order, Order):
        raise TypeError("these bytes are no order")
    return order


@dataclass(frozen=True, slots=True)
class Task:
    """One piece for a worker.

    Attributes:
        number: names the task in a run.
        name: of the source file; *result*: of the file for its result.
        raw: the bytes of the source file.
        order: what is asked for, packed.
    """

    number: int
    name: str
    result: str
    raw: bytes
    order: bytes


@dataclass(frozen=True, slots=True)
class Reply:
    """What became of a task.

    Attributes:
        reason: why it was refused or failed; empty otherwise.
        files: the bytes to write, by ending.
        facts: the figures of the result; None where there is none.
        seconds: what it took.
        is_spent: the worker should not be used again.
        is_limited: it was refused because it cost too much; another machine may do it.
    """

    number: int
    outcome: PieceOutcome
    reason: str = ""
    files: dict[str, bytes] = field(default_factory=dict)
    facts: Facts | None = None
    seconds: float = 0.0
    is_spent: bool = False
    is_limited: bool = False


def reply_to(task: Task) -> Reply:
    """Convert a piece; whatever happens becomes a reply."""
    order = unpacked_order(task.order)
    began = time.perf_counter()
    try:
        with held_to(order.limits):
            reply = _converted(task, order)
    except BadInput as refusal:
        reply = Reply(task.number, PieceOutcome.REFUSED, _reason(refusal))
    except MemoryError:
        reply = too_large(task, order)
    except Exception as error:  # noqa: BLE001 - one piece's fault must not stop the others
        reply = _failed(task, order, error)
    return replace(reply, seconds=time.perf_counter() - began)


def too_large(task: Task, order: Order) -> Reply:
    """The reply where a piece needs more memory than it may."""
    megabytes = order.bounds.memory_bytes // 1_000_000
    return Reply(
        task.number,
        PieceOutcome.REFUSED,
        f"it needs more than {megabytes:,} MB of memory; convert it in parts, or "
        "allow more with --memory",
        is_spent=True,
        is_limited=True,
    )


def too_slow(task: Task, order: Order) -> Reply:
    """The reply where a piece takes more time than it may."""
    return Reply(
        task.number,
        PieceOutcome.REFUSED,
        f"it took longer than {order.bounds.seconds} seconds; convert it in parts, "
        "or allow more with --seconds",
        seconds=float(order.bounds.seconds),
        is_limited=True,
    )


def failed_with(task: Task, order: Order, reason: str, report: bytes) -> Reply:
    """The reply where the program is at fault."""
    files = {FAULT: report}
    if order.sends_score:
        files[FAULT_SCORE] = task.raw
    return Reply(task.number, PieceOutcome.FAILED, reason, files)


def _converted(task: Task, order: Order) -> Reply:
    source = in_container_of(PurePosixPath(task.result), opened(task.raw, task.name))
    digest = sha256(task.raw)
    conversion = convert(source, replace(order.settings, source_sha256=digest))
    record = summary(conversion, result_name=task.result, source_sha256=digest)
    files = result_files(conversion, record, is_imported=is_imported(task.name))
    facts = facts_of(record, max(len(part.measures) for part in conversion.score.parts))
    if not conversion.is_sound:
        reason = f"the result fails its own check or audit and is kept as {REJECTED}"
        reply = failed_with(task, order, reason, report_of_rejection(conversion, task.raw))
        return replace(reply, files={**files, **reply.files}, facts=facts)
    if order.extras != NOTHING:
        from arrange.report.extra_files import extra_files  # noqa: PLC0415 - seldom asked for

        files |= extra_files(order.extras, conversion, record)
    outcome = PieceOutcome.OPEN if record["open"] else PieceOutcome.CONVERTED
    return Reply(task.number, outcome, "", files, facts)


def _reason(refusal: BadInput) -> str:
    """What is wrong and where in the score; the ledger knows the file."""
    placed = BadInput(refusal.message, part=refusal.part, measure=refusal.measure)
    return " ".join(str(placed).split())


def _failed(task: Task, order: Order, error: Exception) -> Reply:
    report = report_of_error(error, task.raw, order.settings)
    return failed_with(
        task, order, f"a fault of the program ({type(error).__name__}); see the report", report
    )
