"""The changes that one rule proposes, each carried out whole or not at all, and logged."""

from collections.abc import Callable, Sequence
from types import TracebackType
from typing import Protocol, Self

from arrange.apply.accidentals import Accidentals
from arrange.apply.engraving import Engraving
from arrange.apply.invariants import Invariants
from arrange.apply.lowering import GoneError, Recorder, RefusedError, Sheet, carry_out
from arrange.apply.lowering.sheet import ids_on
from arrange.apply.matching import Footprint, Matching
from arrange.apply.pages import Pages
from arrange.changes import Change, ChangeLog, Fidelity, LogEntry, Outcome
from arrange.edits import AddBracket, AddWords
from arrange.score.document import Document
from arrange.score.model import EventId, Finding, Score

Recorders = Callable[[Document, Pages], Sequence[Recorder]]
"""Makes what takes down how measures stand, and sets anew what follows from their notes."""


def usual_recorders(document: Document, pages: Pages) -> Sequence[Recorder]:
    """Shown accidentals, then stems, clefs and places on the page."""
    return (Accidentals(document, pages), Engraving(document, pages))


class Readable(Protocol):
    """A reading of the document that is kept up to date."""

    def score(self) -> Score:
        """The score as the document now says it."""


class Transaction:
    """The work of one rule.

    ``with Transaction(...) as transaction:`` and then `offer` each change. Every change that
    is offered makes one entry in the log. When the rule is done, what follows from the changed
    notes is set anew: shown accidentals, stems, places on the page. An exception inside takes
    the whole rule back, the document and the log.

    Args:
        document: is changed.
        reading: says what was there when the rule began.
        log: takes the entries.
        limit: the furthest that is applied without asking.
        declined: ids of changes that the user does not want.
        pinned: notes that keep their pitch and length.
        recorders: makes those that set anew what follows from the notes.
        pages: the document's measures as printed, where earlier rules have read some.
    """

    def __init__(  # noqa: PLR0913 - what a rule's work needs, the others by name
        self,
        document: Document,
        reading: Readable,
        log: ChangeLog,
        *,
        limit: Fidelity = Fidelity.LOSSY,
        declined: frozenset[str] = frozenset(),
        pinned: frozenset[EventId] = frozenset(),
        recorders: Recorders = usual_recorders,
        pages: Pages | None = None,
    ) -> None:
        self._document = document
        self._reading = reading
        self._log = log
        self._limit = limit
        self._declined = declined
        self._pinned = pinned
        self._make_recorders = recorders
        self._pages = pages or Pages(document)
        self._score = reading.score()
        self._matching = Matching(self._score)
        self._mark = document.mark()
        self._open_sheet()
        self._lengths = (len(log.entries), len(log.findings), len(log.open_points))
        self._taken: set[Footprint] = set()
        self._outcomes: dict[str, Outcome] = {}
        self._seen = 0
        self._ids: set[str] | None = None
        self._is_spoiled = False

    def _open_sheet(self) -> None:
        pages, self._invariants = self._pages, Invariants()
        pages.renew()
        self._recorders = self._make_recorders(self._document, pages)
        self._sheet = Sheet(self._document, pages, self._score, self._recorders, self._invariants)
        self._invariants.watch(self._sheet)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        try:
            if error is None:
                self._finish()
        except BaseException:
            self.undo()
            raise
        finally:
            self._invariants.let_go()
        if error is not None:
            self.undo()

    def offer(self, change: Change) -> Outcome:
        """Carry a change out, or log why not."""
        outcome, detail = self._judged(change)
        self._log.entries.append(LogEntry(change, outcome, detail))
        return outcome

    def undo(self) -> None:
        """Take the whole rule back: the document as it was, and no word of it in the log.

        Later transactions on the same document are taken back as well; undo those first.
        """
        self._document.rollback(self._mark)
        entries, findings, points = self._lengths
        del self._log.entries[entries:]
        del self._log.findings[findings:]
        del self._log.open_points[points:]

    def _finish(self) -> None:
        if self._document.mark() == self._mark:
            return
        if self._is_spoiled:
            self._start_over()
        for recorder in self._recorders:
            recorder.refresh()
        for part, index, text in self._sheet.notices:
            number = self._sheet.measure(part, index).number
            self._log.findings.append(Finding(f"Measure {number} {text}.", part, index, number))
        self._reading.score()

    def _start_over(self) -> None:
        """Carry out again what was applied, so that what was refused leaves no trace.

        A refused change may have shown a measure to the recorders that nothing else touches.
        """
        self._document.rollback(self._mark)
        self._open_sheet()
        for entry in self._log.entries[self._lengths[0] :]:
            if entry.outcome is Outcome.APPLIED:
                for edit in entry.change.edits:
                    carry_out(self._sheet, edit)

    def _judged(self, change: Change) -> tuple[Outcome, str]:
        if change.id in self._declined:
            return Outcome.DECLINED, "declined"
        missing = self._missing(change)
        if missing is not None:
            return missing
        if change.fidelity.rank > self._limit.rank:
            return Outcome.SUGGESTED, f"goes further than {self._limit.value}"
        mismatch = self._matching.mismatch(change)
        if mismatch:
            return Outcome.STALE, mismatch
        footprint = self._matching.footprint(change)
        if footprint & self._taken:
            return Outcome.CONFLICT, "another change of this rule was there first"
        against = self._matching.untold(change) or self._matching.unpinned(change, self._pinned)
        return (Outcome.BLOCKED, against) if against else self._carried_out(change, footprint)

    def _missing(self, change: Change) -> tuple[Outcome, str] | None:
        """What becomes of a change that needs others of which one was not applied."""
        for wanted in change.depends_on:
            outcome = self._outcome_of(wanted)
            if outcome is Outcome.DECLINED:
                return Outcome.DECLINED, f"needs {wanted}, which was declined"
            if outcome is Outcome.SUGGESTED:
                return Outcome.SUGGESTED, f"needs {wanted}, which was only suggested"
            if outcome is not Outcome.APPLIED:
                said = outcome.value if outcome is not None else "not proposed"
                return Outcome.BLOCKED, f"needs {wanted}, which was {said}"
        return None

    def _outcome_of(self, wanted: str) -> Outcome | None:
        for entry in self._log.entries[self._seen :]:
            if self._outcomes.get(entry.change.id) is not Outcome.APPLIED:
                self._outcomes[entry.change.id] = entry.outcome
        self._seen = len(self._log.entries)
        return self._outcomes.get(wanted)

    def _carried_out(self, change: Change, footprint: frozenset[Footprint]) -> tuple[Outcome, str]:
        sheet = self._sheet
        mark, notices, touched = self._document.mark(), len(sheet.notices), len(sheet.touched)
        self._invariants.begin()
        ids = self._new_ids(change)
        if ids is None:
            return Outcome.BLOCKED, "another direction carries the same id"
        try:
            for edit in change.edits:
                carry_out(sheet, edit)
            self._invariants.require()
        except RefusedError as error:
            self._document.rollback(mark)
            self._is_spoiled |= len(sheet.touched) > touched
            del sheet.notices[notices:]
            is_gone = isinstance(error, GoneError)
            return (Outcome.CONFLICT if is_gone else Outcome.BLOCKED), str(error)
        self._taken |= footprint
        if self._ids is not None:
            self._ids |= ids
        return Outcome.APPLIED, ""

    def _new_ids(self, change: Change) -> set[str] | None:
        """The ids that the change brings in; None where one of them is there already."""
        own = [edit.own for edit in change.edits if isinstance(edit, AddWords | AddBracket)]
        if not own:
            return set()
        if self._ids is None:
            self._ids = ids_on(self._sheet)
        new = set(own)
        return new if len(new) == len(own) and not new & self._ids else None
