"""The way of a conversion: read, choose the key, transpose, rules in order, write, look back."""

from collections.abc import Callable
from dataclasses import dataclass, field, fields, replace
from fractions import Fraction

from arrange.apply.transaction import Transaction
from arrange.apply.transposing import transpose
from arrange.audit import View, audit_views
from arrange.changes import Change, ChangeLog, Fidelity, OpenPoint
from arrange.check import Instructions, Violation, check, from_page
from arrange.edits import SetPitch
from arrange.errors import BadInput
from arrange.harp.harp import Harp
from arrange.memory import rare_collections
from arrange.pitch import UNISON, Interval, Pitch
from arrange.rule import Rule
from arrange.rulebook import RuleBook
from arrange.score.container import Source, write_result
from arrange.score.document import Document
from arrange.score.model import EventId, Finding, Score, Sweep
from arrange.score.own import FIELD_PREFIX
from arrange.score.reading import Reading
from arrange.score.reading.sweeps import transposed
from arrange.study.keys import FREE_CHOICE, KeyScale, KeyWeight
from arrange.study.levering import LeverPlan, plan_as_it_stands
from arrange.study.terms import Terms

Progress = Callable[[str], None]


def silent(_: str) -> None:
    """Report nothing."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What a conversion is asked for.

    Attributes:
        harp, book: which harp, which rule book.
        key: ``auto``, ``keep`` or an interval as text.
        parts: parts that are the harp's, by id or name; empty: found by name.
        transpose_all: every part moves with the harp.
        tempo: quarters a minute in place of the score's own.
        limit: the furthest that a change may go without being asked.
        declined: ids of changes that are not to be carried out.
    """

    harp: Harp
    book: RuleBook
    key: str = "auto"
    parts: tuple[str, ...] = ()
    transpose_all: bool = False
    tempo: Fraction | None = None
    limit: Fidelity = Fidelity.LOSSY
    declined: frozenset[str] = frozenset()

    @property
    def terms(self) -> Terms:
        """Harp, hands and prices."""
        return Terms(self.harp, self.book.player, self.book.prices)


@dataclass(frozen=True)
class Conversion:
    """What came of it.

    Attributes:
        result: the bytes of the new file; the source's own where nothing was changed.
        score: the result, read afresh; *before*: the source as it was read.
        interval, transposed_parts: what was transposed; *ranking*: the keys that were weighed.
        log: every proposal and what became of it.
        instructions: the levers as the page says them.
        plans: the planner's answer for each harp; none where nothing runs.
        violations: what cannot be played after all; *unlogged*: differences without an entry.
        is_again: the source was our own result, still good, and was left as it is.
    """

    source: Source
    settings: Settings
    result: bytes
    score: Score
    before: Score
    interval: Interval
    transposed_parts: tuple[str, ...]
    ranking: tuple[KeyWeight, ...]
    log: ChangeLog
    instructions: Instructions
    plans: tuple[LeverPlan, ...]
    violations: tuple[Violation, ...]
    unlogged: tuple[str, ...]
    is_again: bool = False

    @property
    def is_sound(self) -> bool:
        """Its own check and audit pass."""
        return not self.violations and not self.unlogged


def convert(source: Source, settings: Settings, progress: Progress = silent) -> Conversion:
    """Rewrite a score.

    Raises:
        BadInput: the source cannot be read or has no harp, or a setting does not fit it.
    """
    with rare_collections():
        return _Work(source, settings, progress).conversion()


