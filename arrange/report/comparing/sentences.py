"""Differences of notes and marks, in a musician's words."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from arrange.phrasing import capital
from arrange.pitch import Pitch, interval_between
from arrange.report.comparing.changed import Changed
from arrange.report.comparing.engraved import ASPECTS
from arrange.report.comparing.items import Item
from arrange.report.comparing.records import Aspect, Difference, Kind, MeasurePlace
from arrange.report.comparing.sheets import Cell, Tone
from arrange.report.comparing.subjects import ItemSubject, Terms, TonePair, ToneSubject
from arrange.report.comparing.wording import (
    beat_text,
    interval_text,
    listed,
    long_tone_text,
    tone_text,
)
from arrange.units import Quarters

_RHYTHM_WORDS = {
    "place": "begins on {after} in place of {before}",
    "length": "lasts {after} in place of {before}",
    "staff": "stands on staff {after} in place of staff {before}",
    "voice": "is in voice {after} in place of voice {before}",
    "note value": "is written as {after} in place of {before}",
    "ties": "is {after} in place of {before}",
}
_ORDER = ("place", "length", "note value", "ties", "staff", "voice", "grace", "cue")


@dataclass(frozen=True, slots=True)
class CellPair:
    """A measure of one part and its counterpart; what a difference in it has in common."""

    one: Cell
    two: Cell

    @property
    def part(self) -> str:
        """The part's id after."""
        return self.two.part

    @property
    def place_before(self) -> MeasurePlace:
        """Where it stood."""
        return MeasurePlace(self.one.measure.index, self.one.measure.number)

    @property
    def place_after(self) -> MeasurePlace:
        """Where it stands."""
        return MeasurePlace(self.two.measure.index, self.two.measure.number)

    def _beat(self, offset: Quarters) -> str:
        return beat_text(offset, self.two.measure.meter)

    def of_tones(
        self,
        told: tuple[Aspect, Kind, str],
        sides: tuple[str, str],
        ones: Sequence[Tone],
        twos: Sequence[Tone],
    ) -> Difference:
        """A difference of notes."""
        aspect, kind, sentence = told
        shown = (twos or ones)[0]
        return Difference(
            aspect,
            kind,
            sentence,
            self.part,
            self.place_before,
            self.place_after,
            shown.offset,
            self._beat(shown.offset),
            shown.staff,
            shown.voice,
            *sides,
            tuple(tone.id for tone in ones),
            tuple(tone.id for tone in twos),
        )

    def of_item(
        self,
        told: tuple[Aspect, Kind, str],
        sides: tuple[str, str],
        item: Item,
        holder: TonePair | None,
    ) -> Difference:
        """A difference of a mark."""
        aspect, kind, sentence = told
        if holder is not None:
            return self.of_tones(told, sides, holder[:1], holder[1:])
        return Difference(
            aspect,
            kind,
            sentence,
            self.part,
            self.place_before,
            self.place_after,
            item.offset,
            self._beat(item.offset),
            item.staff,
            "",
            *sides,
        )


def pitch_difference(cells: CellPair, pair: TonePair, terms: Terms) -> Difference:
    """A note that has become another one."""
    one, two = pair
    before, after = tone_text(one), tone_text(two)
    if one.pitch is None or two.pitch is None:
        kind, sentence = Kind.MOVED, "A note without pitch stands on another line."
    else:
        moved = terms.moved(one.pitch)
        said = f"{before}, transposed to {moved}," if terms.is_moved else before
        kind, sentence = _pitch_told(said, moved, two.pitch)
    told = (Aspect.NOTES, kind, sentence)
    return cells.of_tones(told, (before, after), [one], [two])


def _pitch_told(said: str, before: Pitch, after: Pitch) -> tuple[Kind, str]:
    if before.midi == after.midi:
        return Kind.RESPELLED, f"{said} is spelled as {after}."
    words = interval_text(interval_between(before, after))
    if before.name == after.name:
        return Kind.OCTAVE, f"{said} is moved {words} to {after}."
    return Kind.CHANGED, f"{said} becomes {after} ({words})."


def rhythm_difference(cells: CellPair, pair: TonePair, changes: Sequence[Changed]) -> Difference:
    """A note that begins elsewhere, lasts longer, or is in another voice."""
    by_field = {change.field: change for change in changes}
    if "length" in by_field:
        by_field.pop("note value", None)
    said = [_rhythm_said(by_field[name]) for name in _ORDER if name in by_field]
    shown = [by_field[name] for name in _ORDER if name in by_field]
    sentence = f"{capital(tone_text(pair[1]))} {listed(said)}."
    kind = Kind.MOVED if shown[0].field in ("place", "staff", "voice") else Kind.CHANGED
    sides = (
        ", ".join(change.before or "no" for change in shown),
        ", ".join(change.after or "no" for change in shown),
    )
    return cells.of_tones((Aspect.RHYTHM, kind, sentence), sides, pair[:1], pair[1:])


