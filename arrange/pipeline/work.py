"""One conversion, step by step."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, fields, replace
from typing import Any

from arrange.apply.pages import Pages
from arrange.apply.replay import replay_without
from arrange.apply.transaction import Transaction
from arrange.apply.transposing import transpose
from arrange.audit import View, audit_views
from arrange.changes import Change, ChangeLog, OpenPoint, Outcome, Refusal, Where
from arrange.check import Instructions, Violation, check, from_page
from arrange.decisions import Matched, Settlement, Settling, matched
from arrange.edits import AddWords, NoteValue, RemoveNote, SetPitch, WriteRun
from arrange.memory import forget, rare_collections
from arrange.pipeline.conversion import Conversion, Settings
from arrange.pipeline.key_choice import ANY, KeyChoice, KeyQuestion
from arrange.pipeline.lightening import lightened, melody_handed_on, melody_known
from arrange.pitch import UNISON, Interval, Pitch
from arrange.rule import Proposal, Rule, Stage
from arrange.score.container import Source, write_result
from arrange.score.document import Document
from arrange.score.model import EventId, Finding, Score, Sweep
from arrange.score.own import FIELD_PREFIX, OwnCue
from arrange.score.reading import Reading
from arrange.score.reading.sweeps import transposed
from arrange.study.cueing import WrittenCue
from arrange.study.decided import NOTHING_DECIDED, Decided
from arrange.study.levering import plan_as_it_stands
from arrange.study.terms import Terms

Progress = Callable[[str], None]
UNMOVED = KeyChoice(UNISON, (), ())


def silent(_: str) -> None:
    """Report nothing."""


def convert(source: Source, settings: Settings, progress: Progress = silent) -> Conversion:
    """Rewrite a score.

    Raises:
        BadInput: the source cannot be read or has no harp, or a setting does not fit it.
    """
    with rare_collections():
        return Work(source, settings, progress).conversion()


@dataclass
class Work:
    """A conversion while it is made.

    Attributes:
        sweeps: the source's glissandi, transposed, by their first note.
        matched: the decisions, their places found; *settlement*: what became of them.
        refusals: options that were chosen and cannot be had.
        noticed: what the carrying out of changes made known; it is made known again when they
            are carried out again.
        sung: the notes of the melody, where the book makes the piece lighter.
        known: the score as it was last read, and with the melody.
        pages: the measures as printed, while rules run.
        faults: what could not be played before anything was declined; there should be nothing.
    """

    source: Source
    settings: Settings
    progress: Progress
    log: ChangeLog = field(default_factory=ChangeLog)
    key: KeyChoice = UNMOVED
    sweeps: dict[EventId, Sweep] = field(default_factory=dict)
    matched: Matched | None = None
    settlement: Settlement | None = None
    refusals: list[Refusal] = field(default_factory=list)
    noticed: list[Finding] = field(default_factory=list)
    faults: frozenset[Violation] = frozenset()
    sung: frozenset[EventId] | None = None
    known: tuple[Score, Score] | None = None
    pages: Pages | None = None

    def conversion(self) -> Conversion:
        """Go the whole way."""
        document = Document.read(self.source.score_bytes, self.source.name)
        reading = self._reading(document)
        before = reading.score()
        self.log.findings.extend(Finding(f"{note}.") for note in self.source.notes)
        self.log.findings.extend(before.findings)
        self._match_decisions(before)
        again = self._again(before)
        if again is not None:
            return self._with_words(again, document, reading)
        if self.settings.book.transposes:
            self.sung = melody_known(before, self.settings)
            self._choose_key(lightened(document, reading, self.settings))
            self.progress("transposing")
            self.log.findings.extend(transpose(document, self.key.parts, self.key.interval))
        self.sweeps = {s.start: transposed(s, self.key.interval) for s in before.sweeps}
        start = document.mark()
        self.pages = Pages(document)
        for rule in self.settings.book.rules:
            self.progress(rule.id.replace("-", " "))
            self._run(self._told(rule), document, reading)
        standing = self._standing(reading)
        self._settle()
        if self.settlement is not None and self.settlement.declined:
            told = from_page(standing, self.settings.harp)
            self.faults = frozenset(self._violations(standing, told))
            document.rollback(start)
            self._leave_out(document, reading, self.settlement.declined)
        return self._looked_back(document, before, standing)

    def _reading(self, document: Document) -> Reading:
        asked = self.settings
        return Reading(document, parts=asked.parts, tempo=asked.tempo, melody=asked.melody)

    @property
    def _decided(self) -> Decided:
        return NOTHING_DECIDED if self.matched is None else self.matched.decided

    @property
    def _interval(self) -> Interval:
        """By which the result is said to have been moved."""
        return self.key.interval

    @property
    def _terms(self) -> Terms:
        return replace(self.settings.terms, decided=self._decided)

    def _match_decisions(self, before: Score) -> None:
        settings = self.settings
        if settings.decisions is not None:
            sha256 = settings.source_sha256 or self.source.sha256
            self.matched = matched(settings.decisions, before, settings.harp, sha256)
            self.matched.yield_to_key(settings.key)

    def _again(self, before: Score) -> Conversion | None:
        """Our own result for the same harp and book, still good: it stays as it is.

        What an editor's decisions left in it does not make it less good.
        """
        settings = self.settings
        same = {
            f"{FIELD_PREFIX}harp": settings.harp.name,
            f"{FIELD_PREFIX}book": settings.book.name,
        }
        if any(before.own.get(name) != value for name, value in same.items()):
            return None
        decided = self.matched
        if settings.key not in ANY or (decided is not None and decided.is_made_for_it):
            return None
        instructions = from_page(before, settings.harp)
        is_left = decided is not None and decided.decisions.has_declines
        if not is_left and check(before, settings.harp, settings.book.player, instructions):
            return None
        return Conversion(
            source=self.source,
            settings=settings,
            result=write_result(self.source, self.source.score_bytes),
            score=before,
            before=before,
            interval=UNISON,
            transposed_parts=(),
            ranking=(),
            log=self.log,
            instructions=instructions,
            plans=plan_as_it_stands(before, settings.terms),
            violations=(),
            unlogged=(),
            is_again=True,
            settlement=None if decided is None else decided.kept(),
        )

    def _with_words(self, again: Conversion, document: Document, reading: Reading) -> Conversion:
        """Our own result, with the words that are asked for beside the book's and not there."""
        for rule in self.settings.book.rules:
            if rule.on_request and rule.stage is Stage.CUES:
                self._run(self._told(rule), document, reading)
        if not self.log.applied():
            return again
        return replace(self._looked_back(document, again.before, again.score), is_again=True)

    def _choose_key(self, score: Score) -> None:
        settings = self.settings
        pinned = self.matched.key if self.matched is not None else ""
        asked = settings.key if settings.key != "auto" else pinned or "auto"
        self.progress("weighing keys")
        question = KeyQuestion(asked, settings.transpose_all, self.source.name)
        self.key = question.choice(score, self._terms, settings.limit)
        self.log.findings.extend(self.key.findings)

    def _told(self, rule: Rule) -> Rule:
        """The rule with what this conversion tells it, where it has such an option."""
        known: dict[str, Callable[[], Any]] = {
            "limit": lambda: self.settings.limit,
            "book": lambda: self.settings.book.name,
            "interval": lambda: str(self._interval),
            "decided": lambda: self._decided,
            "first_pitches": self._first_pitches,
            "left_out": self._left_out,
            "cue_changes": self._cue_changes,
        }
        told = {name: known[name]() for name in known.keys() & _options(rule)}
        return replace(rule, **told)  # type: ignore[type-var] # rules are dataclasses

    def _first_pitches(self) -> tuple[tuple[EventId, Pitch], ...]:
        """The transposed source's pitch of each note that has got another one so far."""
        found: dict[EventId, Pitch] = {}
        for change in self.log.applied():
            for edit in change.edits:
                if isinstance(edit, SetPitch):
                    found.setdefault(edit.note, edit.before.pitch)
                elif isinstance(edit, WriteRun):
                    found.setdefault(edit.note, edit.before[0].pitch)
        return tuple(found.items())

    def _cue_changes(self) -> tuple[WrittenCue, ...]:
        """The cues that are written so far."""
        return tuple(
            (edit.own, edit.after.index, change.id)
            for change in self.log.applied()
            for edit in change.edits
            if isinstance(edit, AddWords) and OwnCue.parse(edit.own) is not None
        )

    def _left_out(self) -> tuple[tuple[NoteValue, str], ...]:
        """The notes that are left out so far, each with the change that did it."""
        return tuple(
            (edit.before, change.id)
            for change in self.log.applied()
            for edit in change.edits
            if isinstance(edit, RemoveNote)
        )

    def _run(self, rule: Rule, document: Document, reading: Reading) -> None:
        score = self._standing(reading)
        settings = self.settings
        with Transaction(
            document,
            reading,
            self.log,
            limit=settings.limit,
            pinned=self._decided.stays,
            pages=self.pages,
        ) as transaction:
            for proposal in rule.propose(score, settings.harp, settings.book.player):
                self._take(proposal, transaction)
            told = len(self.log.findings)
        self.noticed += self.log.findings[told:]

    def _take(self, proposal: Proposal, transaction: Transaction) -> None:
        match proposal:
            case Change():
                transaction.offer(proposal)
            case OpenPoint():
                self.log.open_points.append(proposal)
            case Finding():
                self.log.findings.append(proposal)
            case Refusal():
                self.refusals.append(proposal)

    def _standing(self, reading: Reading) -> Score:
        """The score as it stands, its glissandi with the tones that the source told."""
        score = self._with_melody(reading.score())
        if not score.sweeps:
            return score
        kept = tuple(
            s
            if _names_its_tones(score, s)
            else replace(s, tones=self.sweeps[s.start].tones)
            if s.start in self.sweeps
            else s
            for s in score.sweeps
        )
        return score if kept == score.sweeps else replace(score, sweeps=kept)

    def _with_melody(self, score: Score) -> Score:
        if self.sung is None:
            return score
        if self.known is None or self.known[0] is not score:
            self.sung |= melody_handed_on(score, self.sung, self.log)
            self.known = (score, replace(score, sung=self.sung))
        return self.known[1]

    def _settle(self) -> None:
        """Say what becomes of the decisions, given what was proposed."""
        if self.matched is None:
            return
        asking = {rule.id for rule in self.settings.book.rules if "decided" in _options(rule)}
        for way in self._decided.ways:
            if way.rule not in asking:
                reason = "no rule of this book weighs such ways"
                self.refusals.append(Refusal(way.rule, way.note, way.option, reason))
        self.settlement = self.matched.settlement(self.log, self.refusals)
        for settled in self.settlement.settled:
            if settled.settling in {Settling.STALE, Settling.REFUSED}:
                what, place = settled.decision.what, settled.decision.place
                self.log.findings.append(
                    Finding(
                        f"A decision is not carried out ({what}): {settled.detail}.",
                        "" if place is None else place.part,
                        settled.index,
                        "" if place is None else place.measure,
                    )
                )

    def _leave_out(self, document: Document, reading: Reading, declined: frozenset[str]) -> None:
        """Carry everything out again but what is declined and what needs that."""
        again = replay_without(document, reading, self.log, declined)
        applied = {e.change.id for e in again.entries if e.outcome is Outcome.APPLIED}
        gone = {
            (entry.change.where, entry.change.reason)
            for entry in self.log.entries
            if entry.outcome is Outcome.APPLIED and entry.change.id not in applied
        }
        self.log.entries[:] = again.entries
        kept = [finding for finding in self.log.findings if finding not in self.noticed]
        self.log.findings[:] = [*kept, *again.findings]
        points = [p for p in self.log.open_points if (p.where, p.problem) not in gone]
        self.log.open_points[:] = points

    def _violations(self, score: Score, told: Instructions) -> tuple[Violation, ...]:
        settings = self.settings
        if not settings.book.rules:
            return ()
        return check(score, settings.harp, settings.book.player, told)

    def _left(self, violations: tuple[Violation, ...]) -> Iterator[OpenPoint]:
        """What cannot be played because changes were declined."""
        for v in violations:
            if v not in self.faults:
                where = Where(v.part, v.index, v.measure, v.offset, v.staff)
                problem = f"Left by your decision: {v.problem}"
                yield OpenPoint(where, v.pitches, problem, ("take the decision back",))

    def _looked_back(self, document: Document, before: Score, standing: Score) -> Conversion:
        """Read the emitted bytes afresh; check and audit them.

        The document is no longer needed: with its edits taken back it is the source again.
        """
        self.progress("checking")
        plans = plan_as_it_stands(standing, self._terms) if self.settings.book.rules else ()
        self.pages = None
        forget()
        score_bytes = document.to_bytes()
        document.restore()
        settings = self.settings
        fresh = Document.read(score_bytes, self.source.name)
        score = self._reading(fresh).score()
        instructions = from_page(score, settings.harp)
        violations = self._violations(score, instructions)
        if self.settlement is not None and self.settlement.declined:
            self.log.open_points.extend(self._left(violations))
            violations = tuple(v for v in violations if v in self.faults)
        unlogged = audit_views(
            View.of(document, before),
            View.of(fresh, score),
            self.log,
            self.key.interval,
            self.key.parts,
        )
        document.root.take_apart()
        fresh.root.take_apart()
        return Conversion(
            source=self.source,
            settings=settings,
            result=write_result(self.source, score_bytes),
            score=score,
            before=before,
            interval=self.key.interval,
            transposed_parts=self.key.parts,
            ranking=self.key.ranking,
            log=self.log,
            instructions=instructions,
            plans=plans,
            violations=violations,
            unlogged=unlogged,
            settlement=self.settlement,
        )


def _options(rule: Rule) -> frozenset[str]:
    return frozenset(f.name for f in fields(rule))  # type: ignore[arg-type] # rules are dataclasses


def _names_its_tones(score: Score, sweep: Sweep) -> bool:
    """Whether our own mark at the sweep's start names its tones."""
    start = score.notes_by_id[sweep.start]
    return any(
        mark.own.startswith("leverwright.tones.") and mark.offset == start.offset
        for mark in score.measure(start.id.part, start.id.index).marks
    )
