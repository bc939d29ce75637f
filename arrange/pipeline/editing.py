"""A result that was edited by hand: planned anew where it was edited, and kept everywhere else.

The source is converted as the result's own fields say; what differs from that is the editor's.
The measures whose notes were changed, and those whose cues speak of them, are planned anew; in
all others every note stays on its string and every lever as it is. Where no plan for so little
is to be had, the measures beside are planned anew as well.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from arrange.audit import Ledger, View, note_differences
from arrange.changes import ChangeLog, LogEntry, Outcome
from arrange.errors import BadInput
from arrange.memory import rare_collections
from arrange.pipeline.again import EditedWork
from arrange.pipeline.by_hand import ByHand, by_hand
from arrange.pipeline.conversion import Conversion, Settings
from arrange.pipeline.stretches import held_stretches
from arrange.pipeline.work import Progress, Work, silent
from arrange.pitch import UNISON
from arrange.score.container import Source, read_source_bytes
from arrange.score.document import Document
from arrange.score.model import Score
from arrange.score.own import FIELD_PREFIX, OwnCue
from arrange.score.reading import Reading
from arrange.study.decided import HeldStretch


def own_field(score: Score, name: str, file: str) -> str:
    """What a result of ours says about its own making: ``harp``, ``book``, ``interval``.

    Raises:
        BadInput: it says nothing; *file* is named.
    """
    value = score.own.get(FIELD_PREFIX + name, "")
    if not value:
        raise BadInput(
            f"is no result of this program, or its field {FIELD_PREFIX}{name} is lost", file=file
        )
    return value


def convert_edited(
    source: Source, edited: Source, settings: Settings, progress: Progress = silent
) -> Conversion:
    """Plan a result anew where an editor has changed it.

    Args:
        source: what the result was made from.
        edited: the result after it was edited.
        settings: as for `convert`; harp and book must be those of the result.
        progress: is told what is being done.

    Returns:
        A conversion of *source* whose result is *edited* with what had to change; its log holds
        the conversion, the editor's differences (rule ``editor``) and what was changed after.

    Raises:
        BadInput: a file cannot be read, or *edited* was not made from *source* like that.
    """
    with rare_collections():
        document = Document.read(edited.score_bytes, edited.name)
        now = Reading(document, parts=settings.parts, tempo=settings.tempo).score()
        for name, given in (("harp", settings.harp.name), ("book", settings.book.name)):
            said = own_field(now, name, edited.name)
            if said != given:
                raise BadInput(f"was made for the {name} {said}, not {given}", file=edited.name)
        interval = own_field(now, "interval", edited.name)
        made_so = replace(
            settings,
            key="keep" if interval == str(UNISON) else interval,
            transpose_all=settings.transpose_all or interval != str(UNISON),
        )
        earlier = Work(source, made_so, progress).conversion()
        return _Editing(earlier, edited, now, progress).conversion()


@dataclass(frozen=True)
class _Editing:
    """An earlier result, what has become of it, and the way from there."""

    earlier: Conversion
    edited: Source
    now: Score
    progress: Progress

    def conversion(self) -> Conversion:
        hand = self._by_hand()
        window = self._with_cues(hand.measures)
        while True:
            work = self._work(window, restores=True)
            found = work.conversion()
            if found.unlogged:
                work = self._work(window, restores=False)
                found = work.conversion()
            wider = self._wider(window)
            if (found.is_sound and not work.has_slipped) or wider == window:
                return self._whole(found, hand, window)
            window = wider

    def _work(self, window: frozenset[int], *, restores: bool) -> EditedWork:
        return EditedWork(
            self.edited,
            replace(self.earlier.settings, decisions=None),
            self.progress,
            window=window,
            restores=restores,
            stretches=self._stretches(window),
            earlier=self.earlier,
        )

    def _by_hand(self) -> ByHand:
        name = self.edited.name
        parts = self.earlier.settings.parts
        before = read_source_bytes(self.earlier.result, name).score_bytes
        return by_hand(
            View.read(before, name, parts), View.read(self.edited.score_bytes, name, parts), name
        )

    def _with_cues(self, measures: frozenset[int]) -> frozenset[int]:
        """The measures, and those that the cues in them speak of, or that speak of them."""
        pairs = [
            {m.id.index, m.id.index + cue.measures_on}
            for score in (self.earlier.score, self.now)
            for part in score.harp_parts
            for measure in score.by_part[part].measures
            for m in measure.marks
            if m.own and (cue := OwnCue.parse(m.own)) is not None
        ]
        found = set(measures)
        while True:
            more = {i for pair in pairs if pair & found for i in pair} - found
            if not more:
                return frozenset(found)
            found |= more

    def _wider(self, window: frozenset[int]) -> frozenset[int]:
        """The measures and those beside them, so far as there are any."""
        last = len(self.now.parts[0].measures) - 1
        beside = {i + by for i in window for by in (-1, 0, 1)}
        return self._with_cues(frozenset(i for i in beside if 0 <= i <= last))

    def _stretches(self, window: frozenset[int]) -> tuple[HeldStretch, ...]:
        score, told = self.earlier.score, self.earlier.instructions
        return tuple(
            stretch
            for staves, harp in zip(score.harps, told.harps, strict=True)
            for stretch in held_stretches(score, staves, harp, window)
        )

    def _unaccounted(self, found: Conversion, log: ChangeLog) -> Iterator[str]:
        """What of the notes, from the source to the new result, the whole log does not tell."""
        earlier = self.earlier
        moving = frozenset(earlier.transposed_parts)
        ledger = Ledger.of(log)
        yield from note_differences(earlier.before, found.score, ledger, earlier.interval, moving)

    def _whole(self, found: Conversion, hand: ByHand, window: frozenset[int]) -> Conversion:
        """From the source to the new result."""
        log = ChangeLog(
            [
                *self.earlier.log.entries,
                *(LogEntry(change, Outcome.APPLIED) for change in hand.changes),
                *found.log.entries,
            ],
            [*self.earlier.log.findings, *hand.findings, *found.log.findings],
            [p for p in self.earlier.log.open_points if p.where.index not in window]
            + found.log.open_points,
        )
        return replace(
            self.earlier,
            result=found.result,
            score=found.score,
            log=log,
            instructions=found.instructions,
            plans=found.plans,
            violations=found.violations,
            unlogged=(*self.earlier.unlogged, *found.unlogged, *self._unaccounted(found, log)),
        )