def _rhythm_said(change: Changed) -> str:
    before, after = change.before, change.after
    if before and after and change.field in _RHYTHM_WORDS:
        words = _RHYTHM_WORDS[change.field]
        return words.replace("{after}", after).replace("{before}", before)
    if after:
        return f"is now {_with_article(change.field, after)}"
    return f"is no longer {_with_article(change.field, before)}"


def _with_article(field: str, words: str) -> str:
    if field == "note value":
        return f"written as {words}"
    return words if field == "ties" else f"a {words}"


def field_differences(
    cells: CellPair, told: Iterable[tuple[ToneSubject, Changed]]
) -> Iterable[Difference]:
    """What of engraving, noteheads and playback differs: notes that share it are told together."""
    groups: dict[tuple[str, str, str, int], list[ToneSubject]] = {}
    for subject, change in told:
        key = (change.field, change.before, change.after, subject.pair[1].staff)
        groups.setdefault(key, []).append(subject)
    for (field, before, after, _), subjects in groups.items():
        ones = [subject.pair[0] for subject in subjects]
        twos = [subject.pair[1] for subject in subjects]
        names = listed(tone_text(tone) for tone in twos)
        kind = Kind.CHANGED if before and after else Kind.ADDED if after else Kind.REMOVED
        sentence = f"{capital(names)}: {field} {_exchange(before, after)}."
        aspect = ASPECTS.get(field, Aspect.LAYOUT)
        yield cells.of_tones((aspect, kind, sentence), (before, after), ones, twos)


def _exchange(before: str, after: str) -> str:
    if before and after:
        return f"{after} in place of {before}"
    return f"{after} (new)" if after else f"{before} left out"


def tones_gone(
    cells: CellPair, tone: Tone, signs: Sequence[Item], rest: Tone | None
) -> Difference:
    """A note or rest that was left out."""
    aspect = Aspect.RHYTHM if tone.is_rest else Aspect.NOTES
    sentence = f"Left out: {long_tone_text(tone)}{_with_signs(signs)}"
    sentence += "; a rest takes its place." if rest is not None else "."
    after = long_tone_text(rest) if rest is not None else ""
    told = (aspect, Kind.REMOVED, sentence)
    return cells.of_tones(told, (long_tone_text(tone), after), [tone], [])


def tones_new(cells: CellPair, tone: Tone, signs: Sequence[Item], rest: Tone | None) -> Difference:
    """A note or rest that was added."""
    aspect = Aspect.RHYTHM if tone.is_rest else Aspect.NOTES
    sentence = f"Added: {long_tone_text(tone)}{_with_signs(signs)}"
    sentence += ", in place of a rest." if rest is not None else "."
    before = long_tone_text(rest) if rest is not None else ""
    return cells.of_tones(
        (aspect, Kind.ADDED, sentence), (before, long_tone_text(tone)), [], [tone]
    )


def _with_signs(signs: Sequence[Item]) -> str:
    return f", with {listed(sign.name for sign in signs)}" if signs else ""


def item_gone(cells: CellPair, item: Item, holder: TonePair | None = None) -> Difference:
    """A mark that was left out."""
    on = f" on {tone_text(holder[1])}" if holder is not None else ""
    told = (item.aspect, Kind.REMOVED, f"Left out: {item.name}{on}.")
    return cells.of_item(told, (item.name, ""), item, holder)


def item_new(cells: CellPair, item: Item, holder: TonePair | None = None) -> Difference:
    """A mark that was added."""
    on = f" on {tone_text(holder[1])}" if holder is not None else ""
    told = (item.aspect, Kind.ADDED, f"Added: {item.name}{on}.")
    return cells.of_item(told, ("", item.name), item, holder)


def item_differences(
    cells: CellPair, subject: ItemSubject, changes: Sequence[Changed]
) -> Iterable[Difference]:
    """A mark that says something else, stands elsewhere, or looks different."""
    one, two, holder = subject.one, subject.two, subject.holder
    on = f" on {tone_text(holder[1])}" if holder is not None else ""
    by_field = {change.field: change for change in changes}
    said = []
    if "text" in by_field:
        said.append(f"{_quoted(two.text)} in place of {_quoted(one.text)}")
    if "place" in by_field:
        said.append(f"on {by_field['place'].after} in place of {by_field['place'].before}")
    if "staff" in by_field:
        said.append(f"on {_staff(two)} in place of {_staff(one)}")
    if said:
        name = capital(two.kind if "text" in by_field else two.name)
        kind = Kind.CHANGED if "text" in by_field else Kind.MOVED
        told = (two.aspect, kind, f"{name}{on}: {listed(said)}.")
        yield cells.of_item(told, (one.name, two.name), two, holder)
    if "look" in by_field:
        look = by_field["look"]
        sentence = f"{capital(two.name)}{on}: {_exchange(look.before, look.after)}."
        told = (Aspect.LAYOUT, Kind.CHANGED, sentence)
        yield cells.of_item(told, (look.before, look.after), two, holder)


def _quoted(text: str) -> str:
    return f"“{text}”" if text else "nothing"


def _staff(item: Item) -> str:
    return f"staff {item.staff}" if item.staff else "all staves"
