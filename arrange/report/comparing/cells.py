"""Compares a measure of one part with its counterpart."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from arrange.report.comparing import sentences
from arrange.report.comparing.changed import Changed, changed_fields
from arrange.report.comparing.engraved import ASPECTS, signs_of
from arrange.report.comparing.items import Item
from arrange.report.comparing.marks import items_of
from arrange.report.comparing.matching import Matched, matched_notes, matched_rests
from arrange.report.comparing.records import Aspect, Difference
from arrange.report.comparing.sentences import CellPair
from arrange.report.comparing.sheets import Cell, Tone
from arrange.report.comparing.subjects import (
    Items,
    ItemSubject,
    Terms,
    TonePair,
    ToneSubject,
    compared_tones,
    item_subjects,
    matched_items,
)
from arrange.score.nodes import Node


@dataclass(slots=True)
class CellCompared:
    """What came of comparing two measures.

    Attributes:
        moved_on_page: how many things stand elsewhere on the page.
    """

    differences: list[Difference] = field(default_factory=list)
    moved_on_page: int = 0


def is_same_cell(one: Cell, two: Cell) -> bool:
    """Whether two measures are spelled alike and mean the same, so that nothing can differ."""
    return (
        one.text == two.text
        and one.divisions == two.divisions
        and one.fingerprint == two.fingerprint
        and one.events == two.events
    )


def compared_cells(one: Cell, two: Cell, terms: Terms) -> CellCompared:
    """Compare two measures of a part."""
    return _Work(CellPair(one, two), terms).compared()


class _Work:
    def __init__(self, cells: CellPair, terms: Terms) -> None:
        self._cells = cells
        self._terms = terms
        self._meter = cells.two.measure.meter
        self._found = CellCompared()
        self._spans = _Spans()
        self._given: Counter[tuple[object, ...]] = Counter()
        self._taken: Counter[tuple[object, ...]] = Counter()

    def compared(self) -> CellCompared:
        one, two, terms = self._cells.one, self._cells.two, self._terms
        notes = matched_notes(
            [t for t in one.tones if not t.is_rest],
            [t for t in two.tones if not t.is_rest],
            terms.interval,
            terms.voices,
        )
        rests = matched_rests(
            [t for t in one.tones if t.is_rest], [t for t in two.tones if t.is_rest], terms.voices
        )
        signs: list[tuple[TonePair, Items]] = []
        subjects: list[ToneSubject] = []
        for matched in (notes, rests):
            compared = compared_tones(matched, terms, self._meter)
            subjects += compared.subjects
            signs += compared.signs
            self._found.moved_on_page += compared.moved_on_page
        self._spans = _Spans.of(notes)
        changed_signs = self._sign_changes(notes, signs)
        self._without_counterpart(notes, rests)
        marks = matched_items(
            items_of(one, terms.interval, is_moved=terms.is_moved),
            items_of(two, Terms().interval, is_moved=terms.is_moved),
        )
        self._compare(subjects, changed_signs, marks)
        self._found.moved_on_page += sum(a.page != b.page for a, b in marks.pairs)
        self._found.moved_on_page += _width(one.node) != _width(two.node)
        return self._found

    def _without_counterpart(self, notes: Matched, rests: Matched) -> None:
        """Tell what was left out and added; a rest that only fills the gap is told with it."""
        filling, filled = list(rests.added), list(rests.removed)
        tell = self._found.differences.append
        stands_for: dict[tuple[object, ...], Tone] = {}
        for tone in notes.removed:
            rest = _at(tone, filling, stands_for)
            lost = [sign for sign in self._signs(tone) if _take(self._given, sign)]
            tell(sentences.tones_gone(self._cells, tone, lost, rest))
        stands_for = {}
        for tone in notes.added:
            rest = _at(tone, filled, stands_for)
            won = [sign for sign in self._signs(tone) if _take(self._taken, sign)]
            tell(sentences.tones_new(self._cells, tone, won, rest))
        for tone in (rest for rest in filled if not self._spans.explain_loss(rest)):
            tell(sentences.tones_gone(self._cells, tone, self._signs(tone), None))
        for tone in (rest for rest in filling if not self._spans.explain_gain(rest)):
            tell(sentences.tones_new(self._cells, tone, self._signs(tone), None))

    def _signs(self, tone: Tone) -> list[Item]:
        return [
            sign
            for sign in signs_of(tone, is_moved=self._terms.is_moved)
            if sign.aspect is not Aspect.LAYOUT
        ]

    def _sign_changes(
        self, notes: Matched, signs: Sequence[tuple[TonePair, Items]]
    ) -> list[ItemSubject]:
        """Tell signs that came and went; return those that changed.

        A sign that a chord's other note takes over from one that was left out is no difference.
        """
        self._given.update(_sign_key(s) for tone in notes.removed for s in self._signs(tone))
        self._taken.update(_sign_key(s) for tone in notes.added for s in self._signs(tone))
        subjects: list[ItemSubject] = []
        for pair, items in signs:
            subjects += item_subjects(items, self._meter, pair)
            for item in items.removed:
                if not _take(self._taken, item):
                    self._found.differences.append(sentences.item_gone(self._cells, item, pair))
            for item in items.added:
                if not _take(self._given, item):
                    self._found.differences.append(sentences.item_new(self._cells, item, pair))
        return subjects

    def _compare(
        self, tones: Sequence[ToneSubject], signs: Sequence[ItemSubject], marks: Items
    ) -> None:
        items = [*signs, *item_subjects(marks, self._meter)]
        keyed: dict[str, ToneSubject | ItemSubject] = {f"n{i}": s for i, s in enumerate(tones)}
        keyed.update((f"m{i}", s) for i, s in enumerate(items))
        changes: dict[str, list[Changed]] = {}
        before = {key: subject.before for key, subject in keyed.items()}
        after = {key: subject.after for key, subject in keyed.items()}
        for change in changed_fields(before, after):
            changes.setdefault(change.key, []).append(change)
        tell = self._found.differences.extend
        tell(self._of_tones([(tones[int(k[1:])], c) for k, c in changes.items() if k[0] == "n"]))
        for key, changed in changes.items():
            if key[0] == "m":
                subject = items[int(key[1:])]
                tell(sentences.item_differences(self._cells, subject, changed))
        tell(sentences.item_gone(self._cells, item) for item in marks.removed)
        tell(sentences.item_new(self._cells, item) for item in marks.added)

    def _of_tones(
        self, changes: Sequence[tuple[ToneSubject, list[Changed]]]
    ) -> Iterator[Difference]:
        others: list[tuple[ToneSubject, Changed]] = []
        for subject, changed in changes:
            rhythm: list[Changed] = []
            follows = self._spans.explain(subject.pair)
            is_tied_anew = any(change.field == "ties" for change in changed)
            for change in changed:
                if change.field == "pitch":
                    yield sentences.pitch_difference(self._cells, subject.pair, self._terms)
                elif ASPECTS.get(change.field) is Aspect.RHYTHM:
                    rhythm.append(change)
                elif not (follows or (is_tied_anew and change.field == "tie drawn")):
                    others.append((subject, change))
            if rhythm and not follows:
                yield sentences.rhythm_difference(self._cells, subject.pair, rhythm)
        yield from sentences.field_differences(self._cells, others)


def _at(tone: Tone, rests: list[Tone], known: dict[tuple[object, ...], Tone]) -> Tone | None:
    """The rest in the place of a note; all notes of a chord share one."""
    key = (tone.offset, tone.staff, tone.voice)
    if key not in known and not tone.is_grace:
        found = next((r for r in rests if (r.offset, r.staff, r.voice) == key), None)
        if found is None:
            return None
        rests.remove(found)
        known[key] = found
    return known.get(key)


@dataclass(slots=True)
class _Spans:
    """Notes that came, went, or changed their length or place: rests follow from them."""

    before: list[Tone] = field(default_factory=list)
    after: list[Tone] = field(default_factory=list)

    @classmethod
    def of(cls, notes: Matched) -> "_Spans":
        changed = [
            (a, b) for a, b in notes.pairs if (a.offset, a.duration) != (b.offset, b.duration)
        ]
        return cls(
            [*notes.removed, *(a for a, _ in changed)], [*notes.added, *(b for _, b in changed)]
        )

    def explain_loss(self, rest: Tone) -> bool:
        """Whether notes now sound where the rest was."""
        return _is_overlapped(rest, self.after)

    def explain_gain(self, rest: Tone) -> bool:
        """Whether notes sounded before where the rest is."""
        return _is_overlapped(rest, self.before)

    def explain(self, pair: TonePair) -> bool:
        """Whether a rest is longer or shorter only because notes are."""
        return pair[0].is_rest and (self.explain_loss(pair[0]) or self.explain_gain(pair[1]))


def _is_overlapped(rest: Tone, notes: Sequence[Tone]) -> bool:
    return any(
        note.staff == rest.staff
        and note.offset < rest.offset + rest.duration
        and rest.offset < note.offset + note.duration
        for note in notes
    )


def _sign_key(item: Item) -> tuple[object, ...]:
    return item.kind, item.text, item.offset


def _take(counted: "Counter[tuple[object, ...]]", item: Item) -> bool:
    key = _sign_key(item)
    if counted[key] < 1:
        return False
    counted[key] -= 1
    return True


def _width(node: Node) -> str:
    if node.tag == "part" and node.parent is not None:
        return node.parent.attrs.get("width", "")
    return node.attrs.get("width", "")
