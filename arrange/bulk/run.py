"""One run over a folder: what is not yet done goes to the crew, what comes back is written."""

import errno
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath

from arrange.bulk.crews import Crew
from arrange.bulk.fingerprints import settings_sha256, sha256
from arrange.bulk.ledger import Entry, Ledger
from arrange.bulk.locking import alone_in
from arrange.bulk.outcomes import PieceOutcome
from arrange.bulk.pieces import Piece, pieces_in
from arrange.bulk.results import Place, Results
from arrange.bulk.rows import Overview, overview
from arrange.bulk.tables import write_tables
from arrange.bulk.work import Order, Reply, Task
from arrange.errors import BadInput
from arrange.report.targets import CannotWrite

_NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EIO)
"""What stops a whole run: no other piece could be written either."""


@dataclass(frozen=True, slots=True)
class Step:
    """How far a run is, after one piece more.

    Attributes:
        done: pieces that are settled, those of earlier runs included; *fresh*: by this run.
        total: all that there are, each harp counted.
        source, harp: the piece; *outcome*: what became of it; *note*: what to say of it.
    """

    done: int
    fresh: int
    total: int
    source: str
    harp: str
    outcome: PieceOutcome
    note: str = ""


@dataclass
class BulkRun:
    """A folder of scores, converted.

    Attributes:
        folder: of the scores; *out*: of the results, which mirrors it.
        orders: what is asked for, a harp each.
        crew: makes those who convert, when there is something to do.
        watch: is told of every piece that is settled.
        is_anew: everything is converted again, and edited results are written over.
        retries: what failed or cost too much is tried again.
    """

    folder: Path
    out: Path
    orders: tuple[Order, ...]
    crew: Callable[[], Crew]
    watch: Callable[[Step], None]
    is_anew: bool = False
    retries: bool = False
    _done: int = field(default=0, init=False)
    _fresh: int = field(default=0, init=False)
    _total: int = field(default=0, init=False)
    _at_work: dict[int, tuple[Place, Entry]] = field(default_factory=dict, init=False)

    def overview(self) -> Overview:
        """Convert what is not yet done, write the tables, and return them.

        Raises:
            BadInput: the folder cannot be used, another run is at work in *out*, or there is no
                room for results.
        """
        pieces = pieces_in(self.folder, self.out)
        places = [(p, place) for p in pieces for place in self._places(p)]
        self._total = len(places)
        with alone_in(self.out), closing(Ledger(self.out)) as ledger:
            results = Results(self.out, ledger)
            results.sweep()
            for entry in ledger.entries():
                if not (self.folder / entry.source).is_file():
                    results.leave(entry)
            try:
                self._convert(places, results)
            finally:
                found = overview(ledger, results, [place for _, place in places])
                write_tables(found, results.root)
        return found

    def _places(self, piece: Piece) -> Iterator[Place]:
        for order in self.orders:
            name = order.settings.harp.name
            folder = name if len(self.orders) > 1 else ""
            yield Place(name, folder, piece.name, piece.result)

    def _convert(self, places: list[tuple[Piece, Place]], results: Results) -> None:
        orders = {order.settings.harp.name: order for order in self.orders}
        hashes = {name: settings_sha256(order) for name, order in orders.items()}
        packed = {name: order.packed() for name, order in orders.items()}
        for piece, place in places:
            if piece.refusal:
                self._refuse(place, hashes[place.harp], piece.refusal, results)
        tasks = self._tasks(
            [(p, place) for p, place in places if not p.refusal], results, hashes, packed
        )
        first = next(tasks, None)
        if first is None:
            return
        with closing(self.crew().replies(_again(first, tasks))) as replies:
            for reply in replies:
                place, begun = self._at_work.pop(reply.number)
                self._settle(place, begun, reply, results)

    def _tasks(
        self,
        places: list[tuple[Piece, Place]],
        results: Results,
        hashes: dict[str, str],
        packed: dict[str, bytes],
    ) -> Iterator[Task]:
        """What is to be done; the rest is settled on the way."""
        limits = self.orders[0].limits
        for number, (piece, place) in enumerate(places):
            settings = hashes[place.harp]
            try:
                raw = piece.content(limits)
            except BadInput as refusal:
                self._refuse(place, settings, refusal.message, results)
                continue
            begun = Entry(
                place.name, place.harp, place.source, sha256(raw), settings, PieceOutcome.REFUSED
            )
            before = results.ledger.entry(place.name)
            if before is not None and self._is_current(before, begun, results):
                self._tell(before, "")
            elif before is not None and self._is_blocked(before, place, {}, results):
                continue
            else:
                self._at_work[number] = place, begun
                name, result = PurePosixPath(place.source).name, PurePosixPath(place.result).name
                yield Task(number, name, result, raw, packed[place.harp])

    def _is_current(self, before: Entry, begun: Entry, results: Results) -> bool:
        """Whether what stands there is what would be made."""
        if self.is_anew or results.ledger.pending(begun.place):
            return False
        if self.retries and (before.outcome is PieceOutcome.FAILED or before.is_limited):
            return False
        return (
            before.input_sha256 == begun.input_sha256
            and before.settings_sha256 == begun.settings_sha256
            and results.is_complete(before)
        )

    def _is_blocked(
        self, entry: Entry, place: Place, files: dict[str, bytes], results: Results
    ) -> bool:
        """Whether a file stands in the way that an editor may have touched; says so."""
        path = "" if self.is_anew else results.in_the_way(place, files)
        if path:
            self._tell(
                entry,
                f"{path} was not written by an earlier run as it is, and stays; "
                "move it away, or convert with --anew",
            )
        return bool(path)

    def _settle(self, place: Place, begun: Entry, reply: Reply, results: Results) -> None:
        """Write what came of a piece."""
        entry = replace(
            begun,
            outcome=reply.outcome,
            reason=reply.reason,
            is_limited=reply.is_limited,
            facts=reply.facts,
            files=results.hashes(place, reply.files),
            seconds=reply.seconds,
        )
        if self._is_blocked(entry, place, reply.files, results):
            return
        try:
            results.put(place, reply.files, entry)
        except CannotWrite as error:
            if error.cause in _NO_ROOM:
                raise
            self._refuse(place, begun.settings_sha256, str(error), results)
            return
        except BadInput as error:
            if error.file == str(results.ledger.path):
                raise
            self._refuse(place, begun.settings_sha256, str(error), results)
            return
        self._fresh += 1
        self._tell(entry, reply.reason)

    def _refuse(self, place: Place, settings: str, reason: str, results: Results) -> None:
        """Settle a piece that could not be read or written; a later run tries it again."""
        entry = Entry(
            place.name, place.harp, place.source, "", settings, PieceOutcome.REFUSED, reason
        )
        if self._is_blocked(entry, place, {}, results):
            return
        results.put(place, {}, entry)
        self._fresh += 1
        self._tell(entry, reason)

    def _tell(self, entry: Entry, note: str) -> None:
        self._done += 1
        note = f"{entry.source}: {note}" if note else ""
        self.watch(
            Step(
                self._done,
                self._fresh,
                self._total,
                entry.source,
                entry.harp,
                entry.outcome,
                note,
            )
        )


def _again(first: Task, others: Iterator[Task]) -> Iterator[Task]:
    yield first
    yield from others