@dataclass
class _Work:
    source: Source
    settings: Settings
    progress: Progress
    log: ChangeLog = field(default_factory=ChangeLog)
    interval: Interval = UNISON
    transposed_parts: tuple[str, ...] = ()
    ranking: tuple[KeyWeight, ...] = ()
    sweeps: dict[EventId, Sweep] = field(default_factory=dict)

    def conversion(self) -> Conversion:
        document = Document.read(self.source.score_bytes, self.source.name)
        reading = self._reading(document)
        before = reading.score()
        self.log.findings.extend(Finding(f"{note}.") for note in self.source.notes)
        self.log.findings.extend(before.findings)
        again = self._again(before)
        if again is not None:
            return again
        if self.settings.book.transposes:
            self._choose_key(before)
            self.progress("transposing")
            self.log.findings.extend(transpose(document, self.transposed_parts, self.interval))
        self.sweeps = {s.start: transposed(s, self.interval) for s in before.sweeps}
        for rule in self.settings.book.rules:
            self.progress(rule.id.replace("-", " "))
            self._run(self._told(rule), document, reading)
        return self._looked_back(document, before, self._standing(reading))

    def _reading(self, document: Document) -> Reading:
        return Reading(document, parts=self.settings.parts, tempo=self.settings.tempo)

    def _again(self, before: Score) -> Conversion | None:
        """Our own result for the same harp and book, still good: it stays as it is."""
        settings = self.settings
        same = {
            f"{FIELD_PREFIX}harp": settings.harp.name,
            f"{FIELD_PREFIX}book": settings.book.name,
        }
        if any(before.own.get(name) != value for name, value in same.items()):
            return None
        if settings.key not in {"auto", "keep"}:
            return None
        instructions = from_page(before, settings.harp)
        if check(before, settings.harp, settings.book.player, instructions):
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
        )

    def _choose_key(self, before: Score) -> None:
        asked = self.settings.key
        harp_parts = before.harp_parts
        others = [p.id for p in before.parts if p.is_pitched and p.id not in harp_parts]
        is_bound = bool(others) and not self.settings.transpose_all
        scale = KeyScale(before, self.settings.terms, self.settings.limit)
        if asked == "auto" and not is_bound:
            self.progress("weighing keys")
            free = [i for i in scale.intervals() if abs(i.semitones) <= FREE_CHOICE]
            self.ranking = scale.weigh(free, all_exact=False)
            self.interval = self.ranking[0].interval
        elif asked not in {"auto", "keep"}:
            self.interval = Interval.parse(asked)
            if is_bound and self.interval != UNISON:
                raise BadInput(
                    "the harp is not moved alone while other parts play; "
                    "add --transpose-all to move every part, or keep the key",
                    file=self.source.name,
                    part=others[0],
                )
        if not self.ranking:
            self.ranking = scale.weigh([self.interval], all_exact=True)
        if is_bound and asked == "auto":
            self.log.findings.append(
                Finding("Other parts play with the harp, so the key is kept.")
            )
        if self.interval != UNISON:
            self.transposed_parts = (
                tuple(p.id for p in before.parts if p.is_pitched) if others else harp_parts
            )

    def _told(self, rule: Rule) -> Rule:
        """The rule with what this conversion tells it, where it has such an option."""
        told = {
            "limit": self.settings.limit,
            "book": self.settings.book.name,
            "interval": str(self.interval),
            "first_pitches": self._first_pitches(),
        }
        names = {f.name for f in fields(rule)}  # type: ignore[arg-type] # rules are dataclasses
        return replace(rule, **{k: v for k, v in told.items() if k in names})  # type: ignore[type-var] # as above

    def _first_pitches(self) -> tuple[tuple[EventId, Pitch], ...]:
        """The transposed source's pitch of each note that has got another one so far."""
        found: dict[EventId, Pitch] = {}
        for change in self.log.applied():
            for edit in change.edits:
                if isinstance(edit, SetPitch):
                    found.setdefault(edit.note, edit.before.pitch)
        return tuple(found.items())

    def _run(self, rule: Rule, document: Document, reading: Reading) -> None:
        score = self._standing(reading)
        settings = self.settings
        with Transaction(
            document, reading, self.log, limit=settings.limit, declined=settings.declined
        ) as transaction:
            for proposal in rule.propose(score, settings.harp, settings.book.player):
                match proposal:
                    case Change():
                        transaction.offer(proposal)
                    case OpenPoint():
                        self.log.open_points.append(proposal)
                    case Finding():
                        self.log.findings.append(proposal)

    def _standing(self, reading: Reading) -> Score:
        """The score as it stands, its glissandi with the tones that the source told."""
        score = reading.score()
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

    def _looked_back(self, document: Document, before: Score, standing: Score) -> Conversion:
        """Read the emitted bytes afresh; check and audit them.

        The document is no longer needed: with its edits taken back it is the source again.
        """
        self.progress("checking")
        score_bytes = document.to_bytes()
        settings = self.settings
        fresh = Document.read(score_bytes, self.source.name)
        score = self._reading(fresh).score()
        instructions = from_page(score, settings.harp)
        violations: tuple[Violation, ...] = ()
        if settings.book.rules:
            violations = check(score, settings.harp, settings.book.player, instructions)
        document.rollback(0)
        unlogged = audit_views(
            View.of(self.source.score_bytes, document, before),
            View.of(score_bytes, fresh, score),
            self.log,
            self.interval,
            self.transposed_parts,
        )
        return Conversion(
            source=self.source,
            settings=settings,
            result=write_result(self.source, score_bytes),
            score=score,
            before=before,
            interval=self.interval,
            transposed_parts=self.transposed_parts,
            ranking=self.ranking,
            log=self.log,
            instructions=instructions,
            plans=plan_as_it_stands(standing, settings.terms) if settings.book.rules else (),
            violations=violations,
            unlogged=unlogged,
        )


def _names_its_tones(score: Score, sweep: Sweep) -> bool:
    """Whether our own mark at the sweep's start names its tones."""
    start = score.notes_by_id[sweep.start]
    return any(
        mark.own.startswith("leverwright.tones.") and mark.offset == start.offset
        for mark in score.measure(start.id.part, start.id.index).marks
    )
