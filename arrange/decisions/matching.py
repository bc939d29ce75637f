"""Decisions brought together with a score and with the changes that are proposed for it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property

from arrange.changes import Change, ChangeLog, Refusal
from arrange.decisions.places import aligned, fingerprints, numbered
from arrange.decisions.records import Decision, Decisions, Kind, Place, Settling
from arrange.harp.harp import Harp
from arrange.score.model import EventId, Measure, Note, Score
from arrange.score.plucks import plucks
from arrange.study.decided import ChosenWay, Decided, HeldLever

_GONE = "its measure is not in this score, or is another one by now"


@dataclass(frozen=True, slots=True)
class Settled:
    """A decision and what became of it; *detail* says why where it was not carried out.

    Attributes:
        index: the measure that it is about in this score, from 0; -1 where it has no place.
    """

    decision: Decision
    settling: Settling
    detail: str = ""
    index: int = -1


@dataclass(frozen=True, slots=True)
class Settlement:
    """What became of all decisions of a file.

    Attributes:
        is_same_source: the file was made for this very score.
        declined: ids of the changes that are declined; others that need them may fall too.
    """

    decisions: Decisions
    is_same_source: bool
    settled: tuple[Settled, ...] = ()
    declined: frozenset[str] = frozenset()


@dataclass
class Matched:
    """Decisions whose places are found in a score.

    Attributes:
        indices: for each decision, where its measure is now; None where it is gone.
        decided: what rules and planner are told; *key*: what is asked of the key, or "".
        troubles: decisions that cannot be carried out, by their place in the file.
    """

    decisions: Decisions
    is_same_source: bool
    indices: list[int | None]
    decided: Decided = field(default_factory=Decided)
    key: str = ""
    troubles: dict[int, tuple[Settling, str]] = field(default_factory=dict)

    def settlement(self, log: ChangeLog, refusals: Iterable[Refusal]) -> Settlement:
        """What becomes of every decision, given what was proposed and refused."""
        changes = [entry.change for entry in log.entries]
        known = {change.id: change for change in changes}
        order = numbered(changes)
        by_content = {_content(c, order[c.id]): c.id for c in changes}
        refused = {(r.rule, r.note, r.option): r.reason for r in refusals}
        declined = set(known) if self.decisions.declines_all else set()
        settled = []
        for number, decision in enumerate(self.decisions.entries):
            index = self.indices[number]
            settling, detail = self.troubles.get(number, (Settling.APPLIED, ""))
            if number not in self.troubles and decision.kind in {Kind.DECLINE, Kind.ACCEPT}:
                found = self._found(decision, index, known, by_content)
                settling, detail = _of_change(decision, found)
                if found and decision.kind is Kind.DECLINE:
                    declined.add(found)
            elif number not in self.troubles and decision.kind is Kind.CHOOSE:
                settling, detail = self._of_choice(decision, index, refused)
            settled.append(Settled(decision, settling, detail, -1 if index is None else index))
        return Settlement(self.decisions, self.is_same_source, tuple(settled), frozenset(declined))

    @property
    def is_made_for_it(self) -> bool:
        """Whether the file names this very score."""
        return self.is_same_source and bool(self.decisions.sha256)

    def yield_to_key(self, asked: str) -> None:
        """What is asked for on the spot goes before a pinned key."""
        if not self.key or asked in {"auto", self.key}:
            return
        self.key = ""
        for number, entry in enumerate(self.decisions.entries):
            if entry.kind is Kind.KEY:
                self.troubles[number] = Settling.REFUSED, f"the key {asked} is asked for"

    def kept(self) -> Settlement:
        """Of a score that was written before: what was decided stands in it."""
        detail = "the score was written before"
        settled = tuple(
            Settled(entry, Settling.RECORDED, detail) for entry in self.decisions.entries
        )
        return Settlement(self.decisions, self.is_same_source, settled)

    def _found(
        self,
        decision: Decision,
        index: int | None,
        known: dict[str, Change],
        by_content: dict[tuple[object, ...], str],
    ) -> str:
        """The id of the change that the decision is about, or ""."""
        if self.is_same_source and decision.change in known:
            return decision.change
        if decision.place is None or index is None:
            return ""
        key = (decision.rule, decision.place.part, index, decision.anchor, decision.nth)
        return by_content.get(key, "")

    def _of_choice(
        self,
        decision: Decision,
        index: int | None,
        refused: dict[tuple[str, EventId, str], str],
    ) -> tuple[Settling, str]:
        place = decision.place
        if place is None or index is None:
            return Settling.STALE, _GONE
        key = (decision.rule, EventId(place.part, index, place.note), decision.option)
        reason = refused.get(key)
        return (Settling.APPLIED, "") if reason is None else (Settling.REFUSED, reason)


def _content(change: Change, nth: int) -> tuple[object, ...]:
    return (change.rule, change.where.part, change.where.index, change.anchor, nth)


def _of_change(decision: Decision, found: str) -> tuple[Settling, str]:
    if not found:
        return Settling.STALE, "no such change is proposed for this score by now"
    return (Settling.APPLIED if decision.kind is Kind.DECLINE else Settling.RECORDED), ""


def matched(decisions: Decisions, score: Score, harp: Harp, sha256: str) -> Matched:
    """Find the places of decisions in a score.

    Args:
        decisions: what was decided, perhaps for another state of the score.
        score: as it was read, nothing changed or transposed yet.
        harp: which it is converted for.
        sha256: of the score's file.
    """
    is_same = decisions.sha256 in {"", sha256}
    finder = _Finder(score, harp, {} if is_same else _alignments(decisions, score), is_same)
    indices = [finder.index(entry.place) for entry in decisions.entries]
    found = Matched(decisions, is_same, indices)
    stays: list[EventId] = []
    ways: list[ChosenWay] = []
    levers: list[HeldLever] = []
    for number, (entry, index) in enumerate(zip(decisions.entries, indices, strict=True)):
        match entry.kind:
            case Kind.KEY:
                finder.take_key(found, number, entry)
            case Kind.NOTE:
                stays.extend(finder.tied(found, number, entry, index))
            case Kind.CHOOSE:
                ways.extend(finder.ways(found, number, entry, index))
            case Kind.LEVER:
                levers.extend(finder.levers(found, number, entry, index))
            case Kind.DECLINE | Kind.ACCEPT:
                pass
    found.decided = Decided(frozenset(stays), tuple(ways), tuple(levers))
    return found


def _alignments(decisions: Decisions, score: Score) -> dict[str, dict[int, int]]:
    now = fingerprints(score)
    return {part: aligned(row, now[part]) for part, row in decisions.measures if part in now}


@dataclass(frozen=True)
class _Finder:
    score: Score
    harp: Harp
    alignments: dict[str, dict[int, int]]
    is_same: bool

    def index(self, place: Place | None) -> int | None:
        """Where a place's measure is now."""
        part = None if place is None else self.score.by_part.get(place.part)
        if place is None or part is None:
            return None
        if not self.is_same:
            return self.alignments.get(place.part, {}).get(place.index)
        if place.index >= 0:
            return place.index if place.index < len(part.measures) else None
        named = [m.index for m in part.measures if m.number == place.measure]
        return named[0] if len(named) == 1 else None

    def take_key(self, found: Matched, number: int, entry: Decision) -> None:
        """Ask for a key; the first one that is pinned counts."""
        if found.key and found.key != entry.key:
            found.troubles[number] = Settling.REFUSED, "another key is pinned before it"
        else:
            found.key = entry.key

    def tied(
        self, found: Matched, number: int, entry: Decision, index: int | None
    ) -> Iterator[EventId]:
        """The note of a pin and those that are tied to it."""
        place = entry.place
        if place is None or index is None:
            found.troubles[number] = Settling.STALE, _GONE
            return
        note = self._note(place, self.score.measure(place.part, index), entry)
        if note is None:
            found.troubles[number] = Settling.STALE, f"no {entry.pitch} stands at its place"
            return
        yield from self._chains.get(note.id, (note.id,))

    def _note(self, place: Place, measure: Measure, entry: Decision) -> Note | None:
        for note in measure.notes:
            is_there = note.id.key == place.note or (
                not place.note and place.offset == note.offset and place.staff in {0, note.staff}
            )
            if is_there and note.pitch == entry.pitch:
                return note
        return None

    @cached_property
    def _chains(self) -> dict[EventId, tuple[EventId, ...]]:
        return {
            event: pluck.tied
            for staves in self.score.harps
            for pluck in plucks(self.score, staves)
            for event in pluck.tied
        }

    def ways(
        self, found: Matched, number: int, entry: Decision, index: int | None
    ) -> Iterator[ChosenWay]:
        """The option that is chosen."""
        place = entry.place
        event = None if place is None or index is None else EventId(place.part, index, place.note)
        if event is None or event not in self.score.notes_by_id:
            found.troubles[number] = Settling.STALE, _GONE
        else:
            yield ChosenWay(entry.rule, event, entry.option)

    def levers(
        self, found: Matched, number: int, entry: Decision, index: int | None
    ) -> Iterator[HeldLever]:
        """The lever that is pinned."""
        place = entry.place
        string = self.harp.string_named(entry.string)
        if place is None or index is None or place.part not in self.score.harp_parts:
            found.troubles[number] = Settling.STALE, _GONE
        elif string is None or self.harp.strings[string].raised is None:
            reason = f"{self.harp.name} has no lever on a string {entry.string}"
            found.troubles[number] = Settling.REFUSED, reason
        else:
            yield HeldLever(place.part, index, place.offset, entry.string, entry.position)
