"""What has a counterpart in the other score, as named fields that can be compared."""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field

from arrange.pitch import UNISON, Interval, Pitch
from arrange.report.comparing.engraved import (
    Alike,
    Fields,
    alike,
    fields_of,
    place_of,
    signs_of,
)
from arrange.report.comparing.items import Item, look_text
from arrange.report.comparing.matching import Matched, Voices, is_equal
from arrange.report.comparing.sheets import Tone
from arrange.report.comparing.wording import beat_text, length_text
from arrange.score.model import Meter

TonePair = tuple[Tone, Tone]


@dataclass(frozen=True, slots=True)
class Terms:
    """What holds for a whole part.

    Attributes:
        interval: by how much the part was transposed.
        voices: how its voices are numbered anew.
    """

    interval: Interval = UNISON
    voices: Voices = field(default_factory=dict)

    @property
    def is_moved(self) -> bool:
        """The part was transposed."""
        return self.interval != UNISON

    def moved(self, pitch: Pitch) -> Pitch:
        """The pitch after the transposition."""
        return self.interval.move(pitch) if self.is_moved else pitch


@dataclass(frozen=True, slots=True)
class ToneSubject:
    """A note or rest and its counterpart."""

    pair: TonePair
    before: Fields
    after: Fields


@dataclass(frozen=True, slots=True)
class ItemSubject:
    """A mark and its counterpart; *holder*: the notes that it hangs on."""

    one: Item
    two: Item
    before: Fields
    after: Fields
    holder: TonePair | None = None


@dataclass(slots=True)
class Items:
    """The marks of two measures, or of two notes."""

    pairs: list[tuple[Item, Item]] = field(default_factory=list)
    removed: list[Item] = field(default_factory=list)
    added: list[Item] = field(default_factory=list)


_ITEM_STAGES: tuple[Callable[[Item], Hashable], ...] = (
    lambda item: (item.kind, item.offset, item.staff, item.text),
    lambda item: (item.kind, item.offset, item.text),
    lambda item: (item.kind, item.staff, item.text),
    lambda item: (item.kind, item.offset, item.staff),
)


def matched_items(before: Sequence[Item], after: Sequence[Item]) -> Items:
    """Pair marks: the equal, then those on another staff, elsewhere, with another text."""
    ones, twos = list(before), list(after)
    found = Items()
    for stage in _ITEM_STAGES:
        if not ones or not twos:
            break
        waiting: dict[Hashable, list[Item]] = {}
        for item in reversed(twos):
            waiting.setdefault(stage(item), []).append(item)
        left = []
        for item in ones:
            free = waiting.get(stage(item))
            if free:
                found.pairs.append((item, free.pop()))
            else:
                left.append(item)
        ones = left
        kept = {id(item) for rest in waiting.values() for item in rest}
        twos = [item for item in twos if id(item) in kept]
    found.removed, found.added = ones, twos
    return found


def item_subjects(items: Items, meter: Meter, holder: TonePair | None = None) -> list[ItemSubject]:
    """The pairs of marks that are not equal."""
    return [
        ItemSubject(one, two, _item_fields(one, meter), _item_fields(two, meter), holder)
        for one, two in items.pairs
        if one != two
    ]


def _item_fields(item: Item, meter: Meter) -> Fields:
    return {
        "text": item.text,
        "place": beat_text(item.offset, meter),
        "staff": str(item.staff),
        "look": look_text(item.look),
    }


@dataclass(slots=True)
class TonesCompared:
    """What came of comparing notes that have counterparts.

    Attributes:
        signs: of each pair whose signs differ.
        moved_on_page: how many stand elsewhere on the page.
    """

    subjects: list[ToneSubject] = field(default_factory=list)
    signs: list[tuple[TonePair, Items]] = field(default_factory=list)
    moved_on_page: int = 0


def compared_tones(matched: Matched, terms: Terms, meter: Meter) -> TonesCompared:
    """Put what differs between paired notes into fields."""
    found = TonesCompared()
    for one, two in matched.pairs:
        pitch = terms.moved(one.pitch) if one.pitch is not None else None
        is_moved = one.moved_place(terms.interval) != two.place or (
            terms.is_moved and one.pitch is not None
        )
        engraved = alike(one.node, two.node, is_moved=is_moved)
        found.moved_on_page += engraved is Alike.ON_PAGE
        if engraved and pitch == two.pitch and is_equal(one, two, terms.interval, terms.voices):
            continue
        before, after = _values(one, pitch, terms, meter), _values(two, two.pitch, Terms(), meter)
        if not engraved:
            before.update(fields_of(one, is_moved=is_moved))
            after.update(fields_of(two, is_moved=is_moved))
            signs = matched_items(
                signs_of(one, is_moved=is_moved), signs_of(two, is_moved=is_moved)
            )
            found.signs.append(((one, two), signs))
            found.moved_on_page += not is_moved and place_of(one) != place_of(two)
        if before != after:
            found.subjects.append(ToneSubject((one, two), before, after))
    return found


def _values(tone: Tone, pitch: Pitch | None, terms: Terms, meter: Meter) -> Fields:
    """What a note sounds like, and where; signs of one note share its place."""
    return {
        "pitch": str(pitch) if pitch is not None else "" if tone.is_rest else str(tone.place[0]),
        "place": beat_text(tone.offset, meter),
        "length": "" if tone.is_grace else length_text(tone.duration),
        "staff": str(tone.staff),
        "voice": terms.voices.get((tone.staff, tone.voice), tone.voice),
    }
