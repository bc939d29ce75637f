"""Some measures of a result of ours planned anew, the others kept as they are."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from arrange.apply.transaction import Transaction
from arrange.changes import Change, Fidelity, LogEntry, Outcome, Where
from arrange.edits import AddWords, MarkValue, RemoveMark, SetCredit
from arrange.pipeline.conversion import Conversion
from arrange.pipeline.work import Work
from arrange.pitch import Interval
from arrange.rule import Proposal, Rule
from arrange.score.document import Document
from arrange.score.model import EventId, Mark, Measure, Score
from arrange.score.own import PREFIX, is_line
from arrange.score.reading import Reading
from arrange.score.reading.sweeps import transposed
from arrange.study.decided import NOTHING_DECIDED, Decided, HeldStretch
from arrange.study.levering import plan_as_it_stands

_OUTSIDE = "it lies outside the measures that are planned anew"


_Saying = tuple[str, str, MarkValue]


@dataclass
class EditedWork(Work):
    """The rules run once more over a result, and change only the measures of *window*.

    What the page says about the whole piece (the opening, the legend, how the levers stand where
    people restart) is written anew where it is no longer true.

    Attributes:
        window: the measures that may be changed.
        restores: marks that are written again get their ids again.
        stretches: how the levers stand in the others.
        earlier: the conversion that made the result.
        said: the lines about the whole piece that a rule wants.
        has_slipped: the levers could not be kept as they are outside the window.
        decided_here: what rules and planner are told.
        cleared: marks of ours that were taken out of the window, by what they say: their ids and
            the changes; one that is written again gets its id again, so that nothing differs.
        back: changes that took such a mark out, and those that wrote it again.
        renamed: ids of changes as they were proposed, and as they were carried out.
    """

    window: frozenset[int] = frozenset()
    restores: bool = True
    stretches: tuple[HeldStretch, ...] = ()
    earlier: Conversion | None = None
    said: set[str] = field(default_factory=set)
    has_slipped: bool = False
    decided_here: Decided = NOTHING_DECIDED
    cleared: dict[_Saying, tuple[str, str]] = field(default_factory=dict)
    back: dict[str, str] = field(default_factory=dict)
    renamed: dict[str, str] = field(default_factory=dict)
    marks: dict[EventId, Mark] = field(default_factory=dict)

    def conversion(self) -> Conversion:
        """Plan the window anew."""
        document = Document.read(self.source.score_bytes, self.source.name)
        reading = self._reading(document)
        before = reading.score()
        if self.earlier is not None:
            interval = self.earlier.interval
            known = self.earlier.before.sweeps
            self.sweeps = {s.start: transposed(s, interval) for s in known}
        outside = (n for n in before.notes_by_id if n.index not in self.window)
        self.decided_here = Decided(
            stays=frozenset(outside), window=self.window, stretches=self.stretches
        )
        if self.window:
            for rule in self.settings.book.rules:
                self.progress(rule.id.replace("-", " "))
                self._run(self._told(rule), document, reading)
            self._remove_lines(document, reading)
            self._forget_what_is_back()
        standing = self._standing(reading)
        if self.settings.book.rules:
            self.has_slipped = any(
                isinstance(lever, HeldStretch)
                for plan in plan_as_it_stands(standing, self._terms)
                for lever in plan.open_levers
            )
        return self._looked_back(document, before, standing)

    @property
    def _decided(self) -> Decided:
        return self.decided_here

    @property
    def _interval(self) -> Interval:
        return super()._interval if self.earlier is None else self.earlier.interval

    def _run(self, rule: Rule, document: Document, reading: Reading) -> None:
        measures = (m for part in reading.score().parts for m in part.measures)
        self.marks = {mark.id: mark for measure in measures for mark in measure.marks}
        lines = {mark.own: mark for mark in _lines(reading.score())}
        settings = self.settings
        plain = _without_lines(self._standing(reading))
        proposals = list(rule.propose(plain, settings.harp, settings.book.player))
        wanted = [p for p in proposals if not self._stands(p, lines)]
        untrue = [lines[own] for own in map(_line_of, wanted) if own in lines]
        self._remove(untrue, rule.id, document, reading)
        with Transaction(
            document, reading, self.log, limit=settings.limit, pinned=self._decided.stays
        ) as transaction:
            for proposal in wanted:
                self._take(proposal, transaction)

    def _stands(self, proposal: Proposal, lines: dict[str, Mark]) -> bool:
        """Whether the proposal is a line that stands there with the same words."""
        own = _line_of(proposal)
        self.said |= {own} - {""}
        mark = lines.get(own)
        return (
            mark is not None
            and isinstance(proposal, Change)
            and any(
                isinstance(v, MarkValue) and v.text.strip() == mark.text for v in proposal.after
            )
        )

    def _take(self, proposal: Proposal, transaction: Transaction) -> None:
        if not isinstance(proposal, Change):
            super()._take(proposal, transaction)
        elif self._is_inside(proposal):
            super()._take(self._with_former_id(proposal), transaction)
        else:
            self.log.entries.append(LogEntry(proposal, Outcome.BLOCKED, _OUTSIDE))

    def _with_former_id(self, change: Change) -> Change:
        """The change, a mark in it with the id that it had before it was taken out."""
        needed = tuple(self.renamed.get(one, one) for one in change.depends_on)
        match change.edits:
            case (RemoveMark() as edit,) if edit.mark in self.marks and self.marks[edit.mark].own:
                own = self.marks[edit.mark].own
                self.cleared[_saying(own, edit.before)] = own, change.id
                edits = change.edits
            case (AddWords() as edit,) if (
                self.restores and _saying(edit.own, edit.after) in self.cleared
            ):
                own, removal = self.cleared.pop(_saying(edit.own, edit.after))
                edits = (replace(edit, own=own),)
                self.back[removal] = replace(change, edits=edits).id
            case _:
                edits = change.edits
        found = replace(change, edits=edits, depends_on=needed)
        self.renamed[change.id] = found.id
        return found

    def _forget_what_is_back(self) -> None:
        """A mark that was taken out and written again as it was is no change."""
        applied = {change.id for change in self.log.applied()}
        pairs = [pair for pair in self.back.items() if applied.issuperset(pair)]
        forgotten = {change for pair in pairs for change in pair}
        self.log.entries[:] = [e for e in self.log.entries if e.change.id not in forgotten]

    def _is_inside(self, change: Change) -> bool:
        if _line_of(change) or isinstance(change.edits[0], SetCredit):
            return True
        touched = {value.index for value in (*change.before, *change.after)}
        return touched | {change.where.index} <= self.window

    def _remove_lines(self, document: Document, reading: Reading) -> None:
        """Take out the lines that nobody wants any more."""
        applied = self.earlier.log.applied() if self.earlier is not None else []
        running = {rule.id for rule in self.settings.book.rules}
        writers = {
            edit.own: change.rule
            for change in applied
            for edit in change.edits
            if isinstance(edit, AddWords) and change.rule in running
        }
        for mark in _lines(reading.score()):
            if mark.own in writers and mark.own not in self.said:
                self._remove([mark], writers[mark.own], document, reading)

    def _remove(self, marks: list[Mark], rule: str, document: Document, reading: Reading) -> None:
        if not marks:
            return
        score = reading.score()
        with Transaction(document, reading, self.log) as transaction:
            for mark in marks:
                edit = RemoveMark(mark.id, MarkValue.of(mark))
                reason = "After the edits by hand this is no longer true."
                where = Where.of_mark(score, mark)
                transaction.offer(Change(rule, where, reason, Fidelity.EXACT, (edit,)))


def _saying(own: str, value: MarkValue) -> _Saying:
    """What a mark says and where, whatever its number."""
    kind, _, rest = own.removeprefix(PREFIX).partition(".")
    return kind, rest.partition(".")[2], value


def _line_of(proposal: Proposal) -> str:
    """The id of the line about the whole piece that is proposed, or ""."""
    if not isinstance(proposal, Change):
        return ""
    edit = proposal.edits[0]
    return edit.own if isinstance(edit, AddWords) and is_line(edit.own) else ""


def _lines(score: Score) -> Iterator[Mark]:
    for part in score.parts:
        for measure in part.measures:
            for mark in measure.marks:
                if mark.own and is_line(mark.own):
                    yield mark


def _without_lines(score: Score) -> Score:
    """The score as if the lines about the whole piece did not stand there."""
    if not any(_lines(score)):
        return score
    parts = tuple(replace(p, measures=tuple(map(_plain, p.measures))) for p in score.parts)
    return replace(score, parts=parts)


def _plain(measure: Measure) -> Measure:
    kept = tuple(mark for mark in measure.marks if not (mark.own and is_line(mark.own)))
    return measure if kept == measure.marks else replace(measure, marks=kept)
